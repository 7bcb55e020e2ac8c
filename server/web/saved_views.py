"""Saved views: links above a list, and the page where they are renamed and removed."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from server.actions.saved_views import (
    LONGEST_NAME,
    SavedView,
    every_view,
    keep_columns,
    remove_view,
    rename_view,
    save_view,
)
from server.core.errors import BadValue
from server.request import house_of
from server.web.forms import SentForm
from server.web.offer_address import sound_query
from server.web.offer_columns import read_columns
from server.web.render import render

router = APIRouter()
PATH = "/saved-views"


@dataclass(frozen=True, slots=True)
class ViewedList:
    """A list that has saved views. sound: a query with only what the list knows."""

    title: str
    path: str
    sound: Callable[[str], str]
    columns: Callable[[Sequence[str]], tuple[str, ...]]


LISTS: Mapping[str, ViewedList] = {
    "offers": ViewedList("Offers", "/offers", sound_query, read_columns)
}


@dataclass(frozen=True, slots=True)
class ViewLink:
    """A saved view above its list. current: whether the list shows it now."""

    name: str
    href: str
    current: bool


@dataclass(frozen=True, slots=True)
class ViewsBox:
    """The views of a list and what saving the present one needs."""

    page: str
    links: tuple[ViewLink, ...]
    query: str
    manage_href: str


@dataclass(frozen=True, slots=True)
class ViewForm:
    """One view on the page of all. action: where its forms go."""

    name: str
    href: str
    list_title: str
    action: str
    version: int


@dataclass(frozen=True, slots=True)
class SavedViewsPage:
    """Everything the page of all views shows."""

    title: str
    views: tuple[ViewForm, ...]
    longest: int


def views_box(page: str, views: Sequence[SavedView], texts: Mapping[str, str]) -> ViewsBox:
    """The views of a list beside its present query."""
    query = urlencode(texts)
    links = tuple(ViewLink(view.name, _href(view), view.query == query) for view in views)
    return ViewsBox(page, links, query, PATH)


@router.get(PATH)
def views_page(request: Request) -> HTMLResponse:
    """All saved views, to be opened, renamed or removed."""
    page = SavedViewsPage(
        title="Saved views",
        views=tuple(
            ViewForm(view.name, _href(view), _list(view.page).title, f"{PATH}/{view.id}",
                     view.version)
            for view in every_view(house_of(request).engine)
        ),
        longest=LONGEST_NAME,
    )  # fmt: skip
    return render(request, "offers/saved_views.html", page, section="offers")


@router.post(PATH)
def save(request: Request, sent: SentForm) -> Response:
    """Save the view a list shows."""
    house, page = house_of(request), sent.fields.get("page", "")
    shown = _list(page)
    query = shown.sound(sent.fields.get("query", ""))
    save_view(house.engine, house.person_id, page, sent.fields.get("name", ""), query)
    return _back(shown.path, query, "added")


@router.post(f"{PATH}/columns")
def columns(request: Request, sent: SentForm) -> Response:
    """Keep the shown columns for the person, or forget those kept."""
    house, page = house_of(request), sent.fields.get("page", "")
    shown = _list(page)
    keys = shown.columns([sent.fields.get("columns", "")])
    keep_columns(house.engine, house.person_id, page, ",".join(keys))
    return _back(shown.path, shown.sound(sent.fields.get("query", "")), "changed")


@router.post(f"{PATH}/{{number}}")
def rename(request: Request, number: str, sent: SentForm) -> Response:
    """Give a view another name."""
    house, version = house_of(request), sent.fields.get("version", "")
    if not (version.isdecimal() and version.isascii() and len(version) < 10):
        raise BadValue(
            "The form did not say which version of the view it was filled from.",
            field="version",
            value=version,
            remedy="Open the saved views again and repeat the change.",
        )
    name = sent.fields.get("name", "")
    rename_view(house.engine, house.person_id, number, name, int(version))
    return _back(PATH, "", "changed")


@router.post(f"{PATH}/{{number}}/remove")
def remove(request: Request, number: str) -> Response:
    """Remove a view."""
    house = house_of(request)
    remove_view(house.engine, house.person_id, number)
    return _back(PATH, "", "removed")


def _back(path: str, query: str, notice: str) -> Response:
    said = f"{query}&" if query else ""
    return RedirectResponse(f"{path}?{said}notice={notice}", 303)


def _href(view: SavedView) -> str:
    path = _list(view.page).path
    return f"{path}?{view.query}" if view.query else path


def _list(page: str) -> ViewedList:
    if page not in LISTS:
        raise BadValue(
            f"“{page[:40]}” is no list that has saved views.",
            field="page",
            value=page,
            remedy="Save the view from its list.",
        )
    return LISTS[page]
