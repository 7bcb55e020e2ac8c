"""Errors as people and programs read them: a sentence, a remedy, the right status."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response

from server.actions.nouns import FieldError, Refused
from server.core.errors import CreelbookError, shorten
from server.request import status_of
from server.web.render import render

log = logging.getLogger("creelbook")
_SAYS = {
    400: ("This request cannot be read", "Check the address and what was sent."),
    403: ("This is refused", "Go back and try from this site."),
    404: ("There is no such page", "Check the address, or start from the home page."),
    405: ("This address does not take that", "Use the links and forms of the pages."),
    413: ("That is too large", "Send a smaller file or split it."),
    422: ("Something needs another look", "Check the fields named."),
    500: ("Something went wrong here", "Nothing was stored. Try again; if it persists, tell the "
          "person who runs Creelbook what you did."),
    503: ("The database cannot answer just now", "Try again in a moment."),
}  # fmt: skip
_CODES = {404: "not_found", 405: "method_not_allowed", 413: "too_large", 422: "bad_value"}


@dataclass(frozen=True, slots=True)
class ErrorPage:
    """Everything the error template shows."""

    title: str
    message: str
    remedy: str
    status: int


def attach(app: FastAPI) -> None:
    """Answer every kind of error."""
    app.add_exception_handler(CreelbookError, _house_error)
    app.add_exception_handler(Refused, _refused)
    app.add_exception_handler(HTTPException, _http_error)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(Exception, _unexpected)


def _for_programs(request: Request) -> bool:
    path = request.url.path
    return path.startswith("/api/v1/") or path.endswith((".json", ".csv"))


def _answer(
    request: Request,
    status: int,
    message: str,
    remedy: str,
    *,
    code: str = "",
    fields: tuple[FieldError, ...] = (),
    **about: str,
) -> Response:
    title, usual = _SAYS.get(status, _SAYS[400])
    if not _for_programs(request):
        page = ErrorPage(title, message, remedy or usual, status)
        return render(request, "errors/page.html", page, section="", status=status)
    body: dict[str, Any] = {
        "code": code or _CODES.get(status, "error"),
        "message": message,
        "field": about.get("field", ""),
        "value": about.get("value", ""),
        "unit": about.get("unit", ""),
        "remedy": remedy or usual,
    }
    if fields:
        body["errors"] = [
            {
                "field": each.field,
                "label": each.label,
                "message": each.message,
                "value": each.value,
                "unit": each.unit,
            }
            for each in fields
        ]
    return JSONResponse(body, status)


def _house_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, CreelbookError)
    return _answer(
        request,
        status_of(error),
        error.message,
        error.remedy,
        code=error.code,
        field=error.field,
        value=error.value,
        unit=error.unit,
    )


def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, Refused)
    first = error.errors[0]
    return _answer(
        request,
        422,
        f"{first.label}: {first.message}",
        "",
        code="bad_value",
        fields=error.errors,
        field=first.field,
        value=first.value,
        unit=first.unit,
    )


def _http_error(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    title, remedy = _SAYS.get(error.status_code, _SAYS[400])
    return _answer(request, error.status_code, f"{title}.", remedy)


def _invalid(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    fields = tuple(
        FieldError(
            ".".join(str(part) for part in each["loc"][1:]) or str(each["loc"][0]),
            str(each["loc"][-1]),
            str(each["msg"]),
            shorten(each.get("input", "")),
        )
        for each in error.errors()
    )
    return _answer(
        request,
        422,
        f"{fields[0].label}: {fields[0].message}",
        "",
        code="bad_value",
        fields=fields,
        field=fields[0].field,
        value=fields[0].value,
    )


def _unexpected(request: Request, error: Exception) -> Response:
    log.error("unexpected error at %s", request.url.path, exc_info=error)
    return _answer(
        request, 500, "Something went wrong here; nothing was stored.", "", code="internal"
    )
