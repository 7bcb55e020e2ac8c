"""Ties of two options as a table and as data: the same figures for page, CSV and JSON."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from server.core.construction import Basis
from server.core.movements import Movement
from server.core.offer import Offer
from server.core.ties import Contest, NoTie, Tie
from server.export.documents import basis_document

FIGURE_NAMES: Mapping[str, tuple[str, str]] = {
    "fabric_cost": ("Cost of a metre", "¤/m"),
    "fabric_per_area": ("Cost of a cuttable m²", "¤/m²"),
    "fabric_per_kg": ("Cost of a kg of cloth", "¤/kg"),
    "garment_fabric": ("Cloth in one garment", "¤"),
    "yarn_cost": ("Yarn in a metre", "¤/m"),
}
TIE_HEADINGS = (
    "key", "what_moves", "moves_in", "unit", "today", "tie", "distance_share", "cost_of_both",
    "cost_unit", "in_proportion", "price_to_beat", "term", "as_quoted",
)  # fmt: skip


def unit_of(movement: Movement, currency: str) -> str:
    """The unit of a movement's value; a rate by way of a third currency names both."""
    unit = movement.input.unit
    if unit == "¤/¤q":
        return f"{currency}/{movement.key.partition('.')[2]}"
    return unit.replace("¤", currency)


def moves_in(movement: Movement, contest: Contest) -> str:
    """Which of the two options a movement moves."""
    if len(movement.movers) == 2:
        return "both"
    return (contest.first, contest.second)[movement.movers[0]].label


def to_beat(movement: Movement, contest: Contest) -> bool:
    """Whether its tie is a price to beat: of an offer that only the dearer option uses."""
    movers = [(contest.first, contest.second)[place] for place in movement.movers]
    return movement.is_price and movers == [contest.rival]


def tie_table(contest: Contest, offers: Mapping[str, Offer]) -> Iterator[list[Any]]:
    """One line for each tie, the nearest first, as CSV wants it."""
    for tie in contest.ties:
        about = tie_record(tie, contest, offers)
        yield [about[name] for name in TIE_HEADINGS]


def tie_record(tie: Tie, contest: Contest, offers: Mapping[str, Offer]) -> dict[str, Any]:
    """One tie. price_to_beat: the price in the seller's own unit and currency, else None."""
    movement, currency = tie.movement, _basis(contest).currency
    offer = offers.get(movement.offer) if movement.is_price else None
    beats = to_beat(movement, contest)
    return {
        "key": movement.key,
        "what_moves": movement.label,
        "moves_in": moves_in(movement, contest),
        "unit": unit_of(movement, currency),
        "today": movement.present,
        "tie": tie.value,
        "distance_share": tie.distance,
        "cost_of_both": tie.cost,
        "cost_unit": _figure_unit(contest, currency),
        "in_proportion": "; ".join(each.replace("¤", currency) for each in movement.along),
        "price_to_beat": tie.value if beats else None,
        "term": f"{offer.term} {offer.place}".strip() if offer else "",
        "as_quoted": offer.as_quoted if offer else "",
    }


def ties_document(
    code: str, contest: Contest, offers: Mapping[str, Offer], asked: Mapping[str, str]
) -> dict[str, Any]:
    """The whole contest as data: both costs, every tie, and what cannot bring them together.

    asked: the change and the options, as typed
    """
    basis = _basis(contest)
    first, second = contest.costs()
    return {
        "construction": code,
        "asked": {name: text for name, text in asked.items() if text},
        "basis": basis_document(basis),
        "figure": contest.figure,
        "unit": _figure_unit(contest, basis.currency),
        "first": {"option": contest.first.name, "label": contest.first.label, "cost": first},
        "second": {"option": contest.second.name, "label": contest.second.label, "cost": second},
        "second_less_first": second - first,
        "ties": [tie_record(each, contest, offers) for each in contest.ties],
        "no_tie_within_share": 0.9,
        "no_tie": [_untied(each, contest) for each in contest.untied],
    }


def _untied(each: NoTie, contest: Contest) -> dict[str, Any]:
    return {
        "key": each.movement.key,
        "what_moves": each.movement.label,
        "moves_in": moves_in(each.movement, contest),
        "unit": unit_of(each.movement, _basis(contest).currency),
        "today": each.movement.present,
        "moves_both_alike": each.alike,
        "price_break_between": each.jump,
        "least_apart": each.apart,
        "least_apart_at": each.movement.present * each.nearest,
    }


def _basis(contest: Contest) -> Basis:
    return contest.first.costing.basis


def _figure_unit(contest: Contest, currency: str) -> str:
    return FIGURE_NAMES[contest.figure][1].replace("¤", currency)
