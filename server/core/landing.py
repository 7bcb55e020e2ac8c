"""Binding one offer to the rates of a day: its landed sheet with every input named and sourced."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from server.core.construction import Basis
from server.core.duty import ChosenDuty
from server.core.errors import Missing
from server.core.landed import IN_THE_PRICE, LEGS, goods_price, landed_sheet
from server.core.offer import HUNDREDTHS, KG_PER_PRICE_UNIT, Offer, payment_day, read_payment
from server.core.rates import (
    RateBook,
    exchange_rate_used,
    hundredth_of,
    inverse_exchange_rate,
    money_moved,
)
from server.core.sheet import Input, Line, Sheet

# Inputs that several offers share keep one name, so that a change of the dollar moves them all.
_SHARED = ("insurance_rate", "insured_share", "clearance_rate", "cost_of_money", "year_days")


@dataclass(frozen=True)
class Landing:
    """An offer's landed sheet with its inputs; every key starts with `prefix.` unless shared."""

    prefix: str
    sheet: Sheet
    inputs: Mapping[str, Input]

    def key(self, line: str) -> str:
        """The key of a line of the landed sheet in this landing."""
        return f"{self.prefix}.{line}"

    @property
    def legs(self) -> tuple[str, ...]:
        """Keys of the legs that sum to the landed price."""
        return tuple(self.key(leg) for leg in LEGS if self.key(leg) in self.sheet.by_key)


def land(
    offer: Offer, basis: Basis, rates: RateBook, *, prefix: str, tonnes: float | None = None
) -> Landing:
    """Bind an offer to the basis and the rates of its day.

    prefix: name of the place the offer takes, such as `warp`
    tonnes: yarn needed, for price breaks [t]; None takes the first price
    Raises Missing when a rate or an answer of the seller is not there.
    """
    refuse_unsaid(offer)
    on = basis.rates_on
    whole = HUNDREDTHS.get(offer.currency, offer.currency)
    rate, inverse = rates.exchange(whole, basis.currency, on)
    lane = rates.lane(offer.country, on)
    payment = read_payment(offer.payment)
    inputs: dict[str, Input] = {
        f"{prefix}.{name}": entry for name, entry in _quoted(offer, basis, tonnes).items()
    }
    duty = None
    if not lane.domestic and offer.term != "DDP":
        duty = rates.duty(offer.country, on, offer.yarn)
    lane_inputs, lane_names = _lane_inputs(offer, basis, rates, duty)
    inputs |= lane_inputs
    rate_name = f"exchange_rate.{whole}"
    inputs[rate_name] = rate
    inputs |= {name: rates.charge(name, on) for name in _SHARED}
    moved = _moved_money(prefix, offer, basis, rates, inputs, lane_names)
    names = {name: name for name in _SHARED} | {IN_THE_PRICE: IN_THE_PRICE} | lane_names
    inputs[IN_THE_PRICE] = Input(0.0, "Inside the seller's price", "¤/kg", "delivery term")
    after = (
        rates.charge(payment.waits_for, on)
        if payment.waits_for
        else Input(
            payment.days_after_shipment,
            "Days from shipment to payment",
            "d",
            f"payment {offer.payment}",
            offer.quoted_on,
        )
    )
    inputs[f"{prefix}.days_after_shipment"] = after
    inputs[f"{prefix}.advance_share"] = Input(
        payment.advance_share,
        "Share paid with the order",
        "share",
        f"payment {offer.payment}",
        offer.quoted_on,
    )
    sheet = _sheet(
        prefix,
        offer.term,
        duty is not None and duty.rate.base == "FOB",
        rate_name,
        inverse,
        whole != offer.currency,
        tuple(names.items()),
        moved,
    )
    return Landing(prefix, sheet, inputs)


_LANDED_NEEDS = ("currency", "price_unit", "term", "payment", "quoted_regain_percent", "lead_days")


def refuse_unsaid(offer: Offer) -> None:
    """Raises Missing when the seller left out what the landed price is made of."""
    for question in offer.open_questions:
        if question.field in _LANDED_NEEDS:
            raise Missing(
                question.sentence,
                field=question.field,
                unit=question.unit,
                remedy="Enter the answer on the offer.",
            )


# A line by its parts, so that landings alike can share a sheet.
_Moved = tuple[str, Callable[..., Any], tuple[tuple[str, str], ...], str]


@lru_cache(maxsize=1024)
def _sheet(
    prefix: str,
    term: str,
    duty_on_fob: bool,
    rate_name: str,
    inverse: bool,
    in_hundredths: bool,
    names: tuple[tuple[str, str], ...],
    moved: tuple[_Moved, ...],
) -> Sheet:
    """The landed sheet with this landing's keys; offers alike in these respects share it."""
    paid = Line(
        f"{prefix}.payment_day",
        payment_day,
        {
            name: f"{prefix}.{name}"
            for name in ("advance_share", "lead_days", "days_after_shipment")
        },
    )
    return Sheet(
        (
            *_rate_lines(prefix, rate_name, inverse=inverse, in_hundredths=in_hundredths),
            paid,
            *(Line(key, formula, dict(feeds), label) for key, formula, feeds, label in moved),
            *_bound(landed_sheet(term, duty_on_fob=duty_on_fob), prefix, dict(names)),
        )
    )


def _moved_money(
    prefix: str,
    offer: Offer,
    basis: Basis,
    rates: RateBook,
    inputs: dict[str, Input],
    names: dict[str, str],
) -> tuple[_Moved, ...]:
    """Lines that move freight, inland and origin charges into the reporting currency.

    Adds the rates to `inputs` and turns `names` to the moved figures. Money that is in the
    reporting currency already needs no line.
    """
    on = basis.rates_on
    lines: list[_Moved] = []
    lane = rates.lane(offer.country, on)
    charge = names.get("origin_charge", "")
    of_charge = rates.charge_currency(charge, on) if charge else ""
    for name, currency, formula in (
        ("load_freight", lane.currency, money_moved),
        ("inland_charge", lane.currency, goods_price),
        ("origin_charge", of_charge, goods_price),
    ):
        if currency in ("", basis.currency) or name not in names:
            continue
        rate, inverse = rates.exchange(currency, basis.currency, on)
        inputs[f"exchange_rate.{currency}"] = rate
        used = f"{prefix}.rate_of_{currency}"
        if all(key != used for key, *_ in lines):
            turned = inverse_exchange_rate if inverse else exchange_rate_used
            argument = "units_per_reporting" if inverse else "exchange_rate"
            lines.append((used, turned, ((argument, f"exchange_rate.{currency}"),), ""))
        amount = "amount" if formula is money_moved else "quoted_price_per_kg"
        feeds = ((amount, names[name]), ("exchange_rate", used))
        lines.append((f"{prefix}.{name}_moved", formula, feeds, inputs[names[name]].label))
        names[name] = f"{prefix}.{name}_moved"
    return tuple(lines)


def _rate_lines(prefix: str, rate_name: str, *, inverse: bool, in_hundredths: bool) -> list[Line]:
    lines, feeding = [], rate_name
    if inverse:
        lines.append(
            Line(f"{prefix}.rate_of_whole", inverse_exchange_rate, {"units_per_reporting": feeding})
        )
        feeding = f"{prefix}.rate_of_whole"
    if in_hundredths:
        lines.append(
            Line(f"{prefix}.rate_of_hundredth", hundredth_of, {"exchange_rate_of_whole": feeding})
        )
        feeding = f"{prefix}.rate_of_hundredth"
    lines.append(Line(f"{prefix}.exchange_rate", exchange_rate_used, {"exchange_rate": feeding}))
    return lines


def _bound(sheet: Sheet, prefix: str, names: Mapping[str, str]) -> list[Line]:
    """The same lines with this landing's keys and this landing's names for their inputs."""
    return [
        Line(
            f"{prefix}.{line.key}",
            line.formula,
            {
                argument: f"{prefix}.{source}"
                if source in sheet.by_key
                else names.get(source, f"{prefix}.{source}")
                for argument, source in line.sources.items()
            },
            line.label,
        )
        for line in sheet.lines
    ]


def _quoted(offer: Offer, basis: Basis, tonnes: float | None) -> dict[str, Input]:
    """What the seller said; nothing is missing after `refuse_unsaid`."""
    where, source = f"/offers/{offer.code}", f"offer {offer.code}, {offer.supplier.name}"
    price = offer.price_for(tonnes)
    house = basis.house_regain.get(offer.yarn.fibre_mix)
    if house is None:
        raise Missing(
            f"The basis has no house regain for {offer.yarn.fibre_mix}.",
            field="house_regain",
            unit="%",
            remedy="Add it to the basis.",
        )
    said = offer.quoted_on
    return {
        "quoted_price": Input(
            float(price),
            "Price as quoted",
            f"{offer.currency}/{offer.price_unit}",
            source,
            said,
            f"{price} {offer.currency}/{offer.price_unit}",
            where,
        ),
        "tax_inside": Input(
            offer.tax_inside, "Tax inside the price", "share", source, said, "", where
        ),
        "unit_mass_kg": Input(
            KG_PER_PRICE_UNIT[offer.price_unit],
            f"Mass of one {offer.price_unit}",
            "kg",
            "definition (1 lb = 0.45359237 kg)",
        ),
        "lead_days": Input(float(offer.lead_days or 0), "Lead time", "d", source, said, "", where),
        "quoted_regain": Input(
            offer.quoted_regain or 0.0,
            "Regain of the seller's weight basis",
            "share",
            source,
            said,
            "",
            where,
        ),
        "house_regain": Input(
            house,
            f"House regain, {offer.yarn.fibre_mix}",
            "share",
            f"basis “{basis.name}”",
            basis.as_of,
            "",
            "/basis",
        ),
    }


def _lane_inputs(
    offer: Offer, basis: Basis, rates: RateBook, duty: ChosenDuty | None
) -> tuple[dict[str, Input], dict[str, str]]:
    """Inputs of the way from the seller's country, and the sheet's names for them.

    duty: None where the buyer pays none
    """
    on = basis.rates_on
    lane = rates.lane(offer.country, on)
    where, at = f"/rates/lanes/{lane.id}", f"lane.{lane.country}"
    money = "¤" if lane.currency == basis.currency else lane.currency
    inputs = {
        f"{at}.freight": Input(
            lane.freight,
            f"Freight for a load, {lane.route}",
            money,
            lane.source,
            lane.valid_from,
            "",
            where,
        ),
        f"{at}.load_mass_kg": Input(
            lane.load_mass_kg,
            f"Yarn in a load, {lane.route}",
            "kg",
            lane.source,
            lane.valid_from,
            "",
            where,
        ),
        f"{at}.inland": Input(
            lane.inland,
            f"Inland to the mill, {lane.route}",
            f"{money}/kg",
            lane.source,
            lane.valid_from,
            "",
            where,
        ),
        f"{at}.transit_days": Input(
            float(lane.transit_days),
            f"Transit, {lane.route}",
            "d",
            lane.source,
            lane.valid_from,
            "",
            where,
        ),
    }
    duty_name = f"duty_rate.{lane.country}"
    if duty is not None:
        if duty.rate.conditions:  # two offers of a country may fall under different lines
            duty_name = f"{duty_name}.{duty.rate.id}"
        inputs[duty_name] = _duty_input(duty)
    elif lane.domestic:
        inputs[duty_name] = Input(0.0, "Duty on domestic goods", "share", "no customs border")
    names = {
        "load_freight": f"{at}.freight",
        "load_mass_kg": f"{at}.load_mass_kg",
        "inland_charge": f"{at}.inland",
        "transit_days": f"{at}.transit_days",
        "duty_rate": duty_name,
    }
    if offer.term in ("EXW", "FCA", "FAS"):
        charge = "exw_origin_charge" if offer.term == "EXW" else "fca_origin_charge"
        inputs[charge] = rates.charge(charge, on)
        names["origin_charge"] = charge
    if lane.domestic:
        names["clearance_rate"] = "clearance_rate.domestic"
        inputs["clearance_rate.domestic"] = Input(
            0.0, "Clearance on domestic goods", "share", "no customs border", lane.valid_from
        )
    return inputs, names


def _duty_input(duty: ChosenDuty) -> Input:
    found = duty.rate
    return Input(
        found.rate,
        f"Duty, {found.name}",
        "share",
        found.source,
        found.valid_from,
        duty.why,
        f"/rates/duties/{found.id}",
    )
