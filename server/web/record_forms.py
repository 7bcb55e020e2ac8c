"""The form of a record: new or changed, with what was typed beside what is wrong or stored."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fastapi import Request
from starlette.responses import HTMLResponse

from server.actions.nouns import NOUNS, FieldError, Noun, read_entry
from server.actions.records import list_records
from server.actions.what_moves import RATES
from server.core.errors import BadValue
from server.export import cautions
from server.request import house_of
from server.store.offers import QUOTED
from server.store.records import Kept
from server.web import addresses
from server.web.forms import NOT_SAID, FormView, Sent, form_view
from server.web.numbers import entered
from server.web.record_words import (
    field_unit,
    label_of,
    list_path,
    name_of,
    record_path,
    section_of,
)
from server.web.render import render
from server.web.tables import Cell, Column, Row, Table
from server.web.what_moves import MovesView, bases_of

NOT_FIELDS = ("version", "record", "on_basis")
CAUTIONS = {
    "suppliers": (cautions.ORIGIN,),
    "offers": (cautions.TERMS, cautions.TESTS),
    "constructions": (cautions.WEIGHT,),
    "rates/duties": (cautions.DUTY,),
    "assumptions": (cautions.MODELLED, cautions.SPEEDS),
    "gate": (cautions.TESTS,),
    "pieces": (cautions.TESTS,),
}


@dataclass(frozen=True, slots=True)
class FormPage:
    """Everything the template of a form shows.

    record, version: id of the record and number of the change the form was filled from; "" for a
        new record
    action: where the form goes, which is not this address when somebody renamed the record
    requote_href: where what was quoted can be said anew, of an offer
    conflict: what is stored beside what was typed, when somebody else was quicker
    preview: where the form goes to see what it would move, of a rate; bases: those to see it on
    moves: what it would move
    """

    title: str
    form: FormView
    action: str
    record: str
    version: str
    submit: str
    cancel_href: str
    requote_href: str
    conflict: Table | None
    cautions: tuple[str, ...]
    preview: str = ""
    bases: tuple[str, ...] = ()
    moves: MovesView | None = None


def _choices(request: Request, noun: Noun) -> dict[str, list[str]]:
    engine = house_of(request).engine
    if noun.path == "offers":
        return {"supplier": sorted(kept.key for kept in list_records(engine, NOUNS["suppliers"]))}
    if noun.path == "bases":
        sets = (k.values["set_name"] for k in list_records(engine, NOUNS["assumptions"]))
        return {"assumption_set": list(dict.fromkeys(sets))}
    return {}


def new_form(
    request: Request,
    noun: Noun,
    typed: Mapping[str, Any],
    errors: Sequence[FieldError] = (),
    moves: MovesView | None = None,
) -> HTMLResponse:
    """The empty form, or what was typed into it."""
    page = FormPage(
        title=f"New {noun.one}",
        form=form_view(noun, typed, errors=errors, choices=_choices(request, noun)),
        action=f"/{noun.path}/new",
        record="",
        version="",
        submit=f"Store {noun.one}",
        cancel_href=list_path(noun),
        requote_href="",
        conflict=None,
        cautions=CAUTIONS.get(noun.path, ()),
        **_preview(request, noun, f"/{noun.path}/new", moves),
    )
    return _form_answer(request, noun, page, 422 if errors else 200)


def edit_form(
    request: Request,
    noun: Noun,
    kept: Kept,
    typed: Mapping[str, Any],
    errors: Sequence[FieldError] = (),
    conflict: Table | None = None,
    version: int | None = None,
    moves: MovesView | None = None,
) -> HTMLResponse:
    """The form of a stored record, or what was typed over it."""
    path = record_path(noun, kept.key)
    readonly = QUOTED if noun.path == "offers" else ()
    page = FormPage(
        title=f"Edit {noun.one} {name_of(noun, kept)}",
        form=form_view(
            noun, typed, errors=errors, readonly=readonly, choices=_choices(request, noun)
        ),
        action=f"{path}/edit",
        record=str(kept.id),
        version=str(kept.version if version is None else version),
        submit="Store mine over it" if conflict else "Store change",
        cancel_href=path,
        requote_href=addresses.with_query("/offers/new", {"replaces": kept.key})
        if noun.path == "offers"
        else "",
        conflict=conflict,
        cautions=CAUTIONS.get(noun.path, ()),
        **_preview(request, noun, f"{path}/edit", moves),
    )
    return _form_answer(request, noun, page, 409 if conflict else 422 if errors else 200)


def _preview(request: Request, noun: Noun, action: str, moves: MovesView | None) -> dict[str, Any]:
    """What the form of a rate has more than others."""
    if noun.path not in RATES:
        return {}
    return {"preview": f"{action}/what-moves", "bases": bases_of(request), "moves": moves}


def _form_answer(request: Request, noun: Noun, page: FormPage, status: int) -> HTMLResponse:
    return render(request, "records/form.html", page, section=section_of(noun), status=status)


def entry_of(sent: Sent) -> dict[str, Any]:
    """The fields of the entry among what a form sent."""
    return {name: text for name, text in sent.fields.items() if name not in NOT_FIELDS}


def sent_version(sent: Sent) -> int:
    """The version the form was filled from. Raises BadValue."""
    text = sent.fields.get("version", "")
    if not (text.isdecimal() and len(text) < 10):
        raise BadValue(
            "The form did not say which version of the record it was filled from.",
            field="version",
            value=text,
            remedy="Open the record again and repeat the change.",
        )
    return int(text)


def differences(noun: Noun, now: Kept, given: Mapping[str, Any]) -> Table:
    """What is stored beside what was typed, for every field that differs."""
    typed = read_entry(noun, given)
    return Table(
        caption="Fields that differ",
        columns=(
            Column("field", "Field"),
            Column("unit", "Unit"),
            Column("typed", "You typed"),
            Column("stored", "Stored now"),
        ),
        rows=tuple(
            Row(
                (
                    Cell(label_of(noun, name), href=f"#f-{name}"),
                    Cell(field_unit(noun, name, now.values)),
                    Cell(entered(typed[name]) or NOT_SAID),
                    Cell(entered(now.values[name]) or NOT_SAID),
                ),
                key=name,
            )
            for name in noun.fields
            if entered(typed[name]) != entered(now.values[name])
        ),
        empty="What you typed is what is stored now; there is nothing left to do.",
    )
