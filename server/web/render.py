"""The template environment, the frame around every page, and rendering."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import lru_cache
from typing import Any
from urllib.parse import quote

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

from server import version
from server.places import STATIC, TEMPLATES
from server.request import house_of
from server.web.numbers import UNITS, Units

THEMES = ("auto", "light", "dark")
NOTICES = {
    "added": "Stored.",
    "undone": "The whole change is taken back; the history holds both.",
    "changed": "Your change is stored; the history holds what was there before.",
    "frozen": "Frozen: this pack never changes from now on.",
    "removed": "Removed; the history holds what was there.",
}


@dataclass(frozen=True, slots=True)
class Frame:
    """What surrounds every page.

    here: path and query of this page, for the switches; section: current navigation entry
    printed: the line printed on every sheet
    """

    theme: str
    units: Units
    demo: bool
    here: str
    section: str
    version: str
    printed: str
    notice: str | None


@lru_cache(maxsize=64)
def static(name: str) -> str:
    """Address of a static file with a mark that changes when the file does."""
    digest = hashlib.sha256((STATIC / name).read_bytes()).hexdigest()[:10]
    return f"/static/{name}?v={digest}"


@lru_cache(maxsize=1)
def environment() -> Environment:
    """The templates, escaped always and strict about names."""
    made = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    made.globals["static"] = static
    made.filters["address"] = lambda text: quote(str(text), safe="")
    return made


def units_of(request: Request) -> Units:
    """The units switch: in the address, else remembered, else as the trade writes."""
    chosen = request.query_params.get("units") or request.cookies.get("units")
    return chosen if chosen in UNITS else "trade"


def frame_of(request: Request, section: str, printed: str = "") -> Frame:
    """The frame for a request."""
    theme = request.cookies.get("theme", "auto")
    here = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    return Frame(
        theme=theme if theme in THEMES else "auto",
        units=units_of(request),
        demo=house_of(request).settings.demo,
        here=here,
        section=section,
        version=version.VERSION,
        printed=printed or "Creelbook",
        notice=NOTICES.get(request.query_params.get("notice", "")),
    )


def render_text(template: str, page: Any, frame: Frame) -> str:
    """A page's view inside its frame, as HTML."""
    return environment().get_template(template).render(page=page, frame=frame)


def render(
    request: Request,
    template: str,
    page: Any,
    *,
    section: str,
    printed: str = "",
    status: int = 200,
) -> HTMLResponse:
    """Render a page's view inside the frame of a request."""
    return HTMLResponse(render_text(template, page, frame_of(request, section, printed)), status)


def csv_answer(name: str, text: str) -> Response:
    """A CSV file to take away."""
    disposition = f"attachment; filename*=UTF-8''{quote(name, safe='')}.csv"
    return Response(
        text, media_type="text/csv; charset=utf-8", headers={"content-disposition": disposition}
    )
