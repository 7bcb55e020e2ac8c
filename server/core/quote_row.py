"""Reading one row of a supplier's sheet by what its columns hold.

Numbers keep their digits; a text cell is read by the same recognisers as an offer line.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from functools import lru_cache

from server.core.headings import IGNORED, QUOTE, says_of, scale_of
from server.core.questions import Question
from server.core.quote_delivery import read_delivery
from server.core.quote_draft import Draft, Habits, Piece
from server.core.quote_money import likely_prices
from server.core.quote_numbers import DAY, NUMBER, days, readings
from server.core.quote_price import read_price
from server.core.quote_quantities import read_quantities
from server.core.quote_reading import Reading, language_of, read_quote
from server.core.quote_terms import read_days_and_payment
from server.core.quote_yarn import read_core, read_yarn

_DATES = ("quoted_on", "valid_until", "tested_on")
_WORDS = ("supplier", "code", "place", "ships_from", "description", "notes", "test_method",
          "test_lot")  # fmt: skip
_YARN = ("count", "count_system", "count_basis", "spinning", "preparation", "twist", "effect",
         "fibre_mix")  # fmt: skip

_SENSIBLE = {
    "moq_tonnes": (0.1, 1000.0),
    "capacity_tonnes": (0.5, 100_000.0),
    "lead_days": (1.0, 400.0),
    "count": (0.5, 400.0),
    **{f"break{place}_from_tonnes": (1.0, 2000.0) for place in (1, 2, 3)},
}
"""Where the figures of a field lie [unit of the field]; only to tell 18,000 kg from 18.000 kg."""


@dataclass(frozen=True)
class Layout:
    """How the rows of a sheet are read.

    columns: number of a column, from 0 -> field it holds
    headings: the headings as they stand
    decimal_mark, date_order: of the whole sheet; "" when each cell tells for itself
    says, scales: what the headings settle for every line, and their units as factors
    """

    columns: Mapping[int, str]
    headings: Sequence[str]
    decimal_mark: str = ""
    date_order: str = ""
    says: Mapping[str, str] = field(default_factory=dict)
    scales: Mapping[int, str] = field(default_factory=dict)

    @classmethod
    def of(
        cls,
        columns: Mapping[int, str],
        headings: Sequence[str],
        *,
        decimal_mark: str = "",
        date_order: str = "",
    ) -> Layout:
        """A layout with what its headings settle for every line."""
        says: dict[str, str] = {}
        scales: dict[int, str] = {}
        tidy = [" ".join(heading.split()) for heading in headings]
        for number, name in columns.items():
            if number < len(tidy):
                says |= says_of(name, tidy[number])
                scales[number] = scale_of(name, tidy[number])
        return cls(columns, tidy, decimal_mark, date_order, says, scales)


@dataclass(frozen=True, slots=True)
class CellText:
    """A cell: its text, and whether the sheet holds it as a number or a day."""

    text: str
    kind: str = "text"


def read_row(
    cells: Sequence[CellText], layout: Layout, *, received_on: date, habits: Habits
) -> Reading:
    """Read one row.

    cells: from the first column on
    received_on: the day the sheet came in
    The text of the reading is every filled cell behind its heading.
    """
    text, spans = _in_words(cells, layout)
    values: dict[str, str] = {}
    questions: dict[str, Question] = {}
    pieces: list[Piece] = []
    late: dict[str, str] = dict(layout.says)
    habit = (
        received_on,
        layout.date_order or habits.date_order,
        layout.decimal_mark or habits.decimal_mark,
        tuple(sorted(habits.likely.items())),
        (layout.says.get("currency", ""), layout.says.get("price_unit", "")),
    )
    for number, name in layout.columns.items():
        cell = cells[number] if number < len(cells) else CellText("", "blank")
        if not cell.text.strip():
            continue
        if name == IGNORED:
            pieces.append(Piece(*spans[number], "", "", "left out"))
            continue
        scale = layout.scales.get(number, "1")
        met, asked = _read_cell(name, cell.text.strip(), cell.kind, scale, *habit)
        if name == QUOTE:
            late = {**met, **late}
            for question in asked:
                questions.setdefault(question.field, question)
        else:
            values |= {key: value for key, value in met.items() if key not in values or key == name}
            questions |= {question.field: question for question in asked}
        pieces.append(Piece(*spans[number], name, met.get(name, ""), _taken_for(met, asked)))
    for key, value in late.items():
        values.setdefault(key, value)
    open_ones = tuple(
        question
        for question in questions.values()
        if values.get(question.field, "unknown") == "unknown"
    )
    return Reading(
        text, tuple(sorted(pieces, key=lambda piece: piece.start)), values, open_ones, ()
    )


def _in_words(cells: Sequence[CellText], layout: Layout) -> tuple[str, dict[int, tuple[int, int]]]:
    """The row as one text, and where each cell stands in it."""
    text, spans = "", {}
    for number, cell in enumerate(cells):
        shown = " ".join(cell.text.split())
        if not shown:
            continue
        heading = layout.headings[number] if number < len(layout.headings) else ""
        text += ("; " if text else "") + (f"{heading}: " if heading else "")
        spans[number] = (len(text), len(text) + len(shown))
        text += shown
    return text, spans


def _taken_for(met: Mapping[str, str], asked: Sequence[Question]) -> str:
    told = [f"{name.replace('_', ' ')} {value}" for name, value in met.items()]
    return (
        "; ".join([*told, *(f"a question: {each.sentence}" for each in asked)]) or "not understood"
    )


@lru_cache(maxsize=4096)
def _read_cell(
    name: str,
    text: str,
    kind: str,
    scale: str,
    received_on: date,
    date_order: str,
    decimal_mark: str,
    likely: tuple[tuple[str, str], ...],
    money: tuple[str, str],
) -> tuple[dict[str, str], tuple[Question, ...]]:
    """Fields and questions of one cell. Sheets repeat their words, so answers are kept."""
    habits = Habits(date_order, decimal_mark, dict(likely))
    if name == QUOTE:
        reading = read_quote(text, received_on=received_on, habits=habits)
        words = "".join(sign for sign in text if sign not in "<>" and ord(sign) >= 32)
        return {"description": words[:300], **reading.values}, reading.questions
    if name in _WORDS:
        return {name: text}, ()
    if name in _DATES:
        return _day(name, text, kind, received_on, habits)
    if kind == "number" or re.fullmatch(rf"{NUMBER}\s*%?", text):
        return _number(name, text.rstrip(" %"), kind, scale, habits, money)
    draft = Draft(text, received_on, habits)
    _by_field(name, draft)
    met = {key: value for key, value in draft.values.items() if key not in draft.questions}
    if name not in met and name not in draft.questions and name not in ("term", "spinning"):
        met[name] = text  # the entry says what is wrong with it
    return met, tuple(draft.questions.values())


def _by_field(name: str, draft: Draft) -> None:
    """The recognisers of one column."""
    language = language_of(draft.text)
    if name in _YARN or name.startswith(("core", "slub")):
        read_core(draft)
        read_yarn(draft, language)
        draft.questions.pop("count_basis", None)
        if draft.values.get("count_basis") == "unknown":
            draft.values.pop("count_basis")
    elif name == "price" or name.endswith("_price"):
        read_price(draft, language)
        for said in ("currency", "price_unit"):
            if said in draft.questions and not re.search(r"[a-z$€£¥₹₺]", draft.folded):
                draft.questions.pop(said)
        if name != "price":
            draft.values = {name: draft.values.get("price", draft.text)}
            draft.questions.clear()
    elif name == "currency":
        probe = Draft(f"{draft.text} 2.00/kg", draft.received_on, draft.habits)
        read_price(probe, language)
        draft.values = {k: v for k, v in probe.values.items() if k == "currency"}
        draft.questions = {k: v for k, v in probe.questions.items() if k == "currency"}
    elif name == "price_unit":
        probe = Draft(f"USD 2.00/{draft.text}", draft.received_on, draft.habits)
        read_price(probe, language)
        draft.values = {k: v for k, v in probe.values.items() if k == "price_unit"}
        draft.questions = {k: v for k, v in probe.questions.items() if k == "price_unit"}
    elif name == "term":
        read_delivery(draft)
    elif name in ("payment", "lead_days"):
        read_days_and_payment(draft)
    else:
        read_quantities(draft)


def _day(
    name: str, text: str, kind: str, received_on: date, habits: Habits
) -> tuple[dict[str, str], tuple[Question, ...]]:
    if kind == "date":
        return {name: text[:10]}, ()
    draft = Draft(text, received_on, habits)
    match = draft.first(DAY)
    met = days(match[0], received_on, habits.date_order) if match else ()
    if len(met) == 1:
        return {name: met[0].isoformat()}, ()
    if not met:
        return {name: text}, ()
    choices = tuple((day.isoformat(), f"{day.day} {day:%B %Y}") for day in met)
    question = Question(name, f"“{text}” can be two days. Ask: which one is meant?", choices)
    return {}, (question,)


def _number(
    name: str, text: str, kind: str, scale: str, habits: Habits, money: tuple[str, str]
) -> tuple[dict[str, str], tuple[Question, ...]]:
    figures = (text,) if kind == "number" else readings(text, habits.decimal_mark)
    if len(figures) > 1:
        low, high = _SENSIBLE.get(name, (0.0, 100.0))
        near = [each for each in figures if low <= float(each) * float(scale) <= high]
        if name == "price" or name.endswith("_price"):
            near = likely_prices(figures, money[:1], money[1:]) if all(money) else []
        if len(near) != 1:
            question = Question(
                name,
                f"“{text}” can be {figures[0]} or {figures[1]}. Which one is meant?",
                tuple((each, each) for each in figures),
            )
            return {}, (question,)
        figures = tuple(near)
    if scale == "1":
        return {name: figures[0]}, ()
    scaled = round(Decimal(figures[0]) * Decimal(scale), 4)
    return {name: f"{scaled.normalize():f}"}, ()


def marks_of(columns: Mapping[int, Sequence[str]]) -> str:
    """The decimal mark that the figures of a sheet agree on; "" when they do not tell.

    columns: number of a column -> texts of its cells
    """
    met = set()
    for texts in columns.values():
        for text in texts:
            figure = text.strip()
            if re.fullmatch(r"\d+[.,]\d{1,2}|\d+[.,]\d{4,}|0[.,]\d+", figure):
                met.add("," if "," in figure else ".")
            elif both := re.fullmatch(r"\d{1,3}([.,])\d{3}([.,])\d+", figure):
                met.add(both[2])
    return met.pop() if len(met) == 1 else ""


def date_order_of(texts: Sequence[str]) -> str:
    """The order of day and month that the days of a sheet agree on; "" when they do not tell."""
    met = set()
    for text in texts:
        match = re.fullmatch(r"(\d{1,2})[./-](\d{1,2})[./-]\d{2,4}", text.strip())
        if match and int(match[1]) > 12:
            met.add("DMY")
        elif match and int(match[2]) > 12:
            met.add("MDY")
    return met.pop() if len(met) == 1 else ""
