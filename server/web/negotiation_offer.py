"""One offer on the negotiation sheet, as the page shows it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from server.core.negotiation_sheet import OfferSheet
from server.core.to_ask import ToAsk
from server.export import cautions
from server.web import addresses, pictures
from server.web import negotiation_tables as tables
from server.web.negotiation_tables import Way
from server.web.numbers import Writer, percent
from server.web.pictures import Picture
from server.web.tables import Table

LIKE_FOR_LIKE = (
    "“Price to beat” is against the cheapest possible pair of all without this offer, “of the same "
    "spinning” against the cheapest of its own combination. Costs are modelled, both pairs alike; "
    "all else stays as it is."
)
BRIDGE = "Duty and fees are rates typed in here; a customs broker confirms them for the shipment."
EFFECT = "The effect is not costed: this is plain yarn of the same average count."


@dataclass(frozen=True, slots=True)
class SheetView:
    """One offer on the page.

    facts: (label, value, note); notes: cautions where a figure stands
    history: label and address of every quote of the yarn; answers_href: where they are entered
    """

    code: str
    href: str
    yarn: str
    state: str
    as_quoted: str
    facts: tuple[tuple[str, str, str], ...]
    prices: Table
    prices_note: str
    legs: Table
    legs_note: str
    picture: Picture | None
    cost: Table | None
    cost_notes: tuple[str, ...]
    earlier: Table | None
    history: tuple[str, str]
    questions: tuple[ToAsk, ...]
    answers_href: str


def sheet_view(sheet: OfferSheet, writer: Writer, way: Way) -> SheetView:
    """One offer as the page shows it."""
    offer = sheet.offer
    picture = None
    if sheet.landing:
        picture = pictures.picture(
            partial(pictures.landed_spec, sheet.landing, sheet.figures, writer),
            f"/charts/offers/{addresses.part(offer.code)}/landed.svg",
            {**way.kept, "units": writer.units},
            caption=f"{offer.code}: from the goods to the landed price",
            unit=writer.unit("¤/kg"),
            alt="Waterfall of the legs; the table beside it has the same figures",
            table_href=f"#legs-{offer.code}",
        )
    costs: tuple[str, ...] = (sheet.no_cost,)
    if sheet.held:
        costs = (cautions.MODELLED, *((EFFECT,) if offer.yarn.effect != "plain" else ()))
    return SheetView(
        code=offer.code,
        href=addresses.with_query(addresses.offer_path(offer.code), way.kept),
        yarn=sheet.yarn,
        state=sheet.state,
        as_quoted=offer.as_quoted,
        facts=_facts(sheet, writer),
        prices=tables.prices_table(sheet, writer, way),
        prices_note=LIKE_FOR_LIKE if any(each.leader for each in sheet.prices) else "",
        legs=tables.legs_table(sheet, writer, way),
        legs_note=BRIDGE if sheet.landing else "",
        picture=picture,
        cost=tables.cost_table(sheet, writer, way),
        cost_notes=costs,
        earlier=tables.earlier_table(sheet, writer, way),
        history=(
            f"All {len(sheet.earlier) + 1} quotes of this yarn",
            addresses.with_query(
                f"{addresses.supplier_path(way.supplier)}/prices",
                {"yarn": sheet.yarn_key, **way.kept},
            ),
        ),
        questions=sheet.questions,
        answers_href=f"{addresses.offer_path(offer.code)}#questions"
        if offer.open_questions
        else "",
    )


def _facts(sheet: OfferSheet, writer: Writer) -> tuple[tuple[str, str, str], ...]:
    """(label, value, note) of what was said, as it was said."""
    offer = sheet.offer
    breaks = "; ".join(f"from {each.from_tonnes:f} t {each.price:f}" for each in offer.breaks)
    notes = [f"tax of {percent(offer.tax_inside)} inside"] if offer.tax_inside else []
    notes += [f"{breaks} ({offer.break_kind})"] if breaks else []
    regain = offer.quoted_regain
    return (
        ("Price as quoted", offer.price_text, "; ".join(notes)),
        ("Delivery term", f"{offer.term} {offer.place}".strip() or "not said", ""),
        ("Payment", offer.payment or "not said", ""),
        ("Quoted on", offer.quoted_on.isoformat(), ""),
        ("Valid until", str(offer.valid_until or "not said"), ""),
        ("Lead time", "not said" if offer.lead_days is None else f"{offer.lead_days} d", ""),
        (
            "Minimum order",
            "not said" if offer.moq_tonnes is None else writer.full(offer.moq_tonnes, "t"),
            "",
        ),
        (
            "Capacity this season",
            "not limiting"
            if offer.capacity_tonnes is None
            else writer.full(offer.capacity_tonnes, "t"),
            "",
        ),
        ("Weight basis", "not said" if regain is None else f"{percent(regain)} regain", ""),
    )
