"""What asking for a direction of twist costs, on the comparison page."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from server.core.compare import Comparison, Pair
from server.core.twist_cost import TwistCost
from server.web import addresses
from server.web.numbers import Writer
from server.web.tables import Cell, Column, Row, Table


@dataclass(frozen=True, slots=True)
class TwistCostView:
    """The cost of each twist. sentence: the one that matters; href: the drawing of the twist."""

    sentence: str
    table: Table
    href: str


def twist_cost_view(
    comparison: Comparison,
    costs: Iterable[TwistCost],
    writer: Writer,
    kept: Mapping[str, str],
) -> TwistCostView | None:
    """The cost of each twist; None where no twist is asked for and the twill has no hand."""
    found = tuple(costs)
    if not found:
        return None
    code = comparison.construction.code
    return TwistCostView(
        sentence=_sentence(found, writer),
        table=Table(
            caption="Best possible pair with a twist, and of the same combination without it",
            columns=(
                Column("twist", "Twist"),
                Column("pair", "With it"),
                Column("yarn", "Yarn", writer.unit("¤/m"), numeric=True),
                Column("cloth", "Finished cloth", writer.unit("¤/m"), numeric=True),
                Column("without", "Without it"),
                Column("yarn_more", "Yarn, more", writer.unit("¤/m"), numeric=True),
                Column("cloth_more", "Finished cloth, more", writer.unit("¤/m"), numeric=True),
            ),
            rows=tuple(_row(code, each, writer, kept) for each in found),
            empty="",
        ),
        href=f"{addresses.construction_path(code)}#twist",
    )


def _sentence(found: tuple[TwistCost, ...], writer: Writer) -> str:
    """The dearest twist that can be had, or why one cannot."""
    priced = [each for each in found if each.more("fabric_cost") is not None]
    if not priced:
        missing = next((each for each in found if each.pair is None), None)
        why = f": {missing.reason}" if missing else ""
        return f"The cost of a twist cannot be told{why}."
    dearest = max(priced, key=lambda each: each.more("fabric_cost") or 0.0)
    yarn, more = dearest.more("yarn_cost"), dearest.pair
    if yarn is None or more is None or dearest.without is None or yarn <= 0:
        return "No twist costs more than the other here."
    asked = "asks for" if dearest.asked else "if it is asked for"
    places = " and ".join(dearest.places)
    begin = (
        f"The construction {asked} {dearest.twist}-twist {places}"
        if dearest.asked
        else f"{dearest.twist}-twist {places}, {asked},"
    )
    verb = ", which costs" if dearest.asked else " costs"
    return (
        f"{begin}{verb} {writer.full(yarn, '¤/m')} of yarn: {more.key} at "
        f"{writer.full(more.figures['yarn_cost'], '¤/m')} against {dearest.without.key} at "
        f"{writer.full(dearest.without.figures['yarn_cost'], '¤/m')}, both {more.combination}."
    )


def _row(code: str, each: TwistCost, writer: Writer, kept: Mapping[str, str]) -> Row:
    def linked(pair: Pair | None, line: str = "") -> str | None:
        if pair is None:
            return None
        path = addresses.pair_path(code, pair.key) + (f"/{line}" if line else "")
        return addresses.with_query(path, kept)

    def cost(figure: str) -> Cell:
        if each.pair is None:
            return Cell("–")
        return Cell(writer.text(each.pair.figures[figure], "¤/m"), href=linked(each.pair, figure))

    def more(figure: str) -> Cell:
        value = each.more(figure)
        return Cell("–" if value is None else writer.signed(value, "¤/m"), strong=True)

    return Row(
        (
            Cell(
                f"{each.twist}-twist, {' and '.join(each.places)}",
                note="asked for" if each.asked else "",
            ),
            Cell(each.pair.key if each.pair else "none", href=linked(each.pair),
                 note=each.pair.process if each.pair else each.reason),
            cost("yarn_cost"),
            cost("fabric_cost"),
            Cell(each.without.key if each.without else "–", href=linked(each.without),
                 note=each.reason if each.pair else ""),
            more("yarn_cost"),
            more("fabric_cost"),
        ),
        key=each.key,
    )  # fmt: skip
