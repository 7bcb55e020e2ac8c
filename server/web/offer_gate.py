"""Whether an offer can do the job: what the gate found in every role, and who accepted what."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from server.actions.book import current_book
from server.actions.compare import sound_basis_change
from server.actions.nouns import FieldError, Refused
from server.actions.overrides import (
    OVERRIDE,
    accept_finding,
    gate_of,
    withdraw_override,
)
from server.core.errors import NotFound
from server.core.gate import LIMITED, Finding, Standing
from server.core.offer_gate import OfferGate, Place
from server.core.overrides import Override
from server.export import cautions
from server.export.csv_file import as_csv
from server.export.documents import gate_document
from server.request import house_of
from server.web import addresses
from server.web.forms import FormView, SentForm, form_view
from server.web.record_words import PROPERTIES
from server.web.render import csv_answer, render
from server.web.tables import Cell, Column, Row, Table, Tone

router = APIRouter()


@dataclass(frozen=True, slots=True)
class RoleView:
    """One role: its standing and what was looked at. fits: the offer is near a slot of it."""

    role: str
    state: str
    accepted: int
    fits: bool
    findings: Table


@dataclass(frozen=True, slots=True)
class DecisionView:
    """One decision, with where to withdraw it. lapsed: it no longer holds on the as-of date."""

    what: str
    role: str
    sentence: str
    lapsed: bool
    withdraw: str


@dataclass(frozen=True, slots=True)
class GateView:
    """Everything the section shows. form: None where nothing can be accepted."""

    basis: str
    roles: tuple[RoleView, ...]
    places: Table
    decisions: tuple[DecisionView, ...]
    form: FormView | None
    action: str
    page_href: str
    exports: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class GatePage:
    """The gate of one offer on a page of its own."""

    title: str
    back_href: str
    gate: GateView
    cautions: tuple[str, ...]


def gate_view(
    request: Request,
    code: str,
    *,
    typed: Mapping[str, Any] | None = None,
    errors: Sequence[FieldError] = (),
) -> GateView | None:
    """The gate of an offer on the basis of the request; None while there is no basis."""
    engine, query = house_of(request).engine, request.query_params
    if not current_book(engine).bases:
        return None
    gate = gate_of(engine, code, sound_basis_change(query), query.get("basis", ""))
    path, kept = f"{addresses.offer_path(code)}/gate", addresses.basis_query(query)
    open_now = gate.open_to_decision
    return GateView(
        basis=f"meeting {gate.basis.meeting}, yarn needed by {gate.basis.need_by}, as of "
        f"{gate.basis.as_of}",
        roles=tuple(_role(gate, role, standing) for role, standing in gate.roles.items()),
        places=_places(gate.places, kept),
        decisions=tuple(_decision(gate, each, path) for each in gate.offer.overrides),
        form=_form(open_now, typed or {}, errors) if open_now or errors else None,
        action=addresses.with_query(path, kept),
        page_href=addresses.with_query(path, kept),
        exports=tuple(
            (name, addresses.with_query(f"{path}.{form}", kept))
            for name, form in (("CSV", "csv"), ("JSON", "json"))
        ),
    )


def _form(
    open_now: Sequence[str], typed: Mapping[str, Any], errors: Sequence[FieldError]
) -> FormView:
    return form_view(OVERRIDE, typed, errors=errors, choices={"about": open_now})


def _role(gate: OfferGate, role: str, standing: Standing) -> RoleView:
    return RoleView(
        role,
        standing.state,
        len(standing.accepted),
        any(place.role == role for place in gate.places),
        Table(
            caption=f"{role.capitalize()}: {standing.state}",
            columns=(
                Column("about", "Looked at"),
                Column("outcome", "Outcome"),
                Column("value", "Value"),
                Column("limit", "Limit"),
                Column("source", "Source of the limit"),
                Column("owner", "Owner"),
            ),
            rows=tuple(_finding(each) for each in standing.findings),
            empty="Nothing is asked in this role.",
        ),
    )


def _finding(finding: Finding) -> Row:
    label = PROPERTIES[finding.about][0] if finding.about in LIMITED else finding.about
    said = finding.sentence if finding.outcome in ("fail", "unknown") or finding.was else ""
    if finding.override:
        said = f"{finding.was}: {finding.decision}"
    return Row(
        (
            Cell(label.capitalize() if label.islower() else label),
            Cell("", badge=finding.outcome, note=said),
            Cell(finding.value),
            Cell(finding.limit),
            Cell(finding.source),
            Cell(finding.owner),
        ),
        key=finding.about,
    )


def _places(places: Sequence[Place], kept: Mapping[str, str]) -> Table:
    rows = []
    for place in places:
        construction, standing = place.construction, place.standing
        tone: Tone = "" if standing.state == "possible" else "muted"
        rows.append(
            Row(
                (
                    Cell(
                        f"{construction.code} {construction.name}",
                        href=addresses.with_query(addresses.compare_path(construction.code), kept),
                        strong=True,
                    ),
                    Cell(place.slot.name, note=place.role),
                    Cell(f"{place.slot.ne:g}"),
                    Cell("", badge=standing.state),
                    Cell("; ".join(standing.reasons)),
                    Cell("; ".join(each.decision for each in standing.accepted)),
                ),
                key=f"{construction.code}-{place.slot.name}",
                tone=tone,
            )
        )
    return Table(
        caption="Constructions whose yarn it could be, by count and core",
        columns=(
            Column("construction", "Construction"),
            Column("place", "As"),
            Column("ne", "Wanted count", "Ne", numeric=True),
            Column("state", "Standing"),
            Column("reasons", "Why not"),
            Column("accepted", "Accepted by decision"),
        ),
        rows=tuple(rows),
        empty="No construction wants a yarn of this count and core.",
    )


def _decision(gate: OfferGate, override: Override, path: str) -> DecisionView:
    return DecisionView(
        override.about,
        override.role,
        override.sentence,
        override.until is not None and override.until < gate.basis.as_of,
        f"{path}/{override.id}/withdraw",
    )


@router.get("/offers/{code}/gate.json")
def gate_json(request: Request, code: str) -> Response:
    """The gate of one offer as data."""
    return JSONResponse(gate_document(_gate(request, code)))


@router.get("/offers/{code}/gate.csv")
def gate_csv(request: Request, code: str) -> Response:
    """Everything that was looked at, in every role, as CSV."""
    gate = _gate(request, code)
    names = ("about", "outcome", "value", "limit", "source", "owner", "sentence", "decision")
    text = as_csv(
        ["role", *names],
        (
            [role, *(getattr(finding, name) for name in names)]
            for role, standing in gate.roles.items()
            for finding in standing.findings
        ),
    )
    return csv_answer(f"gate-{code}", text)


def _gate(request: Request, code: str) -> OfferGate:
    query = request.query_params
    return gate_of(
        house_of(request).engine, code, sound_basis_change(query), query.get("basis", "")
    )


@router.get("/offers/{code}/gate")
def gate_page(request: Request, code: str) -> HTMLResponse:
    """The gate of one offer on a page of its own."""
    return _page(request, code)


@router.post("/offers/{code}/gate")
def accept(request: Request, code: str, sent: SentForm) -> Response:
    """Accept one finding."""
    house = house_of(request)
    try:
        accept_finding(house.engine, code, sent.fields, house.person_id)
    except Refused as refused:
        return _page(request, code, sent.fields, refused.errors)
    return _back(request, code, "added")


@router.post("/offers/{code}/gate/{override_id}/withdraw")
def withdraw(request: Request, code: str, override_id: str) -> Response:
    """Withdraw one decision."""
    house = house_of(request)
    number = int(override_id) if override_id.isdecimal() and len(override_id) < 10 else 0
    withdraw_override(house.engine, code, number, house.person_id)
    return _back(request, code, "changed")


def _back(request: Request, code: str, notice: str) -> RedirectResponse:
    query = {**addresses.basis_query(request.query_params), "notice": notice}
    return RedirectResponse(f"{addresses.with_query(addresses.offer_path(code), query)}#gate", 303)


def _page(
    request: Request,
    code: str,
    typed: Mapping[str, Any] | None = None,
    errors: Sequence[FieldError] = (),
) -> HTMLResponse:
    view = gate_view(request, code, typed=typed, errors=errors)
    if view is None:
        raise NotFound(
            "There is no basis to hold the offer to.", field="basis", remedy="Enter a basis."
        )
    page = GatePage(
        title=f"Gate of offer {code}",
        back_href=addresses.offer_path(code),
        gate=view,
        cautions=(cautions.TESTS, cautions.ORIGIN, cautions.FANCY),
    )
    return render(
        request, "offers/gate.html", page, section="offers", status=422 if errors else 200
    )
