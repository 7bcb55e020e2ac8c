"""Reading and writing what people enter as JSON: the same entries as forms and CSV."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Body, Header, Query, Request
from pydantic import BaseModel, Field
from starlette.responses import JSONResponse, Response, StreamingResponse

from server.actions.nouns import NOUNS, Noun
from server.actions.records import (
    add_record,
    change_record,
    every_record,
    one_record,
    some_records,
)
from server.core.errors import BadValue, shorten
from server.export.records import record_document
from server.request import house_of
from server.store.records import Kept

router = APIRouter()
MOST = 500  # records of a page
VERSION = {
    "title": "Version",
    "description": "Version of the record that was read; may stand in the header If-Match instead",
    "type": ["integer", "string"],
}


class FaultyField(BaseModel):
    """One field that cannot be right."""

    field: str = Field(description="Name of the field")
    label: str = Field(description="The field as people read it")
    message: str = Field(description="What is wrong and what to do")
    value: str = Field(description="The value met, shortened")
    unit: str = Field(description="Unit the field is kept in")


class Problem(BaseModel):
    """Why a request was refused."""

    code: str = Field(description="bad_value, not_found, conflict, missing, too_large …")
    message: str = Field(description="What is wrong, as a sentence")
    field: str = Field(description="Name of the field or thing in question")
    value: str = Field(description="The value met, shortened")
    unit: str = Field(description="Unit the field is kept in")
    remedy: str = Field(description="What to do")
    errors: list[FaultyField] = Field(default=[], description="Every faulty field of an entry")


WRONG: dict[int | str, dict[str, Any]] = {
    400: {"model": Problem, "description": "The body is not JSON"},
    404: {"model": Problem, "description": "There is no such record"},
    409: {"model": Problem, "description": "Somebody else changed the record meanwhile"},
    413: {"model": Problem, "description": "The body is too large"},
    422: {"model": Problem, "description": "Faulty fields, each with what to do"},
    503: {"model": Problem, "description": "The database cannot take this just now"},
}


def _responses(*codes: int) -> dict[int | str, dict[str, Any]]:
    return {code: WRONG[code] for code in codes}


def _described(noun: Noun) -> dict[str, Any]:
    """The JSON schema of a stored record; decimals are strings with every digit."""
    entry = noun.entry.model_json_schema(mode="serialization")
    for about in entry["properties"].values():
        for each in (about, *about.get("anyOf", ())):
            each.pop("pattern", None)
    return {
        "type": "object",
        "title": f"Stored {noun.one}",
        "required": ["key", "version", "owner", "changed_at", "entry"],
        "properties": {
            "key": {"type": "string", "description": f"What /{noun.path}/{{key}} shows"},
            "version": {"type": "integer", "description": "To be sent back with a change"},
            "owner": {"type": "string", "description": "Who entered it"},
            "changed_at": {"type": "string", "description": "Moment of the last change, UTC"},
            "entry": entry,
        },
    }


def _as_answer(description: str, schema: dict[str, Any]) -> dict[str, Any]:
    return {"description": description, "content": {"application/json": {"schema": schema}}}


def _sent(noun: Noun, *, versioned: bool) -> Any:
    """The body of a request, described by the entry class of the noun."""
    schema = noun.entry.model_json_schema()
    if versioned:
        schema["properties"]["version"] = VERSION
    return Body(
        title=schema["title"],
        description=f"{noun.entry.__doc__} Send decimals as strings to keep every digit.",
        json_schema_extra=schema,
    )


def _answer(noun: Noun, request: Request, key: str, status: int = 200) -> Response:
    kept = one_record(house_of(request).engine, noun, key)
    headers = {"etag": f'"{kept.version}"'}
    return JSONResponse(record_document(tuple(noun.fields), kept), status, headers)


def _stream(fields: tuple[str, ...], records: Iterator[Kept]) -> Response:
    """An array of records, written while they are read."""

    def pieces() -> Iterator[str]:
        mark = "["
        for kept in records:
            document = record_document(fields, kept)
            yield mark + json.dumps(document, ensure_ascii=False, separators=(",", ":"))
            mark = ","
        yield "]" if mark == "," else "[]"

    return StreamingResponse(pieces(), media_type="application/json")


def _version(given: dict[str, Any], if_match: str | None) -> int:
    """The version a change was read at, from the body or the header. Raises BadValue."""
    found = given.get("version")
    if found is None:
        found = (if_match or "").strip().removeprefix("W/").strip('"')
    text = shorten(found) if isinstance(found, (str, int)) else ""
    if isinstance(found, bool) or not (text.isdecimal() and len(text) < 10):
        raise BadValue(
            "The version of the record that was read is needed.",
            field="version",
            value=text,
            remedy="Read the record and send its version, in the body or as If-Match.",
        )
    return int(text)


def _add_routes(noun: Noun) -> None:
    """The five operations of one noun; a noun's word here is the word of its pages."""
    base, one, tag = f"/{noun.path}", f"/{noun.path}/{{key:path}}", noun.many
    stored = _described(noun)
    new_body, changed_body = _sent(noun, versioned=False), _sent(noun, versioned=True)
    a_noun = f"{'an' if noun.one[0] in 'aeiou' else 'a'} {noun.one}"

    @router.get(
        base,
        tags=[tag],
        summary=f"List {noun.many}",
        description="All of them, or with `limit` a page: the header Link names the next one.",
        responses={
            200: _as_answer("In the order entered", {"type": "array", "items": stored}),
            **_responses(422, 503),
        },
    )
    def list_all(
        request: Request,
        limit: int | None = Query(None, ge=1, le=MOST, description="Most records to give"),
        after: int = Query(0, ge=0, le=2**31 - 1, description="From the header Link of a page"),
    ) -> Response:
        engine, fields = house_of(request).engine, tuple(noun.fields)
        if limit is None and not after:
            return _stream(fields, every_record(engine, noun))
        found = some_records(engine, noun, after, (limit or MOST) + 1)
        page = found[: limit or MOST]
        headers = {}
        if len(found) > len(page):
            query = urlencode({"limit": limit or MOST, "after": page[-1].id})
            headers["link"] = f'<{request.url.path}?{query}>; rel="next"'
        return JSONResponse([record_document(fields, kept) for kept in page], headers=headers)

    @router.post(
        base,
        tags=[tag],
        summary=f"Add {a_noun}",
        status_code=201,
        responses={201: _as_answer("Stored", stored), **_responses(400, 413, 422, 503)},
    )
    def add(request: Request, given: dict[str, Any] = new_body) -> Response:
        house = house_of(request)
        return _answer(noun, request, add_record(house.engine, noun, given, house.person_id), 201)

    @router.get(
        one,
        tags=[tag],
        summary=f"One {noun.one}",
        responses={200: _as_answer("As entered", stored), **_responses(404, 422, 503)},
    )
    def read(request: Request, key: str) -> Response:
        return _answer(noun, request, key)

    @router.put(
        one,
        tags=[tag],
        summary=f"Change {a_noun}",
        description="The entry as a whole; a field left out takes its default.",
        responses={
            200: _as_answer("Stored", stored),
            **_responses(400, 404, 409, 413, 422, 503),
        },
    )
    def change(
        request: Request,
        key: str,
        given: dict[str, Any] = changed_body,
        if_match: str | None = Header(None, description="Version of the record that was read"),
    ) -> Response:
        house = house_of(request)
        version = _version(given, if_match)
        entry = {name: value for name, value in given.items() if name != "version"}
        new_key = change_record(house.engine, noun, key, entry, version, house.person_id)
        return _answer(noun, request, new_key)


for _noun in NOUNS.values():
    _add_routes(_noun)
