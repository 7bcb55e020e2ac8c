"""The lines of an intake as they are looked at: the seller's text with what each piece was taken
for, the questions, and what will be done."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fastapi import Request

from server.actions import intakes as actions
from server.actions.intake_lines import MUST_SAY, decisions_for, not_said
from server.actions.intakes import Said
from server.actions.nouns import NOUNS, FieldError, unit_of
from server.core.questions import NOT_SAID
from server.export import cautions
from server.export.csv_file import as_csv
from server.request import house_of
from server.store.intakes import OUTCOMES, Intake, Line
from server.store.session import Engine
from server.web import addresses

LINES_A_PAGE = 20
OFFERS = NOUNS["offers"]
_LABELS = {name: info.title or name for name, info in OFFERS.fields.items()}
_DECISIONS = {
    "new": "store as a new offer",
    "replace": "replace the earlier offer",
    "keep": "keep both",
    "skip": "leave this line out",
}
_LIKENESS = {
    "duplicate": "The same as offer",
    "re-quote": "Looks like a re-quote of offer",
    "older": "Older than offer",
}


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of the seller's text. taken_for: "" for words nobody took; asked: it is a question."""

    text: str
    taken_for: str
    asked: bool


@dataclass(frozen=True, slots=True)
class QuestionView:
    """A question with its choices. name, own, everyone: names of its inputs."""

    field: str
    label: str
    sentence: str
    choices: tuple[tuple[str, str], ...]
    unit: str
    answer: str
    name: str
    own: str
    everyone: str


@dataclass(frozen=True, slots=True)
class LineView:
    """One line. offer: the one it became, earlier: the one it repeats, each (code, href)."""

    number: int
    outcome: str
    supplier: str
    supplier_name: str
    stretches: tuple[Stretch, ...]
    facts: tuple[tuple[str, str], ...]
    questions: tuple[QuestionView, ...]
    not_said: tuple[str, ...]
    faults: tuple[tuple[str, str], ...]
    needed: tuple[tuple[str, str, str], ...]
    doubts: tuple[tuple[str, str], ...]
    likeness: str
    earlier: tuple[str, str] | None
    decision: str
    decision_name: str
    decisions: tuple[tuple[str, str], ...]
    extra_field: str
    extra_value: str
    offer: tuple[str, str] | None


@dataclass(frozen=True, slots=True)
class LinesPage:
    """Everything the template of an intake shows.

    counts: (outcome, how many, href); for_all: (name, label, unit, value, choices) of fields that
    lines leave unsaid
    """

    title: str
    number: int
    state: str
    name: str
    supplier: str
    received_on: str
    total: int
    counts: tuple[tuple[str, int, str, bool], ...]
    storing: int
    skipped: int
    replacing: int
    faulty: int
    suppliers: tuple[str, ...]
    lines: tuple[LineView, ...]
    for_all: tuple[tuple[str, str, str, str, tuple[tuple[str, str], ...]], ...]
    fields: tuple[tuple[str, str], ...]
    form_action: str
    next_href: str | None
    first_href: str | None
    columns_href: str | None
    errors: tuple[tuple[str, str, str], ...]
    cautions: tuple[str, ...]


def lines_view(
    request: Request, intake: Intake, suppliers: tuple[str, ...], errors: Sequence[FieldError]
) -> LinesPage:
    """The page of an intake whose lines were read."""
    query = request.query_params
    outcome = query.get("outcome", "") if query.get("outcome", "") in OUTCOMES else ""
    after = query.get("after", "")
    start = int(after) if after.isdecimal() and len(after) < 8 else 0
    lines, counts = actions.lines_page(
        house_of(request).engine, intake.id, outcome=outcome, after=start, most=LINES_A_PAGE + 1
    )
    shown, base = lines[:LINES_A_PAGE], f"/intake/{intake.id}"
    total = sum(counts.get(each, 0) for each in OUTCOMES)
    skipped, faulty = counts.get("skip", 0), counts.get("faulty", 0)
    open_state = intake.state == "read"
    return LinesPage(
        title=f"Intake {intake.id}",
        number=intake.id,
        state=intake.state,
        name=intake.name,
        supplier=intake.supplier,
        received_on=intake.received_on.isoformat(),
        total=total,
        counts=tuple(
            (
                each,
                counts.get(each, 0),
                addresses.with_query(base, {"outcome": each}),
                each == outcome,
            )
            for each in OUTCOMES
        ),
        storing=total - skipped - faulty,
        skipped=skipped,
        replacing=counts.get("replace", 0),
        faulty=faulty,
        suppliers=suppliers,
        lines=tuple(_line(each, open_state) for each in shown),
        for_all=_for_all(intake, shown) if open_state else (),
        fields=tuple(_LABELS.items()),
        form_action=addresses.with_query(
            f"{base}/lines", {"outcome": outcome, "after": str(start) if start else ""}
        ),
        next_href=addresses.with_query(base, {"outcome": outcome, "after": str(shown[-1].line)})
        if len(lines) > LINES_A_PAGE
        else None,
        first_href=addresses.with_query(base, {"outcome": outcome}) if start else None,
        columns_href=f"{base}/columns" if intake.kind != "lines" and open_state else None,
        errors=tuple((each.field, each.label, each.message) for each in errors),
        cautions=(cautions.TERMS, cautions.TESTS, cautions.ORIGIN),
    )


def _for_all(
    intake: Intake, lines: Sequence[Line]
) -> tuple[tuple[str, str, str, str, tuple[tuple[str, str], ...]], ...]:
    """Fields that lines of the page leave unsaid: one answer may hold for all of them."""
    wanted = dict.fromkeys(intake.answers)
    for line in lines:
        wanted |= dict.fromkeys(not_said(line.values, line.questions))
    return tuple(
        (
            f"all.{name}",
            _LABELS[name],
            NOT_SAID[name].unit,
            intake.answers.get(name, ""),
            NOT_SAID[name].choices,
        )
        for name in NOT_SAID
        if name in wanted
    )


def _line(line: Line, open_state: bool) -> LineView:
    missing = tuple(name for name in MUST_SAY if not line.values.get(name))
    return LineView(
        number=line.line,
        outcome=line.outcome,
        supplier=line.values.get("supplier", ""),
        supplier_name=f"a.{line.line}.supplier",
        stretches=_stretches(line),
        facts=_facts(line.values),
        questions=tuple(_question(line.line, each) for each in line.questions),
        not_said=tuple(_LABELS[name] for name in not_said(line.values, line.questions)),
        faults=tuple((label, message) for _, label, message in line.faults),
        needed=tuple(
            (f"o.{line.line}.{name}", _LABELS[name], line.values.get(name, ""))
            for name in dict.fromkeys((*missing, *(fault[0] for fault in line.faults)))
            if name in _LABELS and name != "supplier"
        ),
        doubts=tuple((label, message) for _, label, message in line.doubts),
        likeness=_LIKENESS.get(line.likeness, ""),
        earlier=(line.earlier, addresses.offer_path(line.earlier)) if line.earlier else None,
        decision=line.decision,
        decision_name=f"d.{line.line}",
        decisions=_decisions(line),
        extra_field=f"xf.{line.line}",
        extra_value=f"xv.{line.line}",
        offer=_offer(line),
    )


def _offer(line: Line) -> tuple[str, str] | None:
    return (line.offer, addresses.offer_path(line.offer)) if line.offer else None


def _decisions(line: Line) -> tuple[tuple[str, str], ...]:
    return tuple((each, _DECISIONS[each]) for each in decisions_for(line.earlier))


def _facts(values: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """What will be stored, in the order of the form, units behind the figures."""
    return tuple(
        (_LABELS[name], f"{values[name]} {_unit(name)}".strip())
        for name in OFFERS.fields
        if values.get(name) and name not in ("code", "as_quoted", "supplier")
    )


def _unit(name: str) -> str:
    unit = unit_of(OFFERS.fields[name])
    return unit if unit in ("%", "d", "t", "den", "×", "cN/tex") else ""


def _stretches(line: Line) -> tuple[Stretch, ...]:
    found, at = [], 0
    for start, end, field, _, taken_for in line.pieces:
        if start > at:
            found.append(Stretch(line.text[at:start], "", False))
        asked = str(taken_for).startswith("a question")
        told = f"asked: {_LABELS.get(field, 'meaning').lower()}" if asked else str(taken_for)
        found.append(Stretch(line.text[start:end], told, asked or "asked" in told))
        at = end
    if at < len(line.text):
        found.append(Stretch(line.text[at:], "", False))
    return tuple(each for each in found if each.text)


def _question(number: int, question: Sequence[Any]) -> QuestionView:
    field, sentence, choices, unit, answer = question
    return QuestionView(
        field=field,
        label=_LABELS.get(field, field),
        sentence=sentence,
        choices=tuple((value, meaning) for value, meaning in choices),
        unit=unit,
        answer=answer,
        name=f"a.{number}.{field}",
        own=f"o.{number}.{field}",
        everyone=f"e.{number}.{field}",
    )


def said_of(fields: Mapping[str, str]) -> Said:
    """What a person typed on the page of lines."""
    values: dict[int, dict[str, str]] = {}
    decisions: dict[int, str] = {}
    for_all: dict[str, str] = {}
    for key, text in fields.items():
        kind, _, rest = key.partition(".")
        number, _, field = rest.partition(".")
        said = text.strip()
        if kind == "all" and said and rest in _LABELS:
            for_all[rest] = said
        if not number.isdecimal() or len(number) > 7:
            continue
        if kind == "d":
            decisions[int(number)] = said
        elif kind == "a" and said and field in _LABELS:
            values.setdefault(int(number), {}).setdefault(field, said)
        elif kind == "o" and said and field in _LABELS:
            values.setdefault(int(number), {})[field] = said
        elif kind == "xv" and said and fields.get(f"xf.{number}") in _LABELS:
            values.setdefault(int(number), {})[fields[f"xf.{number}"]] = said
    for key in fields:
        kind, _, rest = key.partition(".")
        number, _, field = rest.partition(".")
        if kind == "e" and number.isdecimal() and field in values.get(int(number), {}):
            for_all[field] = values[int(number)][field]
    return Said(values, decisions, for_all)


def faulty_csv(engine: Engine, intake_id: int) -> str:
    """The faulty lines as CSV: line, text, and what is wrong."""
    rows: list[list[Any]] = []
    after = 0
    while True:
        lines, _ = actions.lines_page(engine, intake_id, outcome="faulty", after=after, most=500)
        if not lines:
            break
        after = lines[-1].line
        rows += [
            [line.line, line.text, "; ".join(f"{label}: {why}" for _, label, why in line.faults)]
            for line in lines
        ]
    return as_csv(["line", "text", "what is wrong"], rows)
