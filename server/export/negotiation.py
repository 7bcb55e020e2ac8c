"""The negotiation sheet as a document and as rows: the same figures for page, CSV, JSON and API."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from server.core.negotiation import BOTH, Against, PriceToBeat
from server.core.negotiation_sheet import Negotiation, OfferSheet
from server.export import cautions
from server.export.columns import Column
from server.export.documents import basis_document

INTERNAL = "Internal: not for the seller"
Line = tuple[Negotiation, OfferSheet, PriceToBeat | None]


def _held(name: str) -> Any:
    return lambda line: getattr(line[1].held, name) if line[1].held else None


def _price(which: str, name: str) -> Any:
    def value(line: Line) -> Any:
        against = line[2].against(which) if line[2] else None
        if against is None:
            return None
        if name == "pair":
            return against.other.costing.key
        if name in ("cost", "difference"):
            return getattr(against, name)
        return None if against.tie is None else getattr(against.tie, name)

    return value


COLUMNS: tuple[Column[Line], ...] = (
    Column("supplier", "Supplier", "", lambda line: line[0].supplier.name),
    Column("offer", "Offer", "", lambda line: line[1].offer.code),
    Column("yarn", "Yarn", "", lambda line: line[1].yarn),
    Column("as_quoted", "As quoted", "", lambda line: line[1].offer.as_quoted),
    Column("quoted", "Quoted price", "", lambda line: line[1].offer.price),
    Column("unit", "Unit of the quoted price", "", lambda line: line[1].unit),
    Column("term", "Delivery term and place", "",
           lambda line: f"{line[1].offer.term} {line[1].offer.place}".strip()),
    Column("payment", "Payment", "", lambda line: line[1].offer.payment),
    Column("valid_until", "Valid until", "", lambda line: line[1].offer.valid_until),
    Column("moq", "Minimum order", "t", lambda line: line[1].offer.moq_tonnes),
    Column("lead_days", "Lead time", "d", lambda line: line[1].offer.lead_days),
    Column("same_basis", "Same basis", "¤/kg", lambda line: line[1].same_basis_price),
    Column("should_cost", "Should-cost before margin", "¤/kg", _held("should_cost")),
    Column("gap", "Gap to should-cost", "¤/kg", _held("gap")),
    Column("gap_share", "Gap of should-cost", "share", _held("gap_share")),
    Column("target", "Target price, in the quoted unit", "", _held("target")),
    Column("construction", "Construction", "",
           lambda line: line[2].construction.code if line[2] else ""),
    Column("place", "As", "", lambda line: line[2].place if line[2] else ""),
    Column("state", "Standing", "",
           lambda line: line[1].standing_in(line[2])[0] if line[2] else line[1].state),
    Column("reasons", "Why not", "",
           lambda line: "; ".join(line[1].standing_in(line[2])[1]) if line[2] else ""),
    Column("pair", "Pair with it", "", lambda line: line[2].with_it.costing.key if line[2] else ""),
    Column("cost", "Cost with it", "¤/m", lambda line: line[2].cost if line[2] else None),
    Column("leader", "Best possible pair without it", "", _price("leader", "pair")),
    Column("leader_cost", "Cost without it", "¤/m", _price("leader", "cost")),
    Column("difference", "Difference", "¤/m", _price("leader", "difference")),
    Column("price_to_beat", "Price to beat, in the quoted unit", "", _price("leader", "value")),
    Column("change", "Change to the price to beat", "share", _price("leader", "distance")),
    Column("alike", "Best possible pair of the same spinning", "", _price("alike", "pair")),
    Column("alike_price", "Price to beat there, in the quoted unit", "", _price("alike", "value")),
    Column("alike_change", "Change to that price", "share", _price("alike", "distance")),
    Column("ask", "To ask", "", lambda line: " ".join(q.question for q in line[1].questions)),
)  # fmt: skip
"""One row for each place of each offer; an offer looked at nowhere has one row."""


def lines_of(found: Negotiation) -> Iterator[Line]:
    """What the rows are made of."""
    for sheet in found.offers:
        for price in sheet.prices or (None,):
            yield found, sheet, price


def negotiation_document(found: Negotiation) -> dict[str, Any]:
    """The whole sheet as data."""
    seller = found.supplier
    return {
        "supplier": {
            "name": seller.name,
            "country": seller.country,
            "makes": seller.makes,
            "origin_file": seller.origin_state,
        },
        "internal": f"{INTERNAL}.",
        "basis": basis_document(found.basis) if found.basis else None,
        "units": {
            "cost": f"{found.currency}/m",
            "difference": f"{found.currency}/m",
            "landed": f"{found.currency}/kg",
            "should_cost": f"{found.currency}/kg",
            "gap": f"{found.currency}/kg",
            "prices": "unit of the quoted price of each offer",
        }
        if found.basis
        else {},
        "offer_count": found.count,
        "expired_count": found.expired,
        "offers": [_offer(sheet) for sheet in found.offers],
        "estimate": cautions.MODELLED,
    }


def _offer(sheet: OfferSheet) -> dict[str, Any]:
    offer = sheet.offer
    return {
        "offer": offer.code,
        "yarn": sheet.yarn,
        "as_quoted": offer.as_quoted,
        "quoted_price": str(offer.price),
        "unit": sheet.unit,
        "term": offer.term,
        "place": offer.place,
        "payment": offer.payment,
        "quoted_on": offer.quoted_on.isoformat(),
        "valid_until": offer.valid_until.isoformat() if offer.valid_until else None,
        "price_breaks": [
            {"from_tonnes": str(each.from_tonnes), "price": str(each.price)}
            for each in offer.breaks
        ],
        "moq_tonnes": offer.moq_tonnes,
        "lead_days": offer.lead_days,
        "state": sheet.state or None,
        "candidate_for": [
            {
                "construction": each.construction.code,
                "slot": each.slot.name,
                "role": each.role,
                "state": each.standing.state,
                "reasons": list(each.standing.reasons),
                "accepted": [found.decision for found in each.standing.accepted],
            }
            for each in sheet.places
        ],
        "prices_to_beat": [_price_record(sheet, each) for each in sheet.prices],
        "no_price_to_beat": dict(sheet.unpriced),
        "landed": dict(sheet.figures),
        "missing": sheet.missing or None,
        "held_to_cost": _cost_record(sheet),
        "no_should_cost": sheet.no_cost or None,
        "earlier": [
            {
                "offer": each.offer.code,
                "quoted_on": each.offer.quoted_on.isoformat(),
                "quoted_price": str(each.offer.price),
                "unit": f"{each.offer.currency or '?'}/{each.offer.price_unit or '?'}",
                "same_basis_price": each.same_basis_price,
                "price_change_share": each.price_change,
                "same_basis_change_share": each.same_basis_change,
            }
            for each in sheet.earlier
        ],
        "to_ask": [
            {"about": each.about, "question": each.question, "why": each.why}
            for each in sheet.questions
        ],
    }


def _price_record(sheet: OfferSheet, price: PriceToBeat) -> dict[str, Any]:
    state, reasons = sheet.standing_in(price)
    return {
        "construction": price.construction.code,
        "as": price.place,
        "takes_both": price.place == BOTH,
        "state": state,
        "reasons": list(reasons),
        "pair": price.with_it.costing.key,
        "cost": price.cost,
        "quoted_price": price.quoted.value,
        "unit": price.quoted.unit,
        "leads": price.leads,
        "against_leader": _against_record(price.leader),
        "against_same_spinning": _against_record(price.alike),
    }


def _against_record(against: Against | None) -> dict[str, Any] | None:
    if against is None:
        return None
    tie = against.tie
    return {
        "pair": against.other.costing.key,
        "cost": against.cost,
        "difference": against.difference,
        "price_to_beat": tie.value if tie else None,
        "change_share": tie.distance if tie else None,
        "cost_of_both_there": tie.cost if tie else None,
    }


def _cost_record(sheet: OfferSheet) -> dict[str, Any] | None:
    held = sheet.held
    if held is None:
        return None
    return {
        "route": held.should.route,
        "ne": held.should.ne,
        "should_cost": held.should_cost,
        "gap": held.gap,
        "gap_share": held.gap_share,
        "target_price": held.target,
        "target_unit": held.quoted.unit,
        "target_change_share": held.distance,
    }
