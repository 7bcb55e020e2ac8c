"""Test values of an offer, lot by lot: all of them in a table, adding one, removing one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from server.actions.attachments import files_of
from server.actions.nouns import FieldError, Refused
from server.actions.offer_tests import FIELDS, add_test, doubt_about, remove_test, tests_of
from server.core.offer import TEST_PROPERTIES
from server.export import cautions
from server.request import House, house_of
from server.web import addresses
from server.web.forms import FieldView, Kind, SentForm
from server.web.numbers import entered
from server.web.offer_files import number_of
from server.web.render import render

router = APIRouter()
_SHEET = "supplier's sheet"


@dataclass(frozen=True, slots=True)
class TestView:
    """One value as the table shows it. counts: whether the gate takes it."""

    property: str
    value: str
    unit: str
    method: str
    lot: str
    tested_on: str
    file: str
    file_href: str
    counts: bool
    doubt: str
    remove: str
    what: str


@dataclass(frozen=True, slots=True)
class TestsView:
    """All test values of an offer and the form for one more. errors: (field, label, message)."""

    tests: tuple[TestView, ...]
    action: str
    fields: tuple[FieldView, ...]
    errors: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class TestsPage:
    """Everything the page of the test values of one offer shows."""

    title: str
    code: str
    back_href: str
    tests: TestsView
    cautions: tuple[str, ...]


def lots_view(
    house: House,
    code: str,
    typed: Mapping[str, str] | None = None,
    errors: Sequence[FieldError] = (),
) -> TestsView:
    """The test values of an offer, with what was typed and why it was refused."""
    path = addresses.offer_path(code)
    return TestsView(
        tests=tuple(_test_views(house, code, path)),
        action=f"{path}/tests",
        fields=_fields(house, code, typed or {}, errors),
        errors=tuple((error.field, error.label, error.message) for error in errors),
    )


@router.get("/offers/{code}/tests")
def tests_page(request: Request, code: str) -> HTMLResponse:
    """The test values of one offer."""
    return _page(request, code, lots_view(house_of(request), code))


@router.post("/offers/{code}/tests")
def add(request: Request, code: str, sent: SentForm) -> Response:
    """Add a test value."""
    house = house_of(request)
    given = {name: text for name, text in sent.fields.items() if name in FIELDS}
    try:
        add_test(house.engine, code, given, house.person_id)
    except Refused as refused:
        view = lots_view(house, code, given, refused.errors)
        return _page(request, code, view, status=422)
    return RedirectResponse(f"{addresses.offer_path(code)}?notice=added#tests", 303)


@router.post("/offers/{code}/tests/{value_id}/remove")
def remove(request: Request, code: str, value_id: str) -> Response:
    """Remove a test value; the history keeps it."""
    house = house_of(request)
    remove_test(house.engine, code, number_of(value_id, code), house.person_id)
    return RedirectResponse(f"{addresses.offer_path(code)}?notice=changed#tests", 303)


def _page(request: Request, code: str, view: TestsView, status: int = 200) -> HTMLResponse:
    page = TestsPage(
        f"Test values of offer {code}", code, addresses.offer_path(code), view, (cautions.TESTS,)
    )
    return render(request, "offers/tests.html", page, section="offers", status=status)


def _test_views(house: House, code: str, path: str) -> list[TestView]:
    order = list(TEST_PROPERTIES)
    known = [each for each in tests_of(house.engine, code) if each.property in order]
    views = []
    for each in sorted(known, key=lambda value: order.index(value.property)):
        label, unit = TEST_PROPERTIES[each.property]
        views.append(
            TestView(
                property=label,
                value=entered(each.value),
                unit=unit,
                method=each.method,
                lot=each.lot,
                tested_on=entered(each.tested_on),
                file=each.file,
                file_href=f"{path}/files/{each.attachment_id}" if each.file else "",
                counts=each.counts,
                doubt=doubt_about(each),
                remove=f"{path}/tests/{each.id}/remove",
                what=f"{label} {entered(each.value)} {unit} {each.lot}".strip(),
            )
        )
    return views


def _fields(
    house: House, code: str, typed: Mapping[str, str], errors: Sequence[FieldError]
) -> tuple[FieldView, ...]:
    told = {error.field: error.message for error in errors}
    properties = tuple(
        (name, f"{label} [{unit}]" if unit else label)
        for name, (label, unit) in TEST_PROPERTIES.items()
    )
    files = (("", "none"), *((str(f.id), f.name) for f in files_of(house.engine, code)))
    given = {"method": _SHEET, **typed}

    def view(
        name: str, label: str, kind: Kind, options: tuple[tuple[str, str], ...] = ()
    ) -> FieldView:
        return FieldView(
            name=name,
            label=label,
            unit="",
            value=given.get(name, ""),
            error=told.get(name, ""),
            doubt="",
            help="",
            kind=kind,
            options=options,
            required=name in ("property", "value"),
        )

    day = given.get("tested_on", "")
    return (
        view("property", "Property", "choice", (("", "choose"), *properties)),
        view("value", "Value", "number"),
        view("method", "Test method", "text"),
        view("lot", "Lot", "text"),
        view("tested_on", "Tested on", "text" if day and "tested_on" in told else "date"),
        view("attachment_id", "Source file", "choice", files),
    )
