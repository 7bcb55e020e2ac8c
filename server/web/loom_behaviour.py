"""Loom behaviour of a pair: its stops, the weaver's load, and what they cost a metre."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from server.core.compare import Comparison, Pair
from server.core.loom_behaviour import FROM_STOPS, lacking
from server.core.sheet import Input
from server.core.stops_compared import StopsCompared, stops_compared
from server.export import cautions
from server.web import addresses
from server.web.numbers import Writer
from server.web.opened import Links, Opened, figure_table
from server.web.tables import Cell, Column, Row, Table

FIGURES = (
    "stops", "mean_repair", "stops_per_hour", "servicing_factor", "weaver_load", "interference",
    "running_share", "loom_efficiency", "loom_output", "assumed_output", "weaving",
    "assumed_weaving", "cost_against_assumed",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class LoomView:
    """What the section shows.

    lead: how things stand, in a sentence; sentences: what the stops of each yarn cost
    switch: (label, address) of the page with the other rule; none while values are missing
    stops, figures: tables, while the rule is on
    """

    lead: str
    switch: tuple[str, str] | None
    sentences: tuple[str, ...]
    stops: Table | None
    figures: Table | None
    cautions: tuple[str, ...]


def loom_view(
    comparison: Comparison,
    pair: Pair,
    opened: Opened,
    inputs: Mapping[str, Input],
    writer: Writer,
    links: Links,
) -> LoomView:
    """The section on or off, as the basis says."""
    if comparison.basis.loom_rule != FROM_STOPS:
        return _off(comparison, pair, inputs, writer, links)
    compared = stops_compared(comparison, pair)
    values = opened.figures
    load = writer.full(values["weaver_load"], "share")
    looms = writer.full(float(inputs["looms_per_weaver"].value), "looms")
    return LoomView(
        lead=f"Loom efficiency of this pair, from its stops: "
        f"{writer.full(values['loom_efficiency'], 'share')}, against "
        f"{writer.full(float(inputs['assumed_efficiency'].value), 'share')} as assumed: "
        f"{_signed(values['cost_against_assumed'], writer)} of finished cloth. A weaver with "
        f"{looms} of it is at stopped looms for {load} of the time.",
        switch=("Take the assumed efficiency", _with_rule(links, "as assumed")),
        sentences=tuple(_sentence(each, writer) for each in compared if each.fewest),
        stops=_stops_table(compared, inputs, writer, links),
        figures=figure_table(
            opened, "From stops to loom efficiency; each opens", FIGURES, writer, links
        ),
        cautions=(cautions.STOPS,),
    )


def _off(
    comparison: Comparison,
    pair: Pair,
    inputs: Mapping[str, Input],
    writer: Writer,
    links: Links,
) -> LoomView:
    """One line: the rule is off, and what it would need."""
    wanted = (
        (member.slot.direction, member.system)
        for member in pair.members
        if f"{member.slot.direction}_stops" not in member.offer.tests
    )
    missing = lacking(comparison.assumptions, wanted)
    efficiency = writer.full(float(inputs["loom_efficiency"].value), "share")
    lead = (
        f"Loom efficiency is as assumed, {efficiency} for every pair; what a weaker yarn costs on "
        "the loom is not in these figures. "
    )
    if missing:
        lead += (
            f"To work it out from stops, “{comparison.assumptions.name}” lacks: "
            f"{'; '.join(missing)}."
        )
        return LoomView(lead, None, (), None, None, ())
    lead += "The stops of both yarns are known."
    return LoomView(
        lead, ("Work it out from stops", _with_rule(links, FROM_STOPS)), (), None, None, ()
    )


def _with_rule(links: Links, rule: str) -> str:
    return addresses.with_query(links.path, {**links.kept, "loom_rule": rule}) + "#loom-behaviour"


def _signed(value: float, writer: Writer) -> str:
    return f"{writer.signed(value, '¤/m')} {writer.unit('¤/m')}"


def _sentence(each: StopsCompared, writer: Writer) -> str:
    assert each.fewest is not None
    direction = each.candidate.slot.direction
    ours = (
        f"{each.candidate.offer.code}’s {writer.text(each.stops.value, 'stops')} {direction} stops"
    )
    if each.fewest.stops is None or each.stops.value <= each.fewest.stops.value:
        return f"{ours}: no possible {direction} yarn has fewer."
    fewest = writer.text(each.fewest.stops.value, "stops")
    return (
        f"{ours} cost {writer.full(each.more, '¤/m')} more than the {fewest} of "
        f"{each.fewest.offer.code}, the possible {direction} yarn with the fewest."
    )


def _stops_table(
    compared: tuple[StopsCompared, ...],
    inputs: Mapping[str, Input],
    writer: Writer,
    links: Links,
) -> Table:
    rows = [
        _stops_row(
            f"{each.candidate.slot.name.capitalize()}: {each.candidate.offer.code}",
            each.stops,
            inputs[f"{each.candidate.slot.direction}_repair"],
            Cell(writer.signed(each.more, "¤/m"), href=links.to("weaving"))
            if each.fewest
            else Cell("–"),
            writer,
        )
        for each in compared
    ]
    other = _stops_row("Other", inputs["other_stops"], inputs["other_repair"], Cell("–"), writer)
    return Table(
        caption="Stops in 100,000 picks and the repair of one",
        columns=(
            Column("yarn", "Yarn"),
            Column("stops", "Stops", numeric=True),
            Column("repair", "Repair", "min", numeric=True),
            Column("more", "Against the fewest", writer.unit("¤/m"), numeric=True),
        ),
        rows=(*rows, other),
        empty="",
    )


def _stops_row(label: str, stops: Input, repair: Input, more: Cell, writer: Writer) -> Row:
    told = f"{stops.source}, {stops.on}" if stops.on else stops.source
    return Row(
        (
            Cell(label, note=f"{told}; {stops.as_entered}" if stops.as_entered else told),
            Cell(writer.text(float(stops.value), "stops"), href=stops.where or None),
            Cell(writer.text(float(repair.value), "min"), href=repair.where or None),
            more,
        ),
        key=label,
    )
