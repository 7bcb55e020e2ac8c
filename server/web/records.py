"""Pages to enter, show, change and import each noun. They are made from the list of nouns."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from server.actions.nouns import NOUNS, Noun, Refused, doubts, read_entry
from server.actions.records import (
    add_record,
    change_record,
    history_of,
    list_records,
    one_record,
    record_of_form,
)
from server.actions.what_moves import RATES, doubts_of_duty
from server.core.errors import Conflict
from server.export.records import record_document, records_csv
from server.request import house_of
from server.store.offers import QUOTED
from server.store.records import Kept
from server.web import addresses, record_imports, record_lists
from server.web.forms import NOT_SAID, Sent, SentForm, grouped
from server.web.numbers import entered
from server.web.record_forms import (
    CAUTIONS,
    differences,
    edit_form,
    entry_of,
    new_form,
    sent_version,
)
from server.web.record_words import (
    field_unit,
    label_of,
    list_path,
    name_of,
    record_path,
    section_of,
)
from server.web.render import csv_answer, render
from server.web.supplier_offers import SupplierView, supplier_view
from server.web.tables import Cell, Column, Row, Table
from server.web.what_moves import moves_view

router = APIRouter()
OFFERS = NOUNS["offers"]
OWN_PAGES = ("offers", "constructions")
_AFRESH = ("code", "as_quoted", "quoted_on", "valid_until")


@dataclass(frozen=True, slots=True)
class Fact:
    """One field of a record. note: a doubt about it."""

    label: str
    value: str
    unit: str
    href: str
    note: str


@dataclass(frozen=True, slots=True)
class FactGroup:
    """Fields that belong together."""

    title: str
    facts: tuple[Fact, ...]


@dataclass(frozen=True, slots=True)
class RecordPage:
    """Everything the template of one record shows. links: (label, href)."""

    title: str
    back_href: str
    back_label: str
    said: str
    links: tuple[tuple[str, str], ...]
    groups: tuple[FactGroup, ...]
    supplier: SupplierView | None
    history: Table
    cautions: tuple[str, ...]


def _first_values(request: Request, noun: Noun) -> dict[str, Any]:
    """What a new form holds: a replaced offer's values, and fields named in the address."""
    query = {name: text for name, text in request.query_params.items() if name in noun.fields}
    if noun.path != "offers" or not query.get("replaces"):
        return query
    replaced = one_record(house_of(request).engine, noun, query["replaces"])
    return {**replaced.values, **dict.fromkeys(_AFRESH, ""), **query}


def _add(request: Request, noun: Noun, sent: Sent) -> Response:
    house = house_of(request)
    try:
        key = add_record(house.engine, noun, entry_of(sent), house.person_id)
    except Refused as refused:
        return new_form(request, noun, sent.fields, refused.errors)
    return RedirectResponse(f"{record_path(noun, key)}?notice=added", 303)


def _change(request: Request, noun: Noun, key: str, sent: Sent) -> Response:
    house = house_of(request)
    version = sent_version(sent)
    kept = record_of_form(house.engine, noun, key, sent.fields.get("record", ""))
    given = entry_of(sent)
    if noun.path == "offers":  # shown, not sent: what was quoted stays as it is, to the digit
        given = {**{name: kept.values[name] for name in QUOTED}, **given}
    try:
        new_key = change_record(house.engine, noun, kept.key, given, version, house.person_id)
    except Refused as refused:
        return edit_form(request, noun, kept, given, refused.errors, version=version)
    except Conflict:
        now = one_record(house.engine, noun, kept.key)
        return edit_form(request, noun, now, given, conflict=differences(noun, now, given))
    return RedirectResponse(f"{record_path(noun, new_key)}?notice=changed", 303)


def _preview_new(request: Request, noun: Noun, sent: Sent) -> HTMLResponse:
    """What a new rate would move; nothing is stored."""
    typed = entry_of(sent)
    try:
        entries = [(None, read_entry(noun, typed))]
    except Refused as refused:
        return new_form(request, noun, typed, refused.errors)
    moves = moves_view(request, noun, entries, sent.fields.get("on_basis", ""))
    return new_form(request, noun, typed, moves=moves)


def _preview_change(request: Request, noun: Noun, key: str, sent: Sent) -> HTMLResponse:
    """What a changed rate would move; nothing is stored."""
    typed, version = entry_of(sent), sent_version(sent)
    kept = one_record(house_of(request).engine, noun, key)
    try:
        entries = [(kept.id, read_entry(noun, typed))]
    except Refused as refused:
        return edit_form(request, noun, kept, typed, refused.errors, version=version)
    moves = moves_view(request, noun, entries, sent.fields.get("on_basis", ""))
    return edit_form(request, noun, kept, typed, version=version, moves=moves)


def _record_page(request: Request, noun: Noun, key: str) -> HTMLResponse:
    engine = house_of(request).engine
    kept = one_record(engine, noun, key)
    path = record_path(noun, kept.key)
    page = RecordPage(
        title=f"{noun.one.capitalize()} {name_of(noun, kept)}",
        back_href=path if noun.path in OWN_PAGES else list_path(noun),
        back_label=kept.key if noun.path in OWN_PAGES else noun.many.capitalize(),
        said=f"Version {kept.version}, entered by {kept.owner}, last stored "
        f"{kept.changed_at:%Y-%m-%d %H:%M} UTC",
        links=(("Edit", f"{path}/edit"),),
        groups=_fact_groups(request, noun, kept),
        supplier=supplier_view(request, kept.key) if noun.path == "suppliers" else None,
        history=_history(request, noun, kept),
        cautions=CAUTIONS.get(noun.path, ()),
    )
    if noun.path == "suppliers":
        record = addresses.with_query("/offers/new", {"supplier": kept.key})
        paste = addresses.with_query("/intake/new", {"supplier": kept.key})
        links = (
            ("Paste or upload its offers", paste),
            ("Record one of its offers", record),
            ("Negotiation sheet", addresses.negotiation_path(kept.key)),
        )
        page = replace(page, links=(*page.links, *links))
    return render(request, "records/one.html", page, section=section_of(noun))


def _fact_groups(request: Request, noun: Noun, kept: Kept) -> tuple[FactGroup, ...]:
    unusual = doubts(noun, kept.values)
    if noun.path == "rates/duties":
        found = doubts_of_duty(house_of(request).engine, kept.id)
        unusual |= {"rate_percent": " ".join(found)} if found else {}
    return tuple(
        FactGroup(
            title,
            tuple(
                Fact(
                    label=label_of(noun, name),
                    value=entered(kept.values[name]) or NOT_SAID,
                    unit=field_unit(noun, name, kept.values) if entered(kept.values[name]) else "",
                    href=_opens(name, kept.values[name]),
                    note=unusual.get(name, ""),
                )
                for name in names
            ),
        )
        for title, names in grouped(noun).items()
    )


def _opens(name: str, value: Any) -> str:
    if value and name == "supplier":
        return record_path(NOUNS["suppliers"], value)
    if value and (name == "replaces" or name.endswith("_pinned_offer")):
        return addresses.offer_path(value)
    return ""


def _history(request: Request, noun: Noun, kept: Kept) -> Table:
    rows = []
    for change in history_of(house_of(request).engine, noun, kept.id):
        first = (Cell(f"{change.at:%Y-%m-%d %H:%M:%S}"), Cell(change.person))
        fields = change.changes if change.action == "change" else ((change.action, None, None),)
        for field, before, after in fields:
            what = {"add": "entered", "remove": "removed"}.get(field, label_of(noun, field))
            values = (
                (Cell(_as_typed(before)), Cell(_as_typed(after)))
                if change.action == "change"
                else (Cell(""), Cell(""))
            )
            rows.append(Row((*first, Cell(what), *values)))
    return Table(
        caption="Who changed what",
        columns=(
            Column("at", "When", "UTC"),
            Column("person", "Who"),
            Column("field", "What"),
            Column("before", "Before"),
            Column("after", "After"),
        ),
        rows=tuple(rows),
        empty="Nothing is recorded.",
    )


def _as_typed(stored: str | None) -> str:
    return {"True": "yes", "False": "no"}.get(stored or "", stored or NOT_SAID)


def _csv(request: Request, noun: Noun) -> Response:
    records = list_records(house_of(request).engine, noun)
    return csv_answer(noun.path.replace("/", "-"), records_csv(tuple(noun.fields), records))


def _json(request: Request, noun: Noun) -> Response:
    records = list_records(house_of(request).engine, noun)
    return JSONResponse([record_document(tuple(noun.fields), kept) for kept in records])


def _add_pages(noun: Noun) -> None:
    """The addresses of one noun; the fixed words before the keys."""
    base, one = f"/{noun.path}", f"/{noun.path}/{{key:path}}"

    @router.get(f"{base}/new")
    def new_page(request: Request) -> HTMLResponse:
        return new_form(request, noun, _first_values(request, noun))

    @router.post(f"{base}/new")
    def add(request: Request, sent: SentForm) -> Response:
        return _add(request, noun, sent)

    @router.get(f"{base}/import")
    def import_page(request: Request) -> HTMLResponse:
        return record_imports.import_page(request, noun)

    @router.post(f"{base}/import")
    def import_file(request: Request, sent: SentForm) -> Response:
        return record_imports.import_sent(request, noun, sent)

    @router.get(f"{one}/edit")
    def edit_page(request: Request, key: str) -> HTMLResponse:
        kept = one_record(house_of(request).engine, noun, key)
        return edit_form(request, noun, kept, kept.values)

    @router.post(f"{one}/edit")
    def change(request: Request, key: str, sent: SentForm) -> Response:
        return _change(request, noun, key, sent)

    if noun.path in RATES:
        _add_previews(noun)

    export = f"{base}/export.csv" if noun.path in OWN_PAGES else f"{base}.csv"

    @router.get(export)
    def csv_file(request: Request) -> Response:
        return _csv(request, noun)

    if noun.path not in OWN_PAGES:

        @router.get(f"{base}.json")
        def json_file(request: Request) -> Response:
            return _json(request, noun)

    @router.get(f"{one}/history")
    def history_page(request: Request, key: str) -> HTMLResponse:
        return _record_page(request, noun, key)


def _add_previews(noun: Noun) -> None:
    """Where the forms of a rate go to see what they would move."""
    base = f"/{noun.path}"

    @router.post(f"{base}/new/what-moves")
    def preview_new(request: Request, sent: SentForm) -> HTMLResponse:
        return _preview_new(request, noun, sent)

    @router.post(f"{base}/import/what-moves")
    def preview_import(request: Request, sent: SentForm) -> HTMLResponse:
        return record_imports.preview_sent(request, noun, sent)

    @router.post(f"{base}/{{key:path}}/edit/what-moves")
    def preview_change(request: Request, key: str, sent: SentForm) -> HTMLResponse:
        return _preview_change(request, noun, key, sent)

    @router.get(f"{base}/{{form:path}}/what-moves")
    def back_to_form(form: str) -> RedirectResponse:
        return RedirectResponse(f"{base}/{'/'.join(map(addresses.part, form.split('/')))}", 303)


def _add_record_page(noun: Noun) -> None:
    @router.get(f"/{noun.path}/{{key:path}}")
    def record_page(request: Request, key: str) -> HTMLResponse:
        return _record_page(request, noun, key)


for _noun in NOUNS.values():
    _add_pages(_noun)
for _noun in NOUNS.values():
    if _noun.path not in OWN_PAGES:
        _add_record_page(_noun)
router.include_router(record_lists.router)
