"""Getting offers in: receive, match columns, read, answer, store, take back.

Nothing becomes an offer before a person has seen the lines. Storing is one transaction: all lines
that were not left out, or none.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from server.actions import intake_lines
from server.actions.intake_lines import (
    Context,
    first_words,
    judged,
    line_as_read,
    usual_decision,
)
from server.actions.jobs import Job, start_job
from server.actions.nouns import FieldError, Refused
from server.core.errors import BadValue, shorten
from server.core.quote_draft import Habits
from server.core.quote_reading import LONGEST_QUOTE, Reading, read_quote
from server.core.quote_row import CellText, Layout, read_row
from server.intake.sheets import EncodingUnclear, look_into, rows_of
from server.store import intakes
from server.store.intakes import Intake, Line
from server.store.offer_writer import (
    NewOffer,
    OfferWriter,
    later_offers,
    remove_offers_of,
    taken_codes,
)
from server.store.session import Engine, reading, writing

MOST_LINES = 20_000
SOON = 300  # lines that are worked through before answering


def key_of(intake_id: int) -> str:
    """Name of the job that works on an intake."""
    return f"intake {intake_id}"


def receive_text(
    engine: Engine, text: str, *, supplier: str, received_on: date, table: bool, person_id: int
) -> int:
    """Keep what was pasted. table: rows with a heading, else one offer a line. Gives its id."""
    lines = [line for line in text.splitlines() if line.strip()]
    if not lines:
        raise refused("text", "Text", "is empty; paste the lines of the offers")
    if len(lines) > MOST_LINES:
        raise refused("text", "Text", f"has {len(lines)} lines; at most {MOST_LINES} at a time")
    return _receive(engine, "pasted text", text.encode(), "text" if table else "lines",
                    supplier, received_on, person_id)  # fmt: skip


def receive_file(
    engine: Engine, name: str, content: bytes, *, supplier: str, received_on: date, person_id: int
) -> int:
    """Keep an uploaded file, once it is known that it can be opened. Gives the intake's id.

    Raises Unreadable, with what the file seems to be and what to do.
    """
    try:
        kind = look_into(name, content).kind
    except EncodingUnclear:
        kind = "text"  # which encoding is asked with the columns
    return _receive(engine, name, content, kind, supplier, received_on, person_id)


def _receive(
    engine: Engine,
    name: str,
    content: bytes,
    kind: str,
    supplier: str,
    received_on: date,
    person_id: int,
) -> int:
    with writing(engine, person_id) as session:
        if supplier:
            intakes.supplier_id(session, supplier)
        file_id = intakes.add_file(session, name, content)
        return intakes.add_intake(
            session, supplier=supplier, file_id=file_id, kind=kind, received_on=received_on
        )


def one_intake(engine: Engine, intake_id: int) -> Intake:
    """An intake. Raises NotFound."""
    with reading(engine) as session:
        return intakes.one(session, intake_id)


def newest_intakes(engine: Engine, before: int | None = None, most: int = 50) -> list[Intake]:
    """Intakes, the newest first."""
    with reading(engine) as session:
        return intakes.newest(session, before=before, most=most)


def original(engine: Engine, intake_id: int) -> tuple[str, bytes]:
    """Name and bytes as received."""
    with reading(engine) as session:
        return intakes.content_of(session, intake_id)


def read_lines(engine: Engine, intake_id: int, person_id: int) -> Job:
    """Read every line and put it beside the others; long files go on in the background."""
    intake = one_intake(engine, intake_id)
    must_be(intake.state, "new", "read")
    total = _line_count(engine, intake)
    if total > MOST_LINES:
        raise refused("file", "File", f"has {total} rows; at most {MOST_LINES} at a time")

    def work(job: Job) -> None:
        _read_into_store(engine, intake, person_id, job)

    return start_job(engine, key_of(intake_id), "reading", total, work, inline=total <= SOON)


def _line_count(engine: Engine, intake: Intake) -> int:
    name, content = original(engine, intake.id)
    if intake.kind == "lines":
        return sum(1 for line in content.decode().splitlines() if line.strip())
    opened = look_into(name, content, encoding=intake.encoding, separator=intake.separator)
    rows = next((each.rows for each in opened.sheets if each.name == intake.sheet), 0)
    return max(0, rows - intake.heading_line)


def _read_into_store(engine: Engine, intake: Intake, person_id: int, job: Job) -> None:
    """Lines are worked out first and wait on disk; the transaction that keeps them is short."""
    with tempfile.TemporaryFile("w+", encoding="utf-8") as spool:
        with reading(engine) as session:
            context = context_of(session, intake)
            for number, made in _readings(engine, session, intake, context):
                spool.write(json.dumps(line_as_read(number, made, context)) + "\n")
                job.done += 1
        spool.seek(0)
        with writing(engine, person_id) as session:
            row = intakes.intake_row(session, intake.id)
            must_be(row.state, "new", "read")
            intakes.replace_lines(
                session, intake.id, _in_pieces(json.loads(line) for line in spool)
            )
            row.state = "read"


def _in_pieces(rows: Iterator[Any]) -> Iterator[list[Any]]:
    piece: list[Any] = []
    for row in rows:
        piece.append(row)
        if len(piece) == intakes.PIECE:
            yield piece
            piece = []
    yield piece


def context_of(session: Any, intake: Intake) -> Context:
    """What the lines of an intake are held against."""
    suppliers = intakes.suppliers(session)
    return Context(intake, suppliers, first_words(suppliers), _Current(session))


class _Current(dict[str, dict[tuple[str, ...], list[intakes.Standing]]]):
    """Current offers of a supplier by yarn, read when the first line asks for them."""

    def __init__(self, session: Any) -> None:
        super().__init__()
        self.session = session

    def get(self, supplier: str, default: Any = None) -> Any:
        """The offers of a supplier."""
        if supplier not in self:
            met: dict[tuple[str, ...], list[intakes.Standing]] = {}
            for each in intakes.current_offers(self.session, [supplier]):
                met.setdefault(each.yarn, []).append(each)
            self[supplier] = met
        return self[supplier]


def _readings(
    engine: Engine, session: Any, intake: Intake, context: Context
) -> Iterator[tuple[int, Reading]]:
    name, content = intakes.content_of(session, intake.id)
    known = [intake.supplier] if intake.supplier else list(context.suppliers)
    likely = intakes.likely_answers(session, known)
    own = Habits(intake.date_order, intake.decimal_mark, likely.get(intake.supplier, {}))
    if intake.kind == "lines":
        for number, line in enumerate(content.decode().splitlines(), 1):
            if line.strip():
                habits = own
                if not intake.supplier:
                    named = intake_lines.supplier_in(line, context)
                    habits = Habits(own.date_order, own.decimal_mark, likely.get(named, {}))
                yield (
                    number,
                    read_quote(
                        line.strip()[:LONGEST_QUOTE], received_on=intake.received_on, habits=habits
                    ),
                )
        return
    headings: Sequence[str] = ()
    layout = Layout.of(intake.columns, headings)
    for number, cells in rows_of(
        name, content, sheet=intake.sheet, encoding=intake.encoding, separator=intake.separator
    ):
        if number <= intake.heading_line:
            if number == intake.heading_line:
                headings = [cell.text for cell in cells]
                layout = Layout.of(intake.columns, headings)
            continue
        texts = [CellText(cell.text, cell.kind) for cell in cells]
        made = read_row(texts, layout, received_on=intake.received_on, habits=own)
        if made.pieces:
            yield number, made


def lines_page(
    engine: Engine, intake_id: int, *, outcome: str = "", after: int = 0, most: int = 50
) -> tuple[list[Line], dict[str, int]]:
    """Some lines of an intake in their order, and how many lines there are of each kind."""
    with reading(engine) as session:
        lines = intakes.lines_of(session, intake_id, outcome=outcome, after=after, most=most)
        return lines, intakes.counts_of(session, intake_id)


@dataclass(frozen=True, slots=True)
class Said:
    """What a person says about the lines of an intake.

    values: line -> field -> value; decisions: line -> decision
    for_all: field -> value for every line that does not say it
    """

    values: Mapping[int, Mapping[str, str]]
    decisions: Mapping[int, str]
    for_all: Mapping[str, str]


def answer(engine: Engine, intake_id: int, said: Said, person_id: int) -> None:
    """Take answers and decisions; the lines concerned are judged anew. Raises Refused."""
    for decision in said.decisions.values():
        if decision not in ("new", "replace", "keep", "skip"):
            raise refused("decision", "Decision", f"“{shorten(decision)}” is none of the choices")
    with writing(engine, person_id) as session:
        row = intakes.intake_row(session, intake_id)
        must_be(row.state, "read")
        if said.for_all:
            row.answers = {**row.answers, **said.for_all}
            session.flush()
        context = context_of(session, intakes.one(session, intake_id))
        if said.for_all:
            for piece in intakes.all_lines(session, intake_id):
                intakes.update_lines(
                    session, [_judged_again(each, said, context) for each in piece]
                )
            return
        wanted = sorted({*said.values, *said.decisions})
        lines = [intakes.line_of(session, intake_id, number) for number in wanted]
        intakes.update_lines(
            session, [_judged_again(line, said, context) for line in lines if line is not None]
        )


def _judged_again(line: Line, said: Said, context: Context) -> dict[str, Any]:
    given = {**line.values, **said.values.get(line.line, {})}
    questions = [list(question) for question in line.questions]
    for question in questions:
        question[4] = said.values.get(line.line, {}).get(question[0], question[4])
    decided = "" if line.decision == usual_decision(line.likeness, line.outcome) else line.decision
    chosen = said.decisions.get(line.line, "")
    if chosen != line.decision:  # a form sends every choice back, also those nobody touched
        decided = chosen or decided
    return {"id": line.id, **judged(line.line, line.text, given, questions, context, decided)}


def store_intake(
    engine: Engine, intake_id: int, person_id: int, *, leave_out_faulty: bool = False
) -> Job:
    """Make offers of the lines, all in one transaction; long ones go on in the background."""
    with reading(engine) as session:
        intake = intakes.one(session, intake_id)
        counts = intakes.counts_of(session, intake_id)
        total = intakes.lines_at(session, intake_id)
    must_be(intake.state, "read")
    if counts.get("faulty") and not leave_out_faulty:
        raise refused(
            "faulty", "Faulty lines",
            f"{_lines(counts['faulty'])} no offer yet; answer what is asked, or tick that faulty "
            "lines are left out. Nothing was stored.",
        )  # fmt: skip

    def work(job: Job) -> None:
        _store(engine, intake_id, person_id, job)

    return start_job(engine, key_of(intake_id), "storing", total, work, inline=total <= SOON)


def _store(engine: Engine, intake_id: int, person_id: int, job: Job) -> None:
    with writing(engine, person_id) as session:
        row = intakes.intake_row(session, intake_id)
        must_be(row.state, "read")
        row.state = "stored"
        context = context_of(session, intakes.one(session, intake_id))
        writer = OfferWriter(session)
        for piece in intakes.all_lines(session, intake_id):
            wanted = [
                line for line in piece if line.outcome != "faulty" and line.decision != "skip"
            ]
            offers = _new_offers(session, intake_id, wanted, context)
            ids = writer.write(offers)
            intakes.update_lines(
                session,
                [
                    {"id": line.id, "offer_id": offer_id}
                    for line, offer_id in zip(wanted, ids, strict=True)
                ],
            )
            job.done += len(piece)


def _new_offers(
    session: Any, intake_id: int, lines: Sequence[Line], context: Context
) -> list[NewOffer]:
    """Offers of some lines. Raises BadValue when an earlier offer was replaced meanwhile."""
    own = {line.line: line.values.get("code", "") for line in lines}
    taken = taken_codes(session, [code for code in own.values() if code])
    replaced = later_offers(session, [line.earlier for line in lines if line.decision == "replace"])
    offers, codes = [], set(taken)
    for line in lines:
        given = dict(line.values)
        if own[line.line] in codes:
            given["notes"] = f"Reference of the seller: {given.pop('code')}"
        entry = intake_lines.typed_entry(line.line, line.text, given, context)
        codes.add(entry["code"])
        if line.decision == "replace":
            if line.earlier in replaced:
                raise BadValue(
                    f"Line {line.line}: offer {line.earlier} was replaced by "
                    f"{replaced[line.earlier]} meanwhile; nothing was stored.",
                    field="decision",
                    value=line.line,
                    remedy="Read the lines again, or keep both.",
                )
            entry["replaces"] = line.earlier
        offers.append(
            NewOffer(entry, intake_lines.question_rows(line.questions), intake_id, line.line)
        )
    return offers


def undo_intake(engine: Engine, intake_id: int, person_id: int) -> int:
    """Take back all offers of an intake; gives how many. The lines and the file stay.

    Raises BadValue when one of them was changed, replaced or used since.
    """
    with writing(engine, person_id) as session:
        row = intakes.intake_row(session, intake_id)
        must_be(row.state, "stored")
        row.state = "undone"
        return remove_offers_of(session, intake_id)


def reopen_intake(engine: Engine, intake_id: int, person_id: int) -> Job:
    """Read the lines of an undone intake again, to store it another way."""
    with writing(engine, person_id) as session:
        row = intakes.intake_row(session, intake_id)
        must_be(row.state, "undone")
        row.state = "read"
    return read_lines(engine, intake_id, person_id)


def _lines(count: int) -> str:
    return "1 line is" if count == 1 else f"{count} lines are"


def must_be(state: str, *allowed: str) -> None:
    """Raises BadValue when an intake does not stand where this can be done."""
    if state not in allowed:
        raise BadValue(
            f"This intake is {state}; that can be done only while it is {' or '.join(allowed)}.",
            field="state",
            value=state,
            remedy="Open it again to see where it stands.",
        )


def refused(field: str, label: str, message: str) -> Refused:
    """A refusal of one field."""
    return Refused([FieldError(field, label, message)])
