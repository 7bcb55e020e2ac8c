"""The first sheets of a workbook: all pairs beside each other, and the notes to read with them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from xlsxwriter.utility import xl_rowcol_to_cell

from server.core.pack import COST, INTERNAL, PRICE, FrozenPair, FrozenYarn, Pack
from server.export import cautions
from server.export.workbook_cloth import POSSIBLE, ClothSheet, shown_value
from server.export.workbook_names import plain
from server.export.workbook_styles import Styles, make_room, unit_text

_NUMBER_WIDE, _LABEL_WIDE, _TEXT_WIDE = 12, 22, 120
_WORDS = {
    "ounces": "Weight, finished",
    "mass_per_area": "Weight, finished",
    "yarn_cost": "Yarn",
    "season_cost": "Cloth of the season",
}
_HEADLINE = {COST: ("Cost", "fabric"), PRICE: ("Price", "price")}
READING = (
    "Blue on yellow, on the sheet “Inputs”: figures you may change. Black: formulas. Every figure "
    "here and on the sheets of the constructions follows the inputs."
)


@dataclass(frozen=True, slots=True)
class _Texts:
    """A column of words about a pair. width: in characters"""

    heading: str
    width: int
    says: Callable[[ClothSheet, FrozenPair], str]


@dataclass(frozen=True, slots=True)
class _Column:
    """A column of figures. key: of the line; unit: of the line"""

    key: str
    heading: str
    unit: str


@dataclass(frozen=True)
class _Table:
    """The table of all pairs. compared: the column whose differences are shown, or None"""

    pack: Pack
    sheets: Sequence[ClothSheet]
    texts: tuple[_Texts, ...]
    columns: tuple[_Column, ...]
    compared: _Column | None

    @property
    def width(self) -> int:
        """Columns in all."""
        return len(self.texts) + len(self.columns) + (2 if self.compared else 0)


def write_summary(
    pack: Pack, sheets: Sequence[ClothSheet], changed: str, page: Any, styles: Styles
) -> None:
    """Heading and one row for each pair. changed: a formula that counts changed inputs"""
    columns = tuple(_columns(pack, sheets))
    compared = next((each for each in columns if each.key == pack.headline), None)
    table = _Table(pack, sheets, tuple(_texts(pack)), columns, compared)
    at = 0
    page.set_row(0, 24)
    for at, (text, style) in enumerate(_top(pack, styles)):
        page.write_string(at, 0, plain(text), style)
    page.write_formula(at + 1, 0, changed, styles.strong, "All inputs are as frozen.")
    head = at + 3
    _write_head(table, page, styles, head)
    at = head
    for sheet in sheets:
        first = at + 1
        for pair in range(len(sheet.cloth.pairs)):
            at += 1
            _write_pair(table, sheet, pair, page, styles, at)
            _write_differences(table, sheet, pair, page, styles, at, first)
    page.freeze_panes(head + 1, 2)
    page.repeat_rows(head)
    page.fit_to_pages(1, 0)
    page.print_area(0, 0, at, table.width - 1)


def _texts(pack: Pack) -> Iterator[_Texts]:
    """The columns of words; standing only where a pair is not possible."""
    yield _Texts("Construction", 24, lambda sheet, pair: sheet.cloth.title)
    yield _Texts("Pair", 13, lambda sheet, pair: pair.label)
    if any({pair.state for pair in cloth.pairs} - {"", POSSIBLE} for cloth in pack.cloths):
        yield _Texts("Standing", 11, lambda sheet, pair: pair.state)
    yield _Texts("Warp yarn", 26, lambda sheet, pair: _yarns(pair, "warp"))
    yield _Texts("Filling yarn", 26, lambda sheet, pair: _yarns(pair, "filling"))
    yield _Texts("Combination", 13, lambda sheet, pair: pair.combination)


def _columns(pack: Pack, sheets: Sequence[ClothSheet]) -> Iterator[_Column]:
    """The columns of figures that any pair has."""
    name, prefix = _HEADLINE.get(pack.headline, ("", ""))
    wanted = dict(_WORDS)
    if name:
        season = {"season_cost": wanted.pop("season_cost")}
        wanted[pack.headline] = f"{name}, metre"
        for of, words in (("yard", "yard"), ("kg", "kg of cloth"), ("area", "cuttable m²")):
            wanted[f"{prefix}_per_{of}"] = f"{name}, {words}"
        wanted |= season
    for key, words in wanted.items():
        row = next((s.rows.by_key[key] for s in sheets if key in s.rows.by_key), None)
        if row is not None:
            yield _Column(key, words, row.unit)


def _write_head(table: _Table, page: Any, styles: Styles, at: int) -> None:
    currency = table.pack.basis.currency
    page.set_row(at, 42)
    for place, text in enumerate(table.texts):
        page.write_string(at, place, text.heading, styles.head)
        page.set_column(place, place, text.width)
    told = [f"{each.heading}\n{unit_text(each.unit, currency)}" for each in table.columns]
    if table.compared:
        told += [f"To the first\n{unit_text(table.compared.unit, currency)}", "To the first\n%"]
    for place, heading in enumerate(told, len(table.texts)):
        page.write_string(at, place, heading, styles.head_of_numbers)
        page.set_column(place, place, _NUMBER_WIDE)


def _write_pair(
    table: _Table, sheet: ClothSheet, at_pair: int, page: Any, styles: Styles, at: int
) -> None:
    pair = sheet.cloth.pairs[at_pair]
    texts = [plain(each.says(sheet, pair)) for each in table.texts]
    widths = [each.width for each in table.texts]
    make_room(page, at, *zip(texts, widths, strict=True))
    style = styles.strong_label if at_pair == 0 else styles.label
    if pair.state not in ("", POSSIBLE):
        style = styles.faint_label
    for place, text in enumerate(texts):
        page.write_string(at, place, text, style)
    for place, column in enumerate(table.columns, len(texts)):
        found = sheet.reference(at_pair, column.key)
        if found:
            formula, value = found
            style = styles.result(column.unit, strong=at_pair == 0)
            page.write_formula(at, place, formula, style, shown_value(value))


def _write_differences(
    table: _Table, sheet: ClothSheet, pair: int, page: Any, styles: Styles, at: int, first: int
) -> None:
    """The difference of the compared figure to the first pair, as formulas. first: its row"""
    compared = table.compared
    if compared is None:
        return
    ours, theirs = sheet.reference(pair, compared.key), sheet.reference(0, compared.key)
    if not (ours and theirs):
        return
    place = len(table.texts) + table.columns.index(compared)
    mine, other = xl_rowcol_to_cell(at, place), xl_rowcol_to_cell(first, place)
    apart, end = ours[1] - theirs[1], table.width - 2
    style = styles.result(compared.unit, signed=True)
    page.write_formula(at, end, f"={mine}-{other}", style, shown_value(apart))
    if theirs[1]:
        share = styles.result("share", signed=True)
        page.write_formula(at, end + 1, f"={mine}/{other}-1", share, ours[1] / theirs[1] - 1)


def _yarns(pair: FrozenPair, direction: str) -> str:
    return ", ".join(_yarn(yarn) for yarn in pair.yarns if yarn.direction == direction)


def _yarn(yarn: FrozenYarn) -> str:
    """A yarn with its seller; where the code tells the seller, with what it is."""
    if yarn.supplier and not yarn.code.startswith(yarn.supplier):
        return f"{yarn.code} {yarn.supplier}"
    return f"{yarn.code} {yarn.process} {yarn.count}".strip()


def _top(pack: Pack, styles: Styles) -> Iterator[tuple[str, Any]]:
    yield pack.title or pack.reference, styles.title
    told = (
        f"For {pack.buyer}" if pack.buyer else "",
        f"meeting {pack.meeting.isoformat()}",
        f"reference {pack.reference}" if pack.reference else "",
    )
    yield " · ".join(each for each in told if each), styles.strong
    yield " · ".join(f"{label} {text}" for label, text in basis_facts(pack)), styles.faint
    yield READING, styles.text
    yield (
        (
            "Modelled figures are estimates, not prices. Cautions, the basis and what the workbook "
            "cannot follow stand on the sheet “Notes”."
        ),
        styles.text,
    )


def basis_facts(pack: Pack) -> Iterator[tuple[str, str]]:
    """What the figures rest on, as (label, text); what the pack does not say is left out."""
    basis = pack.basis
    metres = f" ({basis.metres:,.0f} m)" if basis.metres else ""
    frozen = f"{pack.made_at:%Y-%m-%d %H:%M} UTC" if pack.made_at else "not frozen, a draft"
    told = (
        ("basis", basis.name),
        ("currency", basis.currency),
        ("rates of", basis.rates_on.isoformat()),
        ("delivered to", basis.delivery_point),
        ("offers as of", basis.as_of.isoformat()),
        ("needed by", basis.need_by.isoformat()),
        ("quantity", f"{basis.quantity}{metres}" if basis.quantity else ""),
        ("assumptions", basis.assumption_set),
        ("loom efficiency", basis.loom_rule),
        ("frozen", frozen),
        ("engine", pack.engine),
    )
    return ((label, text) for label, text in told if text)


def write_notes(pack: Pack, sheets: Sequence[ClothSheet], page: Any, styles: Styles) -> None:
    """How to read the workbook, its basis, what it cannot follow, and the cautions."""
    keys, given = _keys(sheets), any(sheet.rows.has_fixed for sheet in sheets)
    blocks = (
        ("Notes", tuple(("", text) for text in pack.notes.splitlines() if text.strip())),
        ("How to read it", tuple(("", text) for text in _reading())),
        ("Basis", tuple(basis_facts(pack))),
        (
            "What the workbook cannot follow",
            tuple(("", text) for text in _limits(pack, keys, given)),
        ),
        ("Cautions", tuple(("", text) for text in _cautions(pack, keys))),
    )
    at = 0
    for heading, rows in blocks:
        if not rows:
            continue
        page.write_string(at, 0, heading, styles.group)
        page.write_blank(at, 1, None, styles.group)
        for label, text in rows:
            at += 1
            make_room(page, at, (text, _TEXT_WIDE))
            page.write_string(at, 0, plain(label.capitalize()), styles.faint)
            page.write_string(at, 1, plain(text), styles.wrapped)
        at += 2
    page.set_column(0, 0, _LABEL_WIDE)
    page.set_column(1, 1, _TEXT_WIDE)
    page.fit_to_pages(1, 0)
    page.print_area(0, 0, max(at - 2, 0), 1)
    page.freeze_panes(0, 1)


def _keys(sheets: Sequence[ClothSheet]) -> frozenset[str]:
    """Every line and input the workbook holds, those of yarns without their place."""
    found: set[str] = set()
    for sheet in sheets:
        for lines, inputs in zip(sheet.rows.lines, sheet.rows.inputs, strict=True):
            found.update(lines, inputs)
    return frozenset(found | {key.partition(".")[2] for key in found})


def _reading() -> Iterator[str]:
    yield READING
    yield (
        "Each input has a name that the formulas use; the sheet “Inputs” shows it first. Its "
        "column “As frozen” holds the value to go back to; a changed value is marked there and "
        "counted on the sheet “Summary”."
    )
    yield (
        "The sheet of a construction has one column for each pair; behind the last pair stand "
        "the formula of each row in words and its source. An empty cell means that the pair has "
        "no such figure."
    )


def _limits(pack: Pack, keys: frozenset[str], given: bool) -> Iterator[str]:
    yield (
        "The order of the pairs and the best pair of a combination are as frozen; they do not "
        "move when a figure does."
    )
    if pack.view == INTERNAL:
        yield "The standing of an offer is as frozen; a changed figure is not judged again."
    if given:
        yield (
            "Figures given as fixed have no formula in this workbook: they hold for everything as "
            "it was frozen and do not follow a change of another figure."
        )
    if "quoted_price" in keys:
        yield (
            "A price from a scale of quantities was taken at the quantity of this pack; another "
            "quantity does not choose another price."
        )
        yield "Delivery terms, and the rates that were chosen by day, stay as chosen."
    if any(key.startswith("duty_rate") for key in keys):
        yield "The duty row was chosen for each yarn when the pack was frozen and stays."
    if pack.view == INTERNAL:
        yield (
            "Assumptions kept in another currency stand here already in the reporting currency; "
            "a changed exchange rate does not move them."
        )
    if any(cloth.variant for cloth in pack.cloths):
        yield "Picks or ends that were solved for an alternative stay as solved."
    if any(key.startswith("own.") for key in keys):
        yield "Values of own spinning that depend on the count do not follow a changed count."


def _cautions(pack: Pack, keys: frozenset[str]) -> Iterator[str]:
    internal = pack.view == INTERNAL
    said = (
        (cautions.MODELLED, True),
        (cautions.RATES, any(key.startswith(("exchange_rate", "lane.")) for key in keys)),
        (cautions.DUTY, "duty" in keys),
        (cautions.TERMS, bool({"goods_price", "landed_price"} & keys)),
        (cautions.WEIGHT, bool({"ounces", "mass_per_area"} & keys)),
        (cautions.TESTS, internal),
        (cautions.ORIGIN, internal),
        (cautions.STOPS, "servicing_factor" in keys),
        (cautions.SPEEDS, bool({"loom_rpm", "loom_output"} & keys)),
        (cautions.FINISH, bool({"warp_preparation", "dyeing", "finishing"} & keys)),
        (cautions.CHANGE, any(cloth.variant for cloth in pack.cloths)),
    )
    return (text for text, holds in said if holds)
