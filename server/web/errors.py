"""What went wrong, as a page or as JSON: a plain sentence and what to do, never internals."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response

from server.actions.nouns import Refused
from server.core.errors import CreelbookError, shorten
from server.request import security_headers, status_of
from server.web.render import render
from server.web.shared import SEALED

log = logging.getLogger("creelbook")
_CODES = {404: "not_found", 405: "method_not_allowed", 413: "too_large", 422: "bad_value"}
_TITLES = {
    400: "This could not be read",
    403: "Refused",
    404: "Not found",
    405: "Not possible here",
    409: "Somebody else was quicker",
    413: "Too large",
    422: "This cannot be right",
    503: "Not available just now",
}
_SENTENCES = {
    400: ("What was sent could not be read.", "Check its form and send it again."),
    404: ("There is no such page.", "Check the address, or begin at the home page."),
    405: ("This address does not take such a request.", "Go back and use the links of the page."),
    413: ("What was sent is too large; nothing was stored.", "Split it into parts."),
}
_UNKNOWN = ("The request could not be answered.", "Go back and try again.")
_OWN_FAULT = (
    "Something went wrong on our side; nothing was stored.",
    "Try again; if it persists, tell whoever runs this house what you did.",
)


@dataclass(frozen=True, slots=True)
class Trouble:
    """What is told of an error. errors: every faulty field, where there are several."""

    status: int
    code: str
    message: str
    remedy: str
    field: str = ""
    value: str = ""
    unit: str = ""
    errors: tuple[dict[str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class ErrorPage:
    """Everything the error template shows."""

    title: str
    message: str
    remedy: str


def attach(app: FastAPI) -> None:
    """Answer every error of the house in its own words."""
    app.add_exception_handler(CreelbookError, _told)
    app.add_exception_handler(Refused, _told)
    app.add_exception_handler(RequestValidationError, _told)
    app.add_exception_handler(HTTPException, _told)
    app.add_exception_handler(Exception, _unforeseen)


def _told(request: Request, wrong: Exception) -> Response:
    trouble = _trouble(wrong)
    headers = getattr(wrong, "headers", None) or {}
    answer = _answer(request, trouble)
    answer.headers.update(
        {k: v for k, v in headers.items() if k.lower() in ("allow", "retry-after")}
    )
    return answer


def _unforeseen(request: Request, wrong: Exception) -> Response:
    """The log gets the traceback, the person a plain sentence."""
    path = request.url.path  # the secret of a link is not written down
    told = "/shared/…" if path.startswith("/shared/") else path
    log.error("unforeseen error at %s", told, exc_info=wrong)
    answer = _answer(request, Trouble(500, "internal", *_OWN_FAULT))
    for name, value in security_headers(https=request.url.scheme == "https"):
        answer.headers[name.decode()] = value.decode()
    answer.headers["cache-control"] = "no-store"
    return answer


def _trouble(wrong: Exception) -> Trouble:
    if isinstance(wrong, CreelbookError):
        return Trouble(
            status_of(wrong),
            wrong.code,
            wrong.message,
            wrong.remedy,
            wrong.field,
            wrong.value,
            wrong.unit,
        )
    if isinstance(wrong, Refused):
        errors = tuple(
            {
                "field": error.field,
                "label": error.label,
                "message": error.message,
                "value": error.value,
                "unit": error.unit,
            }
            for error in wrong.errors
        )
        return _of_fields(errors)
    if isinstance(wrong, RequestValidationError):
        return _of_fields(tuple(_request_error(error) for error in wrong.errors()))
    status = wrong.status_code if isinstance(wrong, HTTPException) else 400
    return Trouble(status, _CODES.get(status, "error"), *_SENTENCES.get(status, _UNKNOWN))


def _of_fields(errors: tuple[dict[str, str], ...]) -> Trouble:
    first = (
        errors[0] if errors else dict.fromkeys(("field", "label", "message", "value", "unit"), "")
    )
    message = "; ".join(f"{error['label']} {error['message']}".strip() for error in errors[:5])
    return Trouble(
        422,
        "bad_value",
        f"{message}.",
        "Correct what is named and send it again; nothing was stored.",
        first["field"],
        first["value"],
        first["unit"],
        errors,
    )


def _request_error(error: Any) -> dict[str, str]:
    names = [str(part) for part in error.get("loc", ()) if part not in ("body", "query", "path")]
    field = ".".join(names)
    given = error.get("input", "")
    value = shorten(given) if isinstance(given, (str, int, float)) else ""
    message = str(error.get("msg", "")).removeprefix("Value error, ")
    if error.get("type") == "missing":
        message = "is needed"
    elif error.get("type") == "json_invalid":
        field, message = "", "is not JSON"
    else:
        message = message.replace("Input should be", "must be")
    label = field or "The body"
    return {"field": field, "label": label, "message": message, "value": value, "unit": ""}


def _answer(request: Request, trouble: Trouble) -> Response:
    answer = _answered(request, trouble)
    if request.url.path.startswith("/shared/"):
        answer.headers.update(SEALED)
    return answer


def _answered(request: Request, trouble: Trouble) -> Response:
    path = request.url.path
    if path.startswith("/api/") or path.endswith((".json", ".csv")):
        body: dict[str, Any] = {
            "code": trouble.code,
            "message": trouble.message,
            "field": trouble.field,
            "value": trouble.value,
            "unit": trouble.unit,
            "remedy": trouble.remedy,
        }
        if trouble.errors:
            body["errors"] = list(trouble.errors)
        return JSONResponse(_sound(body), trouble.status)
    title = _TITLES.get(trouble.status, "Something went wrong")
    page = ErrorPage(title, _sound(trouble.message), _sound(trouble.remedy))
    if path.startswith("/shared/"):
        return render(
            request, "errors/outside.html", page, section="", printed=title, status=trouble.status
        )
    return render(request, "errors/page.html", page, section="", status=trouble.status)


def _sound(value: Any) -> Any:
    """The value with every half of a character pair replaced, so that it can be sent."""
    if isinstance(value, str):
        return value.encode("utf-8", "replace").decode()
    if isinstance(value, dict):
        return {_sound(name): _sound(each) for name, each in value.items()}
    return [_sound(each) for each in value] if isinstance(value, list) else value
