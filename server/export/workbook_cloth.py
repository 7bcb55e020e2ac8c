"""The sheet of one cloth: a column for each pair, every figure a formula on what feeds it."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from xlsxwriter.utility import xl_col_to_name

from server.core.pack import Cloth, FrozenCell, FrozenPair, FrozenYarn, Pack
from server.export.workbook_inputs import InputRow
from server.export.workbook_lines import ClothRows, FigureRow, slot_words
from server.export.workbook_names import plain, quoted
from server.export.workbook_styles import Styles, make_room, unit_text

FIRST_PAIR = 2  # columns before the pairs: figure, unit
_WIDE, _UNIT_WIDE, _PAIR_WIDE = 50, 19, 14  # columns [characters]
PAIRS_ON_A_PAGE = 8
POSSIBLE = "possible"  # the standing that goes without saying
_ABOUT_YARNS: tuple[tuple[str, Callable[[FrozenYarn], str]], ...] = (
    ("{}", lambda yarn: yarn.code),
    ("{}: seller", lambda yarn: yarn.supplier),
    ("{}: country", lambda yarn: yarn.country),
    ("{}: count", lambda yarn: yarn.count),
    ("{}: process", lambda yarn: yarn.process),
    ("{}: standing", lambda yarn: yarn.state),
    ("{}: valid until", lambda yarn: yarn.valid_until.isoformat() if yarn.valid_until else ""),
)
Words = tuple[str, tuple[str, ...]]


@dataclass
class ClothSheet:
    """Where everything of a cloth stands on its sheet; rows count from 1 as in formulas."""

    pack: Pack
    cloth: Cloth
    rows: ClothRows
    name: str

    @cached_property
    def top(self) -> tuple[str, ...]:
        """Lines above the table."""
        facts = " · ".join(f"{fact.label} {fact.text}" for fact in self.cloth.facts)
        change = f"Change: {self.cloth.change}" if self.cloth.change else ""
        return tuple(each for each in (self.cloth.title, change, facts) if each)

    @cached_property
    def about_pairs(self) -> tuple[Words, ...]:
        """Rows of words about the pairs, without those that say nothing of any."""
        told: list[Words] = [
            ("Combination", tuple(pair.combination for pair in self.cloth.pairs)),
            ("Standing", tuple(pair.state for pair in self.cloth.pairs)),
        ]
        for slot in self.rows.slots:
            yarns = [_yarn(pair, slot) for pair in self.cloth.pairs]
            told += [
                (
                    words.format(slot_words(slot)),
                    tuple(says(yarn) if yarn else "" for yarn in yarns),
                )
                for words, says in _ABOUT_YARNS
            ]
            units = (self.rows.quoted_in(at, slot) for at in range(len(yarns)))
            told.append((f"{slot_words(slot)}: quoted in", tuple(units)))
        return tuple((label, texts) for label, texts in told if set(texts) - {"", POSSIBLE})

    @property
    def head(self) -> int:
        """The row of column headings."""
        return len(self.top) + 1

    @cached_property
    def row_of(self) -> dict[str, int]:
        """Figure -> its row."""
        found, at = {}, self.head + len(self.about_pairs)
        for _, rows in self.rows.grouped:
            at += 1
            for row in rows:
                at += 1
                found[row.key] = at
        return found

    @property
    def last_row(self) -> int:
        """The last row of the figures."""
        return max(self.row_of.values(), default=self.head)

    @property
    def cell_range(self) -> str:
        """The cells of the figures, such as `C5:V120`."""
        last = _column(len(self.cloth.pairs) - 1)
        return f"{_column(0)}{self.head + 1}:{last}{self.last_row}"

    def cell(self, pair: int, key: str) -> str:
        """A figure's cell, such as `D45`."""
        return f"{_column(pair)}{self.row_of[key]}"

    def reference(self, pair: int, key: str) -> tuple[str, float] | None:
        """A formula that shows a figure on another sheet, with its value."""
        if key not in self.row_of:
            return None
        value = self.rows.value(pair, self.rows.by_key[key])
        return None if value is None else (f"={quoted(self.name)}!{self.cell(pair, key)}", value)

    def formula(self, pair: int, row: FigureRow) -> str:
        """The formula of a pair's figure; "" when the pair lacks it."""
        fed = row.fed[pair]
        if fed is None:
            return ""
        if isinstance(fed, InputRow):
            return f"={fed.name}"
        lines, inputs = self.rows.lines[pair], self.rows.inputs[pair]
        cells = {
            argument: self.cell(pair, source) if source in lines else inputs[source].name
            for argument, source in fed.feeds
        }
        return "=" + cells_of(self.pack.formulas[fed.formula].cells).format_map(cells)


def cells_of(formula: str) -> str:
    """A formula in the names of the file format, which marks functions that came later."""
    return formula.replace("POISSON.DIST(", "_xlfn.POISSON.DIST(")


def shown_value(value: float) -> float | str:
    """A result as it is stored beside its formula."""
    return value if math.isfinite(value) else "#NUM!"


def write_cloth(sheet: ClothSheet, page: Any, styles: Styles) -> None:
    """The sheet's cells, row by row. page: an empty sheet of the workbook"""
    pairs = sheet.cloth.pairs
    after = FIRST_PAIR + len(pairs)
    _set_up(sheet, page, after)
    page.set_row(0, 24)
    for at, text in enumerate(sheet.top):
        page.write_string(at, 0, plain(text), styles.title if at == 0 else styles.faint)
    at = sheet.head - 1
    page.write_string(at, 0, "Figure", styles.head)
    page.write_string(at, 1, "Unit", styles.head_behind)
    for place, pair in enumerate(pairs, FIRST_PAIR):
        page.write_string(at, place, plain(pair.label), styles.head_of_numbers)
    page.write_string(at, after, "Formula in words", styles.head_behind)
    page.write_string(at, after + 1, "Source of the formula", styles.head_behind)
    for label, texts in sheet.about_pairs:
        at += 1
        make_room(page, at, *((text, _PAIR_WIDE) for text in texts))
        page.write_string(at, 0, plain(label), styles.faint_label)
        page.write_blank(at, 1, None, styles.unit)
        for place, text in enumerate(texts, FIRST_PAIR):
            page.write_string(at, place, plain(text), styles.of_pair)
    for heading, rows in sheet.rows.grouped:
        at += 1
        write_band(page, styles, at, heading, after + 2)
        for row in rows:
            at += 1
            _write_figure(sheet, row, page, styles, at)
    _write_matrix(sheet, page, styles, at + 2)
    last = at + 3 + 2 * len(sheet.cloth.cells) if sheet.cloth.cells else at
    page.print_area(0, 0, last, after - 1)


def _write_figure(sheet: ClothSheet, row: FigureRow, page: Any, styles: Styles, at: int) -> None:
    currency = sheet.pack.basis.currency
    strong = row.strong or row.key == sheet.pack.headline
    make_room(page, at, (row.label, _WIDE))
    page.write_string(at, 0, plain(row.label), styles.strong_label if strong else styles.label)
    unit = unit_text(row.unit, currency, sheet.rows.quote_currency(row))
    page.write_string(at, 1, plain(unit), styles.unit)
    style = styles.result(row.unit, strong=strong)
    for pair in range(len(row.fed)):
        value = sheet.rows.value(pair, row)
        if value is None:
            page.write_blank(at, FIRST_PAIR + pair, None, style)
        else:
            formula = sheet.formula(pair, row)
            page.write_formula(at, FIRST_PAIR + pair, formula, style, shown_value(value))
    after = FIRST_PAIR + len(row.fed)
    for place, text in enumerate(sheet.rows.in_words(row), after):
        page.write_string(at, place, plain(text), styles.source)


def _write_matrix(sheet: ClothSheet, page: Any, styles: Styles, at: int) -> None:
    """The best pair of each spinning combination, warp down and filling across."""
    cells, key = sheet.cloth.cells, sheet.pack.headline
    if not cells:
        return
    wide = FIRST_PAIR + max(len(sheet.cloth.pairs), len(cells[0])) + 2
    title = "Combinations: the best pair of each as frozen, warp down, filling across"
    write_band(page, styles, at, title, wide)
    for place, cell in enumerate(cells[0], FIRST_PAIR):
        page.write_string(at + 1, place, f"{plain(cell.filling)} filling", styles.head_of_numbers)
    for down, row in enumerate(cells):
        line = at + 2 + 2 * down
        page.write_string(line, 0, f"{plain(row[0].warp)} warp", styles.strong)
        for place, cell in enumerate(row, FIRST_PAIR):
            _write_best(sheet, cell, page, styles, line, place, key)
        for place, cell in enumerate(row, FIRST_PAIR):
            page.write_string(line + 1, place, plain(cell.best or "none"), styles.of_pair)
        reasons = "; ".join(_why_none(row))
        page.write_string(line + 1, FIRST_PAIR + len(row), plain(reasons), styles.faint)


def _write_best(
    sheet: ClothSheet, cell: FrozenCell, page: Any, styles: Styles, at: int, place: int, key: str
) -> None:
    found = [pair for pair, each in enumerate(sheet.cloth.pairs) if each.key == cell.best]
    if not found or key not in sheet.row_of:
        return
    row = sheet.rows.by_key[key]
    value = sheet.rows.value(found[0], row)
    if value is not None:
        style = styles.result(row.unit, strong=True)
        page.write_formula(at, place, f"={sheet.cell(found[0], key)}", style, shown_value(value))


def write_band(page: Any, styles: Styles, at: int, text: str, wide: int) -> None:
    """A heading across the table."""
    page.write_string(at, 0, text, styles.group)
    for place in range(1, wide):
        page.write_blank(at, place, None, styles.group)


def _why_none(row: tuple[FrozenCell, ...]) -> Iterator[str]:
    for cell in row:
        if not cell.best and cell.reason:
            yield f"{cell.filling} filling: {cell.reason}"


def _set_up(sheet: ClothSheet, page: Any, after: int) -> None:
    """Columns, frozen panes and pages. after: the first column behind the pairs"""
    page.repeat_rows(sheet.head - 1)
    page.repeat_columns(0, FIRST_PAIR - 1)
    page.freeze_panes(sheet.head, FIRST_PAIR)
    page.fit_to_pages(max(1, math.ceil((after - FIRST_PAIR) / PAIRS_ON_A_PAGE)), 0)
    if sheet.cloth.pairs:
        # pairs come by different ways, so their formulas differ; no program need point it out
        page.ignore_errors({"formula_differs": sheet.cell_range})
    page.set_column(0, 0, _WIDE)
    page.set_column(1, 1, _UNIT_WIDE)
    page.set_column(FIRST_PAIR, after - 1, _PAIR_WIDE)
    page.set_column(after, after, 90)
    page.set_column(after + 1, after + 1, 60)


def _yarn(pair: FrozenPair, slot: str) -> FrozenYarn | None:
    return next((yarn for yarn in pair.yarns if yarn.slot == slot), None)


def _column(pair: int) -> str:
    return str(xl_col_to_name(FIRST_PAIR + pair))
