"""Offers as they arrive, over JSON: receive, look at the lines, answer, store, take back."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Path, Query, Request
from pydantic import BaseModel, ConfigDict, Field
from starlette.concurrency import run_in_threadpool

from server.actions import intake_columns
from server.actions import intakes as actions
from server.actions.intake_lines import not_said
from server.actions.intakes import Said
from server.actions.jobs import forget_job, job_of
from server.request import house_of
from server.store.intakes import OUTCOMES, Intake, Line

router = APIRouter(prefix="/intakes", tags=["intake"])

Number = Annotated[int, Path(ge=1, le=2**31 - 1, description="Number of the intake")]
Short = Annotated[str, Field(max_length=200)]
Words = Annotated[str, Field(max_length=2000)]


class Pasted(BaseModel):
    """Lines as received, one offer each."""

    model_config = ConfigDict(extra="forbid")

    text: str = Field(max_length=1_500_000, description="The seller's words, one offer a line")
    received_on: date = Field(description="Day it came in, written 2026-03-12")
    supplier: str = Field(default="", max_length=200, description="Empty: each line names its own")


class Answers(BaseModel):
    """Answers by line number, decisions, and answers for every line that does not say a field."""

    model_config = ConfigDict(extra="forbid")

    values: dict[Short, dict[Short, Words]] = Field(
        default_factory=dict, max_length=1000, description="line -> offer field -> value"
    )
    decisions: dict[Short, Literal["new", "replace", "keep", "skip"]] = Field(
        default_factory=dict, max_length=1000, description="line -> what to do with it"
    )
    for_all: dict[Short, Words] = Field(
        default_factory=dict, max_length=60, description="offer field -> value"
    )


class Columns(BaseModel):
    """How the columns of a file are read. Columns count from 0."""

    model_config = ConfigDict(extra="forbid")

    columns: dict[Short, Short] = Field(max_length=200, description="column -> field, or quote")
    sheet: str = Field(default="", max_length=120)
    heading_line: int = Field(default=1, ge=0, le=20_000)
    encoding: str = Field(default="", max_length=40)
    separator: Literal["", ",", ";", "\t", "|"] = ""
    decimal_mark: Literal["", ".", ","] = ""
    date_order: Literal["", "DMY", "MDY", "YMD"] = ""
    for_all: dict[Short, Words] = Field(default_factory=dict, max_length=60)


class Store(BaseModel):
    """Whether faulty lines are left out; otherwise one of them keeps all out."""

    model_config = ConfigDict(extra="forbid")

    leave_out_faulty: bool = False


@router.get("")
def list_intakes(
    request: Request, before: Annotated[int | None, Query(ge=1, le=2**31 - 1)] = None
) -> list[dict[str, Any]]:
    """Intakes, the newest first, 50 at a time. before: only those with a smaller number."""
    found = actions.newest_intakes(house_of(request).engine, before)
    return [_intake(each) for each in found]


@router.post("", status_code=201)
def receive_lines(request: Request, pasted: Pasted) -> dict[str, Any]:
    """Read pasted lines. Nothing is stored as an offer yet."""
    house = house_of(request)
    number = actions.receive_text(
        house.engine, pasted.text, supplier=pasted.supplier, received_on=pasted.received_on,
        table=False, person_id=house.person_id,
    )  # fmt: skip
    actions.read_lines(house.engine, number, house.person_id)
    return _stand(request, number)


@router.put("/files/{name}", status_code=201)
async def receive_file(
    request: Request,
    name: Annotated[str, Path(max_length=200)],
    received_on: date,
    supplier: Annotated[str, Query(max_length=200)] = "",
) -> dict[str, Any]:
    """Receive a file, its bytes as the body; the proposed columns come back."""
    house = house_of(request)
    content = await request.body()

    def receive() -> dict[str, Any]:
        number = actions.receive_file(
            house.engine, name, content, supplier=supplier, received_on=received_on,
            person_id=house.person_id,
        )  # fmt: skip
        return _stand(request, number) | {"columns": _columns(request, number)}

    return await run_in_threadpool(receive)


def _columns(request: Request, number: int) -> list[dict[str, Any]]:
    matching = intake_columns.match_columns(house_of(request).engine, number)
    return [
        {
            "column": each.number,
            "heading": each.heading,
            "field": each.field,
            "samples": list(each.samples),
        }
        for each in matching.columns
    ]


@router.get("/{number}")
def one_intake(request: Request, number: Number) -> dict[str, Any]:
    """Where an intake stands, with the progress of the work on it."""
    return _stand(request, number)


@router.post("/{number}/columns")
def settle_columns(request: Request, number: Number, columns: Columns) -> dict[str, Any]:
    """Store how the file is read, and read its lines."""
    house = house_of(request)
    matching = intake_columns.match_columns(
        house.engine, number, sheet=columns.sheet, encoding=columns.encoding,
        separator=columns.separator, heading_line=columns.heading_line,
    )  # fmt: skip
    given = columns.model_dump() | {
        "columns": {int(key): field for key, field in columns.columns.items() if _whole(key)},
        "answers": columns.for_all,
        "headings": matching.headings,
        "sheet": matching.sheet,
    }
    intake_columns.settle_columns(house.engine, number, given, house.person_id)
    return _stand(request, number)


def _whole(text: str) -> bool:
    return text.isascii() and text.isdecimal() and len(text) < 7


@router.get("/{number}/lines")
def list_lines(
    request: Request,
    number: Number,
    outcome: Literal["", "accepted", "asked", "doubtful", "faulty"] = "",
    after: Annotated[int, Query(ge=0, le=10_000_000)] = 0,
) -> list[dict[str, Any]]:
    """Lines in their order, 50 at a time. after: number of the last line already seen."""
    engine = house_of(request).engine
    actions.one_intake(engine, number)
    lines, _ = actions.lines_page(engine, number, outcome=outcome, after=after)
    return [_line(each) for each in lines]


@router.post("/{number}/answers")
def answer_lines(request: Request, number: Number, answers: Answers) -> dict[str, Any]:
    """Take answers and decisions; the lines concerned are judged anew."""
    house = house_of(request)
    said = Said(
        {int(line): values for line, values in answers.values.items() if _whole(line)},
        {int(line): decision for line, decision in answers.decisions.items() if _whole(line)},
        answers.for_all,
    )
    actions.answer(house.engine, number, said, house.person_id)
    return _stand(request, number)


@router.post("/{number}/store")
def store_lines(request: Request, number: Number, store: Store) -> dict[str, Any]:
    """Make offers of the lines: all in one transaction, or none."""
    house = house_of(request)
    actions.store_intake(
        house.engine, number, house.person_id, leave_out_faulty=store.leave_out_faulty
    )
    return _stand(request, number)


@router.post("/{number}/undo")
def undo(request: Request, number: Number) -> dict[str, Any]:
    """Take back every offer of an intake."""
    house = house_of(request)
    actions.undo_intake(house.engine, number, house.person_id)
    return _stand(request, number)


def _stand(request: Request, number: int) -> dict[str, Any]:
    engine = house_of(request).engine
    job = job_of(engine, actions.key_of(number))
    intake = actions.one_intake(engine, number)
    _, counts = actions.lines_page(engine, number, most=1)
    work = None
    if job is not None:
        work = {"what": job.what, "done": job.done, "total": job.total, "error": job.error,
                "finished": job.finished}  # fmt: skip
        forget_job(engine, actions.key_of(number))
    return _intake(intake) | {
        "lines": {outcome: counts.get(outcome, 0) for outcome in OUTCOMES},
        "work": work,
    }


def _intake(intake: Intake) -> dict[str, Any]:
    return {
        "intake": intake.id,
        "supplier": intake.supplier,
        "name": intake.name,
        "kind": intake.kind,
        "received_on": intake.received_on.isoformat(),
        "state": intake.state,
        "for_all": dict(intake.answers),
    }


def _line(line: Line) -> dict[str, Any]:
    return {
        "line": line.line,
        "text": line.text,
        "outcome": line.outcome,
        "values": dict(line.values),
        "pieces": [
            {"start": start, "end": end, "field": field, "value": value, "taken_for": taken_for}
            for start, end, field, value, taken_for in line.pieces
        ],
        "questions": [
            {
                "field": field,
                "sentence": sentence,
                "choices": [{"value": value, "means": means} for value, means in choices],
                "unit": unit,
                "answer": answer,
            }
            for field, sentence, choices, unit, answer in line.questions
        ],
        "not_said": list(not_said(line.values, line.questions)),
        "faults": [{"field": f, "label": label, "message": m} for f, label, m in line.faults],
        "doubts": [{"field": f, "label": label, "message": m} for f, label, m in line.doubts],
        "likeness": line.likeness,
        "earlier": line.earlier,
        "decision": line.decision,
        "offer": line.offer,
    }
