"""Parts a handout is made of, and what a pack tells of a pair, as text."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from server.core.pack import COST, PRICE, FrozenInput, FrozenPair, Pack
from server.export import cautions
from server.export.numbers import Writer

LONG = 240  # letters of a row that may be broken over two pages
NARROW = 32  # letters of a text whose column may be as wide as the text


@dataclass(frozen=True, slots=True)
class Fact:
    """Something about a pack or a cloth, for reading. note: what stands behind it, quieter"""

    label: str
    text: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Column:
    """Heading of a column.

    unit: as shown under the heading
    figure: holds figures, set to the right
    wide: its share of the room that is left; 0 for as wide as its texts
    """

    heading: str
    unit: str = ""
    figure: bool = False
    wide: float = 0


def figures(heading: str, unit: str = "") -> Column:
    """A column of figures."""
    return Column(heading, unit, figure=True)


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell: its lines, and quieter ones below."""

    lines: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Row:
    """Cells of a table. marked: the leader's row; long: may be broken over two pages"""

    cells: tuple[Cell, ...]
    marked: bool = False
    long: bool = False


@dataclass(frozen=True, slots=True)
class Table:
    """A table whose head comes again on every page it runs over."""

    title: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class Bar:
    """A row with a bar. start, end: the dark part, as shares of the room; pale before it"""

    label: str
    note: str
    figures: tuple[str, ...]
    start: float
    end: float
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Bars:
    """Bars with their figures. headings: of the label, the figures and the bar"""

    title: str
    headings: tuple[str, ...]
    rows: tuple[Bar, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class MatrixCell:
    """One spinning combination.

    beside: its difference; parts: what is told one behind the other; reason: why there is no pair
    """

    figure: str
    beside: str
    parts: tuple[str, ...]
    reason: str
    leader: bool


@dataclass(frozen=True, slots=True)
class Matrix:
    """Warp down, filling across."""

    title: str
    across: tuple[str, ...]
    rows: tuple[tuple[str, tuple[MatrixCell, ...]], ...]


@dataclass(frozen=True, slots=True)
class ClothPage:
    """The page of a construction or of a variant."""

    title: str
    change: str
    summary: tuple[str, ...]
    facts: tuple[Fact, ...]
    matrix: Matrix | None
    ladder: Bars | None
    pairs: Table | None
    sellers: tuple[Fact, ...]
    stack: Bars | None
    ties: tuple[str, ...]
    excluded: Table | None
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class InputGroup:
    """Inputs of a cloth or a yarn, as label and text.

    source: of all that name no other
    """

    title: str
    source: str
    entries: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class Appendix:
    """What the figures rest on."""

    tables: tuple[Table, ...]
    cloths: tuple[InputGroup, ...]
    yarns: tuple[InputGroup, ...]
    formulas: Table
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Headline:
    """The figure a pack puts first, in its four forms; each is the key of a line."""

    label: str
    metre: str
    yard: str
    kg: str
    area: str


HEADLINES = {
    COST: Headline("Cost", COST, "fabric_per_yard", "fabric_per_kg", "fabric_per_area"),
    PRICE: Headline("Price", PRICE, "price_per_yard", "price_per_kg", "price_per_area"),
}


class About:
    """What a pack tells of one pair."""

    def __init__(self, pack: Pack, pair: FrozenPair, writer: Writer) -> None:
        self._writer = writer
        self.inputs: dict[str, FrozenInput] = pack.inputs_of(pair)
        self._told = {name: (e.value, e.unit, e.label) for name, e in self.inputs.items()}
        self._told |= {
            line.key: (value, line.unit, line.label)
            for line, value in zip(pack.lines_of(pair), pair.figures, strict=True)
        }

    def value(self, key: str) -> float | None:
        """A figure or an input; None when the pack does not have it."""
        return self._told[key][0] if key in self._told else None

    def unit(self, key: str) -> str:
        """Its unit as shown, "" when it is not there."""
        return self._writer.unit(self._told[key][1]) if key in self._told else ""

    def label(self, key: str) -> str:
        """What it is called in the pack."""
        return self._told[key][2]

    def text(self, key: str) -> str:
        """The figure alone, "" when it is not there."""
        if key not in self._told:
            return ""
        value, unit, _ = self._told[key]
        return self._writer.text(value, unit)

    def full(self, key: str) -> str:
        """The figure with its unit, "" when it is not there."""
        if key not in self._told:
            return ""
        value, unit, _ = self._told[key]
        return self._writer.full(value, unit)

    def cell(self, key: str, *, strong: bool = False) -> Cell:
        """The figure alone as a cell."""
        text = self.text(key)
        return Cell((text,), strong=strong) if text else Cell()


class Teller:
    """A pack with the writer of its figures."""

    def __init__(self, pack: Pack) -> None:
        self.pack = pack
        self.writer = Writer("trade", pack.basis.currency)
        self.headline = HEADLINES.get(pack.headline)
        self._known: dict[int, About] = {}

    @property
    def estimate(self) -> tuple[str, ...]:
        """What is to be said wherever money is computed."""
        if not self.headline:
            return ()
        return (cautions.PRICED if self.pack.headline == PRICE else cautions.MODELLED,)

    def about(self, pair: FrozenPair) -> About:
        """What the pack tells of a pair."""
        if id(pair) not in self._known:
            self._known[id(pair)] = About(self.pack, pair, self.writer)
        return self._known[id(pair)]

    def unit(self, unit: str) -> str:
        """A unit as shown."""
        return self.writer.unit(unit)

    def first(self, pair: FrozenPair) -> float | None:
        """The headline figure of a pair; None when the pack has none."""
        return self.about(pair).value(self.headline.metre) if self.headline else None

    def apart(self, pair: FrozenPair, other: FrozenPair) -> str:
        """The headline figure of a pair above that of another, with its sign; "" without any."""
        ours, theirs = self.first(pair), self.first(other)
        if ours is None or theirs is None:
            return ""
        return self.writer.signed(ours - theirs, "¤/m")


def table_of(title: str, columns: Sequence[Column], rows: Sequence[Row], note: str = "") -> Table:
    """A table without the columns that would be empty in every row; the first always stays.

    A column of long texts shares the room that is left, so that it takes none from the others.
    """
    width = len(columns)
    padded = [(*row.cells, *(Cell(),) * (width - len(row.cells))) for row in rows]
    kept = [
        at
        for at in range(width)
        if at == 0 or any(cells[at].lines or cells[at].notes for cells in padded)
    ]
    return Table(
        title,
        tuple(_fitting(columns[at], [cells[at] for cells in padded]) for at in kept),
        tuple(
            replace(row, cells=chosen, long=_letters(chosen) > LONG)
            for row, cells in zip(rows, padded, strict=True)
            for chosen in [tuple(cells[at] for at in kept)]
        ),
        note,
    )


def _fitting(column: Column, cells: Sequence[Cell]) -> Column:
    longest = max((len(line) for cell in cells for line in (*cell.lines, *cell.notes)), default=0)
    return replace(column, wide=column.wide or 1) if longest > NARROW else column


def _letters(cells: tuple[Cell, ...]) -> int:
    return sum(len(line) for cell in cells for line in (*cell.lines, *cell.notes))
