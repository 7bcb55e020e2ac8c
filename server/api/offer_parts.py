"""What hangs on an offer, as JSON: its files, and its test values lot by lot."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Body, File, Form, Path, Request, UploadFile
from starlette.responses import JSONResponse, Response

from server.actions.attachments import KINDS, attach, detach, file_of, files_of
from server.actions.offer_tests import FIELDS, add_test, remove_test, tests_of
from server.api.records import WRONG
from server.core.offer import TEST_PROPERTIES
from server.request import download, house_of
from server.store.attachments import Attachment
from server.store.offer_tests import TestValue

router = APIRouter(tags=["offers"])
Code = Annotated[str, Path(description="Code of the offer", max_length=200)]
_READ: dict[int | str, dict[str, Any]] = {code: WRONG[code] for code in (404, 422, 503)}
_SENT: dict[int | str, dict[str, Any]] = {code: WRONG[code] for code in (400, 404, 413, 422, 503)}
Number = Annotated[int, Path(description="Number of the part, from its list", ge=1, le=2**31 - 1)]


@router.get("/offers/{code}/files", responses=_READ)
def list_files(request: Request, code: Code) -> list[dict[str, Any]]:
    """The files of an offer, without their content."""
    return [_file_document(each) for each in files_of(house_of(request).engine, code)]


@router.post("/offers/{code}/files", status_code=201, responses=_SENT)
def add_file(
    request: Request,
    code: Code,
    file: Annotated[UploadFile, File(description="pdf, png, jpeg, xlsx, xls, ods, csv or txt")],
    kind: Annotated[str, Form(description=f"One of: {', '.join(KINDS)}")] = "other",
    note: Annotated[str, Form(description="Up to 500 characters")] = "",
) -> Response:
    """Attach a file of at most 10 MB; its content is looked at before it is kept."""
    house = house_of(request)
    file_id = attach(
        house.engine,
        code,
        name=file.filename or "",
        content=file.file.read(),
        kind=kind,
        note=note,
        person_id=house.person_id,
    )
    kept = next(each for each in files_of(house.engine, code) if each.id == file_id)
    return JSONResponse(_file_document(kept), 201)


@router.get("/offers/{code}/files/{file_id}", response_class=Response, responses=_READ)
def read_file(request: Request, code: Code, file_id: Number) -> Response:
    """One file, as it came, as a download of a neutral kind."""
    return download(*file_of(house_of(request).engine, code, file_id))


@router.delete("/offers/{code}/files/{file_id}", status_code=204, responses=_READ)
def remove_file(request: Request, code: Code, file_id: Number) -> Response:
    """Remove a file; the history of the offer keeps that it was there."""
    house = house_of(request)
    detach(house.engine, code, file_id, house.person_id)
    return Response(status_code=204)


@router.get("/offers/{code}/tests", responses=_READ)
def list_tests(request: Request, code: Code) -> list[dict[str, Any]]:
    """Every test value of an offer, by property; of several lots the newest dated one counts."""
    return [_test_document(each) for each in tests_of(house_of(request).engine, code)]


@router.post("/offers/{code}/tests", status_code=201, responses=_SENT)
def add_one_test(
    request: Request,
    code: Code,
    given: Annotated[
        dict[str, Any],
        Body(
            description=f"Fields: {', '.join(FIELDS)}. Send the value as a string to keep every "
            f"digit. Properties: {', '.join(TEST_PROPERTIES)}",
            examples=[
                {"property": "tenacity", "value": "14.6", "lot": "L-7", "tested_on": "2026-02-20"}
            ],
        ),
    ],
) -> Response:
    """Add a test value of a lot."""
    house = house_of(request)
    value_id = add_test(house.engine, code, given, house.person_id)
    kept = next(each for each in tests_of(house.engine, code) if each.id == value_id)
    return JSONResponse(_test_document(kept), 201)


@router.delete("/offers/{code}/tests/{value_id}", status_code=204, responses=_READ)
def remove_one_test(request: Request, code: Code, value_id: Number) -> Response:
    """Remove a test value; the history of the offer keeps it."""
    house = house_of(request)
    remove_test(house.engine, code, value_id, house.person_id)
    return Response(status_code=204)


def _file_document(each: Attachment) -> dict[str, Any]:
    return {
        "id": each.id,
        "name": each.name,
        "kind": each.kind,
        "note": each.note,
        "size_bytes": each.size,
        "sha256": each.sha256,
        "added_at": each.at.isoformat(),
        "added_by": each.person,
        "test_values_read_in_it": each.values,
    }


def _test_document(each: TestValue) -> dict[str, Any]:
    return {
        "id": each.id,
        "property": each.property,
        "value": str(each.value),
        "unit": TEST_PROPERTIES[each.property][1] if each.property in TEST_PROPERTIES else "",
        "method": each.method,
        "lot": each.lot,
        "tested_on": each.tested_on.isoformat() if each.tested_on else None,
        "attachment_id": each.attachment_id,
        "file": each.file,
        "counts": each.counts,
    }
