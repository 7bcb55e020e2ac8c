"""Should-cost over a range of counts: sentences about where routes meet, chart and table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from itertools import combinations, pairwise

from server.actions.should_cost import ShouldCosts, read_ne
from server.core.count_range import CountRange, Crossing, Curve, Stretch
from server.core.errors import BadValue
from server.export.count_chart import CountCurve, CountMark, cost_over_counts
from server.web import addresses, pictures
from server.web.numbers import Writer, significant
from server.web.pictures import Picture, Spec
from server.web.tables import Cell, Column, Row, Table

FROM_NE, TO_NE = "4", "30"


@dataclass(frozen=True, slots=True)
class CountsView:
    """Everything the page shows about the range of counts."""

    from_ne: str
    to_ne: str
    sentences: tuple[str, ...]
    limits: tuple[str, ...]
    picture: Picture | None
    table: Table


def asked_range(
    query: Mapping[str, str], costs: ShouldCosts
) -> tuple[CountRange | None, dict[str, str]]:
    """The range of a query, and what is wrong with it by field; None without a route."""
    errors: dict[str, str] = {}
    ends = {}
    for field, usual in (("from_ne", FROM_NE), ("to_ne", TO_NE)):
        try:
            ends[field] = read_ne(query.get(field, "") or usual, field)
        except BadValue as wrong:
            errors[field] = str(wrong)
            ends[field] = float(usual)
    if not costs.routes:
        return None, errors
    try:
        return costs.over(ends["from_ne"], ends["to_ne"]), errors
    except BadValue as wrong:
        errors.setdefault(wrong.field, str(wrong))
        return costs.over(float(FROM_NE), float(TO_NE)), errors


def sound_range(query: Mapping[str, str], costs: ShouldCosts) -> CountRange | None:
    """The same where a fault cannot be shown beside its field. Raises BadValue."""
    found, errors = asked_range(query, costs)
    for field, wrong in errors.items():
        raise BadValue(wrong, field=field, value=query.get(field, ""), unit="Ne")
    return found


def counts_view(
    found: CountRange | None, query: Mapping[str, str], state: Mapping[str, str], writer: Writer
) -> CountsView:
    """Sentences, chart and table. query: as typed; state: what links carry on"""
    return CountsView(
        query.get("from_ne", "") or FROM_NE,
        query.get("to_ne", "") or TO_NE,
        () if found is None else sentences(found, writer),
        () if found is None else _limits(found),
        None if found is None else _picture(found, state, writer),
        _table(found, state, writer),
    )


def sentences(found: CountRange, writer: Writer) -> tuple[str, ...]:
    """Which route is the cheapest where, and for each two routes where they meet."""
    said = []
    if len(found.curves) > 1:
        parts = [_from_to(each, found, writer) for each in found.cheapest]
        said.append(f"Cheapest of all: {', '.join(parts)}.")
    for first, second in combinations([curve.route for curve in found.curves], 2):
        said.append(_of_two(found, first, second, writer))
    return tuple(said)


def _from_to(each: Stretch, found: CountRange, writer: Writer) -> str:
    low, high = (_edge(ne, found, writer) for ne in (each.low, each.high))
    return f"{each.route} from Ne {low} to {high}"


def _of_two(found: CountRange, first: str, second: str, writer: Writer) -> str:
    met = found.crossings_of(first, second)
    if not met:
        cheaper = found.cheaper_of(first, second)
        low, high = significant(found.low), significant(found.high)
        if not cheaper:
            return f"{first} and {second} cost the same from Ne {low} to {high}."
        dearer = second if cheaper == first else first
        return f"{cheaper} is cheaper than {dearer} at every count from Ne {low} to {high}."
    places = ", ".join(
        f"Ne {writer.text(each.ne, 'Ne')} ({writer.full(each.cost, '¤/kg')}{_beyond(each, found)})"
        for each in met
    )
    who = [met[0].cheaper_below, *(each.cheaper_above for each in met)]
    edges = [found.low, *(each.ne for each in met), found.high]
    parts = [
        f"{route or 'neither'} is cheaper from {_edge(low, found, writer)} to "
        f"{_edge(high, found, writer)}"
        for route, (low, high) in zip(who, pairwise(edges), strict=True)
    ]
    return f"{first} meets {second} at {places}: {', '.join(parts)}."


def _edge(ne: float, found: CountRange, writer: Writer) -> str:
    return significant(ne) if ne in (found.low, found.high) else writer.text(ne, "Ne")


def _beyond(each: Crossing, found: CountRange) -> str:
    """Whether a crossing rests on speeds held beyond the counts entered."""
    held = [
        curve.route
        for curve in found.curves
        if curve.route in (each.first, each.second) and not _is_entered(curve, each.ne)
    ]
    return f"; beyond the counts entered for {' and '.join(held)}" if held else ""


def _is_entered(curve: Curve, ne: float) -> bool:
    low, high = curve.entered_from_to()
    return low <= ne <= high


def _limits(found: CountRange) -> tuple[str, ...]:
    """What has to be known about the curves before they are believed."""
    spans = [
        f"{curve.route} from Ne {significant(low)} to {significant(high)}"
        for curve in found.curves
        for low, high in [curve.entered_from_to()]
        if low > found.low or high < found.high
    ]
    if not spans:
        return ()
    return (
        f"Speeds are entered for {', '.join(spans)}. Beyond, the nearest entered speed is held "
        "(dashed): figures there are less sure, and a crossing there needs speeds entered near it.",
    )


def counts_spec(found: CountRange, writer: Writer, theme: str, width_px: int) -> Spec:
    """The chart: the figures of the table as curves."""
    curves = [
        CountCurve(
            curve.route,
            tuple(
                (float(ne), writer.number(float(cost), "¤/kg"))
                for ne, cost in zip(found.counts, found.costs[curve.route], strict=True)
            ),
            curve.entered_from_to(),
        )
        for curve in found.curves
    ]
    marks = [
        CountMark(each.ne, writer.number(each.cost, "¤/kg"), f"Ne {writer.text(each.ne, 'Ne')}")
        for each in found.crossings
    ]
    return cost_over_counts(
        curves=curves,
        crossings=marks,
        today=found.asked if found.low <= found.asked <= found.high else None,
        unit=writer.unit("¤/kg"),
        theme=theme,
        width_px=width_px,
    )


def _picture(found: CountRange, state: Mapping[str, str], writer: Writer) -> Picture:
    return pictures.picture(
        partial(counts_spec, found, writer),
        "/charts/should-cost/counts.svg",
        {**state, "units": writer.units},
        caption=f"Should-cost before margin against count, Ne {significant(found.low)} to "
        f"{significant(found.high)}",
        unit=writer.unit("¤/kg"),
        alt="A curve of cost for each route; the sentences say where they meet and the table has "
        "the same figures",
        table_href="#counts-table",
    )


def _table(found: CountRange | None, state: Mapping[str, str], writer: Writer) -> Table:
    routes = tuple(found.costs) if found else ()
    return Table(
        caption="Should-cost before margin by count; each figure opens",
        columns=(
            Column("ne", "Count", "Ne", numeric=True),
            *(Column(route, route, writer.unit("¤/kg"), numeric=True) for route in routes),
            Column("cheapest", "Cheapest"),
            Column("here", "At this count"),
        ),
        rows=() if found is None else tuple(_rows(found, state, writer)),
        empty="No route has all its assumptions yet.",
        exports=tuple(
            (name, addresses.with_query(f"/should-cost/counts.{form}", state))
            for name, form in (("CSV", "csv"), ("JSON", "json"))
        ),
    )


def _rows(found: CountRange, state: Mapping[str, str], writer: Writer) -> list[Row]:
    rows = []
    for at, ne in enumerate(float(each) for each in found.counts):
        costs = {route: float(values[at]) for route, values in found.costs.items()}
        met = [each for each in found.crossings if each.ne == ne]
        tied = {route for each in met for route in (each.first, each.second)}
        best = min(costs, key=lambda route: costs[route])
        rows.append(
            Row(
                (
                    Cell(writer.text(ne, "Ne"), strong=ne == found.asked),
                    *(
                        Cell(
                            writer.text(cost, "¤/kg"),
                            href=addresses.with_query(
                                f"/should-cost/{addresses.part(route)}/should_cost",
                                {**state, "at_ne": repr(ne)},
                            ),
                            strong=route == best,
                        )
                        for route, cost in costs.items()
                    ),
                    Cell(" and ".join(route for route in costs if route in tied)
                         if best in tied else best),
                    Cell(_here(ne, found, met)),
                ),
                key=repr(ne),
            )
        )  # fmt: skip
    return rows


def _here(ne: float, found: CountRange, met: list[Crossing]) -> str:
    held = [curve.route for curve in found.curves if not _is_entered(curve, ne)]
    said = [
        "asked" if ne == found.asked else "",
        *(f"{each.first} meets {each.second}" for each in met),
        f"speed held: {', '.join(held)}" if held else "",
    ]
    return "; ".join(text for text in said if text)
