"""Tables of the map: the options with their shares, and a few points as figures."""

from __future__ import annotations

from collections.abc import Mapping

from server.actions.cost_map import Mapped
from server.core.cost_map import CostMap
from server.export.cost_map import coarse_points
from server.export.map_chart import letters_of
from server.export.ties import FIGURE_NAMES
from server.web import addresses
from server.web.numbers import Writer
from server.web.sentences import movement_value
from server.web.tables import Cell, Column, Row, Table
from server.web.ties import ties_href


def options_table(
    found: Mapped, writer: Writer, path: str, asked: Mapping[str, str], kept: Mapping[str, str]
) -> Table:
    """Every option, the cheapest of today first."""
    held, unit = found.map, FIGURE_NAMES[found.map.figure][1]
    leader, letters = held.contenders[held.leader], letters_of(held.shares)
    order = sorted(range(len(held.contenders)), key=lambda place: held.present[place])
    code = found.comparison.construction.code
    rows = []
    for place in order:
        each = held.contenders[place]
        opened = _cost_href(path, asked, each.name, 1.0, 1.0)
        against = ties_href(code, leader.name, each.name, {**kept, "figure": held.figure})
        same = place == held.leader
        rows.append(
            Row(
                (
                    Cell(f"{letters[place]} {each.label}".strip()),
                    Cell(writer.text(held.present[place], unit), opened, strong=same),
                    Cell(
                        "–"
                        if same
                        else writer.signed(held.present[place] - held.present[held.leader], unit),
                        None if same else against,
                    ),
                    Cell(writer.text(held.shares[place], "share")),
                ),
                key=each.name,
                tone="best" if same else "",
            )
        )
    return Table(
        caption="The options; a difference opens the ties with the cheapest",
        columns=(
            Column("option", "Option"),
            Column("cost", "Today", writer.unit(unit), numeric=True),
            Column("difference", "To the cheapest", writer.unit(unit), numeric=True),
            Column("share", "Share of the map", "%", numeric=True),
        ),
        rows=tuple(rows),
        empty="",
    )


def points_table(held: CostMap, writer: Writer, path: str, asked: Mapping[str, str]) -> Table:
    """The cheapest option at a few points; each cost opens."""
    unit = FIGURE_NAMES[held.figure][1]
    points = coarse_points(held)
    x, y = held.x, held.y
    return Table(
        caption=f"The cheapest option and its cost in {writer.unit(unit)}: "
        f"{x.movement.label} across, {y.movement.label} down",
        columns=(
            Column("y", y.movement.label, movement_value(y.movement, 1.0, writer)[1]),
            *(
                Column(
                    f"x{place}",
                    movement_value(x.movement, x.movement.present * point.x, writer)[0],
                    movement_value(x.movement, 1.0, writer)[1],
                    numeric=True,
                )
                for place, point in enumerate(points[0])
            ),
        ),
        rows=tuple(
            Row(
                (
                    Cell(movement_value(y.movement, y.movement.present * row[0].y, writer)[0]),
                    *(
                        Cell(
                            writer.text(point.cost, unit),
                            _cost_href(
                                path, asked, held.contenders[point.winner].name, point.x, point.y
                            ),
                            note=held.contenders[point.winner].name,
                        )
                        for point in row
                    ),
                ),
                key=f"{row[0].y:g}",
            )
            for row in points
        ),
        empty="",
        exports=tuple(
            (name, addresses.with_query(f"{path}.{form}", asked))
            for name, form in (("CSV", "csv"), ("JSON", "json"))
        ),
    )


def _cost_href(path: str, asked: Mapping[str, str], option: str, x: float, y: float) -> str:
    at = {"option": option, "at_x": repr(x), "at_y": repr(y)}
    return addresses.with_query(f"{path}-cost", {**asked, **at})
