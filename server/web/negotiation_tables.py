"""Tables of the negotiation sheet: all offers at a glance, then each offer by itself."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from server.core.gate import POSSIBLE
from server.core.held_to_cost import TARGET
from server.core.landed import LEGS
from server.core.movements import Contender
from server.core.negotiation import ALIKE, BOTH, LEADER, Against, PriceToBeat
from server.core.negotiation_sheet import Earlier, Negotiation, OfferSheet
from server.core.ties import NoTie
from server.web import addresses
from server.web.numbers import Writer, percent
from server.web.sentences import price_text
from server.web.tables import Cell, Column, Row, Table
from server.web.ties import ties_href

MOST_EARLIER = 5  # of one yarn; the rest stands on the page of its prices
NOWHERE = "No construction wants this yarn: none has its core and a count within 5 % of it."


@dataclass(frozen=True)
class Way:
    """Where figures of the sheet open. kept: the basis of the address"""

    supplier: str
    kept: Mapping[str, str]

    @property
    def path(self) -> str:
        """Address of the sheet."""
        return addresses.negotiation_path(self.supplier)

    def figure(self, offer: str, figure: str) -> str:
        """A figure of an offer, opened."""
        return self._to(offer, figure)

    def price(self, offer: str, price: PriceToBeat, which: str) -> str:
        """Both costs at a price to beat, opened."""
        return self._to(offer, "beat", price.construction.code, price.place, which)

    def _to(self, *parts: str) -> str:
        return addresses.with_query(
            "/".join((self.path, *(addresses.part(each) for each in parts))), self.kept
        )


def overview_table(found: Negotiation, writer: Writer, way: Way) -> Table:
    """Every offer of the page in one line."""
    exports = tuple(
        (f"{name} of the whole sheet", addresses.with_query(f"{way.path}.{name.lower()}", way.kept))
        for name in ("CSV", "JSON")
    )
    return Table(
        caption="At a glance",
        columns=(
            Column("offer", "Offer"),
            Column("yarn", "Yarn"),
            Column("price", "As quoted"),
            Column("same_basis", "Same basis", writer.unit("¤/kg"), numeric=True),
            Column("gap", "Over should-cost", "%", numeric=True),
            Column("beat", "Price to beat, nearest", numeric=True),
            Column("ask", "To ask", numeric=True),
        ),
        rows=tuple(_overview_row(sheet, writer, way) for sheet in found.offers),
        empty=f"{found.supplier.name} has no current offer.",
        exports=exports,
    )


def _overview_row(sheet: OfferSheet, writer: Writer, way: Way) -> Row:
    code, price = sheet.offer.code, sheet.same_basis_price
    gap = Cell("none", note="see why below")
    if sheet.held:
        gap = Cell(writer.signed(sheet.held.gap_share, "share"), way.figure(code, "gap_share"))
    nearest, beat = sheet.nearest, Cell("none", note="see why below")
    if nearest and nearest.leader and nearest.leader.tie:
        tie = nearest.leader.tie
        beat = Cell(
            price_text(tie.value),
            way.price(code, nearest, LEADER),
            note=f"{nearest.quoted.unit}, {percent(tie.distance, signed=True)}; "
            f"{nearest.place} of {nearest.construction.code}",
            strong=True,
        )
    return Row(
        (
            Cell(code, f"#offer-{code}", badge=sheet.state),
            Cell(sheet.yarn),
            Cell(sheet.offer.price_text, note=f"{sheet.offer.term} {sheet.offer.place}".strip()),
            Cell("not yet")
            if price is None
            else Cell(writer.text(price, "¤/kg"), way.figure(code, "offer.same_basis_price")),
            gap,
            beat,
            Cell(str(len(sheet.questions)), f"#ask-{code}" if sheet.questions else None),
        ),
        key=code,
    )


def prices_table(sheet: OfferSheet, writer: Writer, way: Way) -> Table:
    """Where the offer is looked at, and what it would have to cost there."""
    rows = [_price_row(sheet, each, writer, way) for each in sheet.prices]
    rows += [
        Row(
            (
                Cell(each.construction.code, note=f"as {each.slot.name}"),
                Cell("", badge=each.standing.state, note="; ".join(each.standing.reasons)),
                Cell("no pair", note=sheet.unpriced[each.construction.code]),
                *(Cell("") for _ in range(4)),
            ),
            key=f"{each.construction.code} {each.slot.name}",
        )
        for each in sheet.places
        if each.construction.code in sheet.unpriced
    ]
    return Table(
        caption=f"{sheet.offer.code}: candidate for, and the price to beat there",
        columns=(
            Column("construction", "Construction"),
            Column("state", "Standing"),
            Column("pair", "Best pair with it"),
            Column("leader", "Best possible without it"),
            Column("difference", "With less without", writer.unit("¤/m"), numeric=True),
            Column("beat", "Price to beat", sheet.unit, numeric=True),
            Column("alike", "Of the same spinning", sheet.unit, numeric=True),
        ),
        rows=tuple(rows),
        empty=NOWHERE if not sheet.places else "No pair can be made with it.",
    )


def _price_row(sheet: OfferSheet, price: PriceToBeat, writer: Writer, way: Way) -> Row:
    code, (state, reasons) = price.construction.code, sheet.standing_in(price)
    leader = price.leader
    compare = addresses.with_query(addresses.compare_path(code), way.kept)
    return Row(
        (
            Cell(code, compare, note=f"as {price.place}"),
            Cell("", badge=state, note="; ".join(reasons)),
            _pair(price, price.with_it, price.cost, writer, way),
            Cell("none", note="no other possible pair")
            if leader is None
            else _pair(price, leader.other, leader.cost, writer, way),
            Cell("")
            if leader is None
            else Cell(
                writer.signed(leader.difference, "¤/m"),
                _difference_href(price, leader, way),
                note=_leads(state) if price.leads else "",
            ),
            _beat(sheet, price, LEADER, writer, way),
            _beat(sheet, price, ALIKE, writer, way),
        ),
        key=f"{code} {price.place}",
    )


def _leads(state: str) -> str:
    return "leads" if state == POSSIBLE else "would lead if it were possible"


def _is_plain(price: PriceToBeat) -> bool:
    """Whether both pairs stand as such on the pages of the comparison."""
    return price.place in ("warp", "filling", BOTH) and len(price.construction.slots) == 2


def _pair(price: PriceToBeat, pair: Contender, cost: float, writer: Writer, way: Way) -> Cell:
    path = addresses.pair_path(price.construction.code, pair.name)
    href, key = addresses.with_query(path, way.kept), pair.costing.key
    process = pair.label.removeprefix(key).strip(" ()")
    return Cell(
        key,
        href if _is_plain(price) else None,
        note=f"{process}, {writer.full(cost, '¤/m')}",
    )


def _difference_href(price: PriceToBeat, leader: Against, way: Way) -> str | None:
    if not _is_plain(price):
        return None
    return ties_href(price.construction.code, leader.other.name, price.with_it.name, way.kept)


def _beat(sheet: OfferSheet, price: PriceToBeat, which: str, writer: Writer, way: Way) -> Cell:
    against = price.against(which)
    if against is None:
        return Cell("", note="" if which == LEADER else "no other possible pair of it")
    if which == ALIKE and against is price.leader:
        return Cell("the same")
    href = way.price(sheet.offer.code, price, which)
    tie, other = against.tie, f"{against.other.name}: " if which == ALIKE else ""
    if tie is None:
        return Cell("none", href, note=f"{other}{_why_none(against, writer)}")
    quoted = price_text(float(price.quoted.value))
    word = "room " if tie.distance > 0 else ""
    return Cell(
        price_text(tie.value),
        href,
        note=f"{other}{word}{percent(tie.distance, signed=True)} on {quoted}",
        strong=which == LEADER,
    )


def _why_none(against: Against, writer: Writer) -> str:
    found = against.found
    if not isinstance(found, NoTie):
        return "its price moves nothing here"
    return (
        f"at {percent(found.nearest - 1, signed=True)} still {writer.signed(found.apart, '¤/m')} "
        f"{writer.unit('¤/m')} apart"
    )


def legs_table(sheet: OfferSheet, writer: Writer, way: Way) -> Table:
    """From the quoted price to the same basis, leg by leg."""
    landing, code = sheet.landing, sheet.offer.code
    rows = []
    if landing:
        keys = [landing.key(leg) for leg in (*LEGS, "landed_price", "same_basis_price")]
        for key in (key for key in keys if key in sheet.figures):
            total = key.endswith(("landed_price", "same_basis_price"))
            figure = writer.text(sheet.figures[key], "¤/kg")
            rows.append(
                Row(
                    (
                        Cell(landing.sheet.by_key[key].title, strong=total),
                        Cell(figure, way.figure(code, key), strong=total),
                    ),
                    key=key,
                )
            )
    return Table(
        caption=f"{sheet.offer.code}: from {sheet.offer.price_text} to the same basis",
        columns=(Column("leg", "Leg"), Column("cost", "Cost", writer.unit("¤/kg"), numeric=True)),
        rows=tuple(rows),
        empty=f"Not landed yet: {sheet.missing}",
    )


def cost_table(sheet: OfferSheet, writer: Writer, way: Way) -> Table | None:
    """The offer beside the should-cost of its yarn; None where there is none."""
    held, code = sheet.held, sheet.offer.code
    if held is None:
        return None
    should = f"Should-cost, {held.should.route} at Ne {held.should.ne:.2f}, before margin"
    figures = (
        (held.price_key, "Same-basis price", writer.text(held.figures[held.price_key], "¤/kg")),
        ("should_cost", should, writer.text(held.should_cost, "¤/kg")),
        ("gap", "Gap to should-cost", writer.signed(held.gap, "¤/kg")),
    )
    rows = [
        Row((Cell(name), Cell(text, way.figure(code, key)), Cell(writer.unit("¤/kg"))), key=key)
        for key, name, text in figures
    ]
    share = Cell(writer.signed(held.gap_share, "share"), way.figure(code, "gap_share"))
    rows.append(Row((Cell("Gap, of the should-cost"), share, Cell("%")), key="gap_share"))
    target = Cell("none", note="none within 90 % of the price as quoted")
    if held.target is not None and held.distance is not None:
        target = Cell(
            price_text(held.target),
            way.figure(code, TARGET),
            note=f"{percent(held.distance, signed=True)} on {price_text(float(held.quoted.value))}",
            strong=True,
        )
    name = Cell("Target: quoted price that meets the should-cost", strong=True)
    rows.append(Row((name, target, Cell(held.quoted.unit)), key=TARGET))
    return Table(
        caption=f"{code} beside its should-cost (estimate)",
        columns=(
            Column("figure", "Figure"),
            Column("value", "Value", numeric=True),
            Column("unit", "Unit"),
        ),
        rows=tuple(rows),
        empty="",
    )


def earlier_table(sheet: OfferSheet, writer: Writer, way: Way) -> Table | None:
    """How the price went since earlier quotes of the same yarn; None without one."""
    if not sheet.earlier:
        return None
    return Table(
        caption=f"{sheet.offer.code}: earlier quotes of this yarn, and how the price went from "
        f"each to {sheet.offer.price_text}",
        columns=(
            Column("quoted_on", "Quoted on"),
            Column("offer", "Offer"),
            Column("price", "As quoted"),
            Column("change", "To now", "%", numeric=True),
            Column("same_basis", "Same basis", writer.unit("¤/kg"), numeric=True),
            Column("basis_change", "To now", "%", numeric=True),
        ),
        rows=tuple(_earlier_row(each, writer, way) for each in sheet.earlier[:MOST_EARLIER]),
        empty="",
    )


def _earlier_row(each: Earlier, writer: Writer, way: Way) -> Row:
    offer, price = each.offer, each.same_basis_price
    offer_href = addresses.with_query(addresses.offer_path(offer.code), way.kept)
    return Row(
        (
            Cell(offer.quoted_on.isoformat()),
            Cell(offer.code, offer_href),
            Cell(offer.price_text),
            Cell("other unit" if each.price_change is None
                 else writer.signed(each.price_change, "share")),
            Cell("not landed") if price is None
            else Cell(writer.text(price, "¤/kg"), way.figure(offer.code, "offer.same_basis_price")),
            Cell("" if each.same_basis_change is None
                 else writer.signed(each.same_basis_change, "share")),
        ),
        key=offer.code,
    )  # fmt: skip
