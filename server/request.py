"""What pages and API share: the house behind a request, its guard, and errors as statuses."""

from __future__ import annotations

from collections.abc import Awaitable, Callable, MutableMapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote, urlsplit

from starlette.requests import Request
from starlette.responses import JSONResponse, PlainTextResponse, Response

from server.core.errors import CreelbookError
from server.export.chart_process import ChartProcess
from server.settings import Settings
from server.store.session import Engine

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

STATUS = {
    "bad_value": 422,
    "missing": 422,
    "unreadable_file": 422,
    "not_found": 404,
    "conflict": 409,
    "store_unavailable": 503,
}
SAFE_METHODS = {"GET", "HEAD", "OPTIONS"}


@dataclass(frozen=True)
class House:
    """What every request may need. person_id: who is recorded as having made a change."""

    engine: Engine
    settings: Settings
    charts: ChartProcess
    person_id: int


def house_of(request: Request) -> House:
    """The house this request came to."""
    house: House = request.app.state.house
    return house


def status_of(error: CreelbookError) -> int:
    """HTTP status of an error of the house."""
    return STATUS.get(error.code, 400)


def download(name: str, content: bytes) -> Response:
    """A stored file as a download of a neutral kind, which no browser opens by itself."""
    return Response(
        content,
        media_type="application/octet-stream",
        headers={
            "content-disposition": f"attachment; filename*=UTF-8''{quote(name, safe='')}",
            "x-content-type-options": "nosniff",
            "content-security-policy": "default-src 'none'; sandbox",
        },
    )


def security_headers(*, https: bool) -> list[tuple[bytes, bytes]]:
    """Headers every answer carries."""
    headers = {
        "content-security-policy": "default-src 'self'; object-src 'none'; base-uri 'none'; "
        "frame-ancestors 'none'; form-action 'self'",
        "x-content-type-options": "nosniff",
        "referrer-policy": "same-origin",
        "cross-origin-opener-policy": "same-origin",
        "permissions-policy": "camera=(), geolocation=(), microphone=()",
    }
    if https:
        headers["strict-transport-security"] = "max-age=31536000"
    return [(name.encode(), value.encode()) for name, value in headers.items()]


class Guard:
    """Refuses unsafe requests that another site sent or that are too long for an entry, and puts
    the headers on every answer.

    json_bytes: longest JSON body; file_bytes: longest body that brings a file
    """

    def __init__(self, app: App, json_bytes: int, file_bytes: int) -> None:
        self.app = app
        self.json_bytes = json_bytes
        self.file_bytes = file_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Handle one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        added = security_headers(https=scope["scheme"] == "https")
        static = str(scope["path"]).startswith("/static/")

        async def send_with_headers(message: MutableMapping[str, Any]) -> None:
            if message["type"] == "http.response.start":
                headers = list(message.get("headers", ()))
                present = {name for name, _ in headers}
                headers += [each for each in added if each[0] not in present]
                if b"cache-control" not in present:
                    value = b"public, max-age=31536000, immutable" if static else b"no-store"
                    headers.append((b"cache-control", value))
                message = {**message, "headers": headers}
            await send(message)

        if scope["method"] not in SAFE_METHODS and _from_elsewhere(scope):
            refused = PlainTextResponse(
                "This request came from another site and was refused; nothing was stored.", 403
            )
            await refused(scope, receive, send_with_headers)
            return
        refusal = self._too_long(scope)
        if refusal is not None:
            await refusal(scope, receive, send_with_headers)
            return
        await self.app(scope, receive, send_with_headers)

    def _too_long(self, scope: Scope) -> Response | None:
        """What a body that is too long is answered with; None when it is not."""
        kind = dict(scope["headers"]).get(b"content-type", b"")
        is_json = kind.startswith(b"application/json")
        most = self.json_bytes if is_json else self.file_bytes
        if _length(scope) <= most:
            return None
        if not is_json and not str(scope["path"]).startswith("/api/"):
            told = f"What was sent is longer than {most / 1e6:,.1f} MB; nothing was stored."
            return PlainTextResponse(f"{told} Go back and send a smaller file.", 413)
        body = {
            "code": "too_large", "field": "", "value": "", "unit": "bytes",
            "message": f"The body is longer than {most} bytes; nothing was stored.",
            "remedy": "Send fewer records at a time." if is_json else "Send a smaller file.",
        }  # fmt: skip
        return JSONResponse(body, 413)


def _length(scope: Scope) -> int:
    """Length of the body, as its sender says; 0 when it does not."""
    length = dict(scope["headers"]).get(b"content-length", b"0")
    return int(length[:12]) if length.isdigit() else 0


def _from_elsewhere(scope: Scope) -> bool:
    headers = {name: value.decode("latin-1") for name, value in scope["headers"]}
    if headers.get(b"sec-fetch-site", "same-origin") not in ("same-origin", "none"):
        return True
    origin = headers.get(b"origin")
    return origin is not None and urlsplit(origin).netloc != headers.get(b"host")
