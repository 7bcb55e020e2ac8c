"""Tables and sentences about two sets of assumptions and the constructions under them."""

from __future__ import annotations

from collections.abc import Mapping

from server.core.compare import Cell as MatrixCell
from server.core.compare import Pair
from server.core.construction import Construction
from server.core.costing import OWN
from server.core.scenarios import TwoSets, UnderBoth, UnderSet, groups_apart
from server.core.should_cost import ROUTES
from server.export.scenarios import entered_value
from server.export.should_cost import entered_unit
from server.web import addresses
from server.web.numbers import Writer, percent, significant
from server.web.tables import Cell, Column, Row, Table

State = Mapping[str, str]
SAME = "The two sets hold the same values. Change a value in one of them on the Assumptions page."


def sentences(found: TwoSets, writer: Writer) -> tuple[str, ...]:
    """What the two sets do, in sentences."""
    about = [f"“{each.name}”: {each.notes}" for each in (found.first, found.second) if each.notes]
    if not found.values:
        return (*about, SAME)
    groups = groups_apart(found.values)
    many = "One value differs" if len(found.values) == 1 else f"{len(found.values)} values differ"
    said = [*about, f"{many}, in {', '.join(sorted(groups))}."]
    if not found.constructions:
        return (*said, "There is no construction with a basis to compare yet.")
    if groups <= set(ROUTES):
        said.append(
            "They differ in spinning only: bought yarn is landed as it was quoted under both, so "
            "only what is made of own yarn moves."
        )
    moved = [each for each in found.constructions if each.difference]
    led = [each.construction.code for each in found.constructions if each.leader_changes]
    said.append(
        f"With bought yarn {len(moved)} of {len(found.constructions)} constructions cost another "
        f"amount; " + (f"another pair leads in {', '.join(led)}." if led else "no leader changes.")
    )
    own = [each for each in found.constructions if each.own_difference]
    if own:
        widest = max(own, key=lambda each: abs(each.own_difference or 0.0))
        apart = writer.signed(widest.own_difference or 0.0, "¤/m")
        said.append(
            f"With own yarn {len(own)} move, most {widest.construction.code} by {apart} "
            f"{writer.unit('¤/m')}."
        )
    return tuple(said)


def values_table(found: TwoSets, writer: Writer, state: State) -> Table:
    """What differs between two sets, value by value."""
    rows = []
    for each in found.values:
        units = [entered_unit(each.kind.unit, s.currency) for s in (found.first, found.second)]
        values = [entered_value(each, first=first) for first in (True, False)]
        apart = ""
        if None not in values and each.comparable:
            gap = (values[1] or 0.0) - (values[0] or 0.0)
            apart = f"{'+' if gap > 0 else ''}{significant(float(f'{gap:.10g}'))}"
        rows.append(
            Row(
                (
                    Cell(each.kind.label, strong=True, note=each.kind.group),
                    Cell("" if each.at_ne is None else writer.text(each.at_ne, "Ne")),
                    *(
                        Cell(
                            "–" if value is None else significant(float(f"{value:.10g}")),
                            href=entry.where or None if entry else None,
                            note="not entered" if value is None else "",
                        )
                        for value, entry in zip(values, (each.first, each.second), strict=True)
                    ),
                    Cell(units[0] if units[0] == units[1] else f"{units[0]} | {units[1]}"),
                    Cell(apart, strong=True),
                    Cell("" if each.relative is None else percent(each.relative, signed=True)),
                    Cell(each.second.source if each.second else ""),
                ),
                key=f"{each.kind.key} {each.at_ne}",
            )
        )
    return Table(
        caption="What differs, value by value; each opens its record",
        columns=(
            Column("assumption", "Assumption"),
            Column("at_ne", "At count", "Ne", numeric=True),
            Column("first", found.first.name, numeric=True),
            Column("second", found.second.name, numeric=True),
            Column("unit", "Unit"),
            Column("difference", "Difference", numeric=True),
            Column("relative", "Relative", numeric=True),
            Column("source", "Source in the second"),
        ),
        rows=tuple(rows),
        empty=SAME,
        exports=_exports(state, "/scenarios/values"),
    )


def _exports(state: State, path: str) -> tuple[tuple[str, str], ...]:
    return (
        ("CSV", addresses.with_query(f"{path}.csv", state)),
        ("JSON", addresses.with_query("/scenarios.json", state)),
    )


def constructions_table(found: TwoSets, writer: Writer, state: State) -> Table:
    """Every construction under two sets: leader, cost, difference, and the same with own yarn."""
    unit = writer.unit("¤/m")
    return Table(
        caption=f"Constructions under “{found.first.name}” and “{found.second.name}”: cheapest "
        "possible pair, and cheapest own yarn; each figure opens",
        columns=(
            Column("construction", "Construction"),
            Column("first", "First set", unit, numeric=True),
            Column("second", "Second set", unit, numeric=True),
            Column("difference", "Difference", unit, numeric=True),
            Column("leader", "Leader"),
            Column("own_first", "Own yarn, first", unit, numeric=True),
            Column("own_second", "Own yarn, second", unit, numeric=True),
            Column("own_difference", "Difference", unit, numeric=True),
        ),
        rows=tuple(_under_row(found, each, writer, state) for each in found.constructions),
        empty="There is nothing to compare yet: enter a construction, offers and a basis.",
        exports=_exports(state, "/scenarios"),
    )


def _under_row(found: TwoSets, each: UnderBoth, writer: Writer, state: State) -> Row:
    sides = ((found.first.name, each.first), (found.second.name, each.second))
    one = {**state, "construction": each.construction.code}
    leader = {None: "", True: "changes", False: "the same"}[each.leader_changes]
    return Row(
        (
            Cell(
                each.construction.code,
                href=f"{addresses.with_query('/scenarios', one)}#one",
                note=each.construction.name,
                strong=True,
            ),
            *(_leader_cell(each.construction, name, under, writer, state) for name, under in sides),
            Cell(_signed(each.difference, writer), strong=True),
            Cell(leader, note=_keeping(each, writer)),
            *(_own_cell(each.construction, name, under, writer, state) for name, under in sides),
            Cell(_signed(each.own_difference, writer), strong=True),
        ),
        key=each.construction.code,
    )


def _signed(value: float | None, writer: Writer) -> str:
    return "" if value is None else writer.signed(value, "¤/m")


def _keeping(each: UnderBoth, writer: Writer) -> str:
    """What keeping the first leader would cost under the second set, where it changes."""
    first, second = each.first.leader, each.second
    if not each.leader_changes or first is None or second.comparison is None:
        return ""
    kept = second.comparison.find(first.warp.offer.code, first.filling.offer.code)
    if kept is None or second.cost is None:
        return ""
    apart = kept.figures["fabric_cost"] - second.cost
    return f"keeping {first.key} costs {writer.full(apart, '¤/m')} more"


def _leader_cell(
    construction: Construction, set_name: str, under: UnderSet, writer: Writer, state: State
) -> Cell:
    if under.leader is None:
        return Cell("–", note=under.missing)
    return _pair_cell(construction, under.leader, set_name, writer, state)


def _pair_cell(
    construction: Construction, pair: Pair, set_name: str, writer: Writer, state: State
) -> Cell:
    path = f"{addresses.pair_path(construction.code, pair.key)}/fabric_cost"
    return Cell(
        writer.text(pair.figures["fabric_cost"], "¤/m"),
        href=addresses.with_query(path, {**_basis(state), "assumption_set": set_name}),
        note=f"{pair.key} {pair.process}",
    )


def _basis(state: State) -> dict[str, str]:
    return {name: state[name] for name in addresses.BASIS_NAMES if state.get(name)}


def _own_cell(
    construction: Construction, set_name: str, under: UnderSet, writer: Writer, state: State
) -> Cell:
    cheapest = under.own.cheapest
    if cheapest is None:
        return Cell("–", note=under.own.missing)
    name, cost = cheapest
    href = _own_href(construction, name, set_name, state)
    return Cell(writer.text(cost, "¤/m"), href=href, note=name)


def _own_href(construction: Construction, name: str, set_name: str, state: State) -> str:
    """Where a metre of own yarn opens: the plain swap of the change desk."""
    routes = dict(zip(("warp", "filling"), name.split("/"), strict=True))
    yarns = {f"{slot.name}_yarn": f"{OWN}{routes[slot.direction]}" for slot in construction.slots}
    path = f"{addresses.construction_path(construction.code)}/change/swap/fabric_cost"
    return addresses.with_query(path, {**_basis(state), "assumption_set": set_name, **yarns})


def combinations_table(found: TwoSets, both: UnderBoth, writer: Writer, state: State) -> Table:
    """The best pair of every spinning combination of one construction under each set."""
    rows = []
    for name, one, other in both.combinations:
        costs = [_cost(cell) for cell in (one, other)]
        apart = None if None in costs else (costs[1] or 0.0) - (costs[0] or 0.0)
        cells = (
            _cell(both.construction, cell, set_name, writer, state)
            for cell, set_name in ((one, found.first.name), (other, found.second.name))
        )
        rows.append(
            Row((Cell(name, strong=True), *cells, Cell(_signed(apart, writer), strong=True)), name)
        )
    return Table(
        caption=f"{both.construction.code}: best possible pair of every spinning combination, "
        "bought yarn",
        columns=_columns(found, writer),
        rows=tuple(rows),
        empty="No combination has an offer.",
        exports=_exports(state, "/scenarios/combinations"),
    )


def _columns(found: TwoSets, writer: Writer) -> tuple[Column, ...]:
    unit = writer.unit("¤/m")
    return (
        Column("combination", "Combination"),
        Column("first", found.first.name, unit, numeric=True),
        Column("second", found.second.name, unit, numeric=True),
        Column("difference", "Difference", unit, numeric=True),
    )


def _cost(cell: MatrixCell | None) -> float | None:
    return cell.best.figures["fabric_cost"] if cell and cell.best else None


def _cell(
    construction: Construction, cell: MatrixCell | None, set_name: str, writer: Writer, state: State
) -> Cell:
    if cell is None or cell.best is None:
        return Cell("–", note=cell.reason if cell else "not compared")
    return _pair_cell(construction, cell.best, set_name, writer, state)


def own_table(found: TwoSets, both: UnderBoth, writer: Writer, state: State) -> Table:
    """Every pair of own routes of one construction under each set."""
    rows = []
    for name, first, second in both.own_combinations:
        apart = None if first is None or second is None else second - first
        cells = (
            Cell("–")
            if cost is None
            else Cell(
                writer.text(cost, "¤/m"),
                href=_own_href(both.construction, name, set_name, state),
            )
            for cost, set_name in ((first, found.first.name), (second, found.second.name))
        )
        rows.append(
            Row((Cell(name, strong=True), *cells, Cell(_signed(apart, writer), strong=True)), name)
        )
    return Table(
        caption=f"{both.construction.code}: own yarn, warp route / filling route",
        columns=_columns(found, writer),
        rows=tuple(rows),
        empty=f"No own yarn: {both.first.own.missing or both.second.own.missing}.",
    )
