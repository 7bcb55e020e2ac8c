"""The yarn of an offer: its pattern drawn and entered, and what its core makes of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from server.actions.book import current_book
from server.actions.effects import YARN, OfferedYarn, change_pattern, offered_yarn
from server.actions.nouns import NOUNS, FieldError, Refused
from server.actions.records import one_record
from server.core.composition import components_of
from server.core.offer import Offer
from server.export import cautions
from server.request import House, house_of
from server.web import addresses
from server.web.effects import PATTERN_FIGURES
from server.web.explanations import explanation_view
from server.web.forms import FieldView, SentForm, help_of
from server.web.numbers import Writer
from server.web.opened import Links, figure_table, share_text
from server.web.pair import ExplainPage
from server.web.record_forms import sent_version
from server.web.render import render, units_of
from server.web.strip import StripView, strip_view
from server.web.tables import Cell, Column, Row, Table

router = APIRouter()


@dataclass(frozen=True, slots=True)
class OfferYarnView:
    """The yarn of an offer.

    is_effect: whether a pattern may be entered; derived: a sentence when the average rests on it
    """

    is_effect: bool
    pattern: str
    strip: StripView | None
    figures: Table | None
    derived: str
    composition: Table | None
    action: str
    version: str
    field: FieldView
    errors: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class PatternPage:
    """Everything the page of the pattern of one offer shows."""

    title: str
    code: str
    back_href: str
    yarn: OfferYarnView
    cautions: tuple[str, ...]


def offer_yarn_view(
    house: House,
    offer: Offer,
    writer: Writer,
    typed: str | None = None,
    errors: Sequence[FieldError] = (),
) -> OfferYarnView:
    """The yarn of an offer, with what was typed as its pattern and why it was refused."""
    kept = one_record(house.engine, NOUNS["offers"], offer.code)
    opened, links = offered_yarn(offer), Links(addresses.offer_path(offer.code), {})
    pattern = offer.yarn.pattern
    told = next((each.message for each in errors if each.field == "pattern"), "")
    return OfferYarnView(
        is_effect=offer.yarn.effect != "plain",
        pattern=pattern.text if pattern else "",
        strip=strip_view(pattern, writer) if pattern else None,
        figures=figure_table(
            opened,
            "What the pattern makes of the yarn",
            [f"{YARN}.pattern.{name}" for name in PATTERN_FIGURES],
            writer,
            links,
        )
        if pattern
        else None,
        derived=_derived(offer, writer),
        composition=_composition(opened, writer, links),
        action=f"{addresses.offer_path(offer.code)}/pattern",
        version=str(kept.version),
        field=_field(typed if typed is not None else pattern.text if pattern else "", told),
        errors=tuple((each.field, each.label, each.message) for each in errors),
    )


def yarn_document(offer: Offer) -> dict[str, dict[str, Any]]:
    """Every figure of the yarn as data."""
    opened = offered_yarn(offer)
    return {
        line.key: {
            "label": line.title,
            "value": opened.figures[line.key],
            "unit": line.unit,
        }
        for line in opened.sheet.lines
    }


@router.get("/offers/{code}/pattern")
def pattern_page(request: Request, code: str) -> HTMLResponse:
    """The pattern of one offer's yarn."""
    return _page(request, code)


@router.post("/offers/{code}/pattern")
def enter_pattern(request: Request, code: str, sent: SentForm) -> Response:
    """Enter, change or remove the pattern; the history keeps what was there."""
    house, typed = house_of(request), sent.fields.get("pattern", "")
    try:
        change_pattern(house.engine, code, typed, sent_version(sent), house.person_id)
    except Refused as refused:
        return _page(request, code, typed, refused.errors, status=422)
    return RedirectResponse(f"{addresses.offer_path(code)}?notice=changed#pattern", 303)


@router.get("/offers/{code}/yarn.{line}")
def yarn_line(request: Request, code: str, line: str) -> HTMLResponse:
    """One figure of the yarn, opened."""
    offer, writer = _offer(house_of(request), code), Writer(units_of(request), "")
    node = offered_yarn(offer).explain(f"{YARN}.{line}")
    page = ExplainPage(
        title=f"{node.label}: offer {code}",
        figure=writer.text(node.value, node.unit),
        unit=writer.unit(node.unit),
        back_href=addresses.offer_path(code),
        back_label=f"Offer {code}",
        node=explanation_view(node, writer),
        cautions=(cautions.FANCY,) if offer.yarn.effect != "plain" else (),
    )
    return render(request, "pair/explain.html", page, section="offers")


def _page(
    request: Request,
    code: str,
    typed: str | None = None,
    errors: Sequence[FieldError] = (),
    status: int = 200,
) -> HTMLResponse:
    house = house_of(request)
    writer = Writer(units_of(request), "")
    page = PatternPage(
        title=f"Pattern of offer {code}",
        code=code,
        back_href=addresses.offer_path(code),
        yarn=offer_yarn_view(house, _offer(house, code), writer, typed, errors),
        cautions=(cautions.FANCY,),
    )
    return render(request, "effects/pattern.html", page, section="offers", status=status)


def _offer(house: House, code: str) -> Offer:
    return current_book(house.engine).offer(code)


def _derived(offer: Offer, writer: Writer) -> str:
    """What rests on the pattern because the seller did not state it."""
    yarn = offer.yarn
    if yarn.pattern is None or yarn.count_basis != "base" or yarn.average_ne is None:
        return ""
    if yarn.slub_added_mass is not None:
        stated = writer.full(yarn.slub_added_mass, "share")
        return f"The average count rests on the added mass as stated, {stated}."
    return (
        f"No added mass is stated: the average count Ne {writer.text(yarn.average_ne, 'Ne')} is "
        "derived from the pattern."
    )


def _composition(opened: OfferedYarn, writer: Writer, links: Links) -> Table | None:
    components = components_of(opened.offer.yarn)
    if not any(each.place for each in components):
        return None
    return Table(
        caption="The yarn by mass; each share opens",
        columns=(
            Column("component", "Component"),
            Column("share", "Share", "%", numeric=True),
        ),
        rows=tuple(
            Row(
                (
                    Cell(each.name[:1].upper() + each.name[1:], note="core" if each.place else ""),
                    Cell(
                        share_text(opened.figures[f"{YARN}.{each.key}_share"], writer),
                        href=links.to(f"{YARN}.{each.key}_share"),
                    ),
                ),
                key=each.key,
            )
            for each in components
        ),
        empty="",
    )


def _field(text: str, error: str) -> FieldView:
    info = NOUNS["offers"].fields["pattern"]
    return FieldView(
        name="pattern",
        label=info.title or "Pattern",
        unit="",
        value=text,
        error=error,
        doubt="",
        help=help_of(info),
        kind="text",
        options=(),
        required=False,
    )
