"""Doubts about a price: beside the house's fibre, the seller's own offers and those of others.

Like every doubt they change and exclude nothing. What other sellers ask is for the buyer's eyes;
no question here repeats it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import chain
from statistics import median

from server.core.assumptions import AssumptionSet
from server.core.construction import Basis
from server.core.doubts import COMMON, Compared, Doubt
from server.core.errors import CreelbookError
from server.core.landed import goods_price, price_without_tax, quoted_price_per_kg
from server.core.offer import HUNDREDTHS, KG_PER_PRICE_UNIT, Offer
from server.core.rates import RateBook
from server.core.spinning import fibre_cost

BAND_OF_COTTON = 2.5  # a yarn of count 20 costs 1.5 to 2.5 times its cotton [×]
FAR_FROM_OTHERS = 0.25  # from the median of the others [share]; a rule of ours
FEWEST_OTHERS = 3
ABSURD = 0.75  # of its fibre: below this a price is rather for another unit [share]; ours
COUNT_NEAR = 1.2  # two yarns are of one kind when their counts are within this ratio; ours
USUAL_TAXES = (0.05, 0.07, 0.10, 0.11, 0.12, 0.13, 0.16, 0.17, 0.18, 0.19, 0.20)
OTHER_UNITS: Mapping[str, tuple[str, ...]] = {
    "bale (400 lb)": ("bale (480 lb)",),
    "bale (480 lb)": ("bale (400 lb)",),
    "10 lb": ("lb", "10 kg"),
    "10 kg": ("kg", "10 lb"),
    "lb": ("kg", "10 lb"),
    "kg": ("lb", "10 kg"),
    "100 kg": ("100 lb",),
    "100 lb": ("100 kg",),
    "t": ("short ton",),
    "short ton": ("t",),
}

BAND = "ITC Cotton Guide, prices of cotton yarn (cottonguide.org): 1.5 to 2.5 times the cotton"
FIBRE = "fibre price ÷ realisation of the house's assumptions; yarn costs more than its fibre"
UNITS = "definition (1 lb = 0.45359237 kg); yarn bales of 400 lb, cotton bales of 480 lb"
TAXES = (
    "7 and 19 % in Germany (dpd.com), 13 % in Chinese yarn offers, 18 and 20 % in published landed "
    "examples; the other rates are " + COMMON
)


@dataclass(frozen=True)
class Beside:
    """What a price is held against.

    assumptions: in the reporting currency; None when the basis has none
    own: current offers of the same seller, this one left out
    others: same-basis prices of current offers for the same kind of yarn, this one left out [¤/kg]
    price: same-basis price of the offer [¤/kg]; None while it cannot be landed
    """

    basis: Basis
    rates: RateBook
    assumptions: AssumptionSet | None
    own: tuple[Offer, ...]
    others: tuple[float, ...]
    price: float | None


def price_doubts(offer: Offer, beside: Beside) -> tuple[Doubt, ...]:
    """Everything odd about the price of an offer on a basis."""
    return tuple(chain(_fibre(offer, beside), _taxes(offer, beside.own), _far_from_others(beside)))


def goods_per_kg(offer: Offer, basis: Basis, rates: RateBook) -> float | None:
    """Quoted price without its tax in the reporting currency [¤/kg].

    None while currency or unit is not said, or a rate is missing.
    """
    if not offer.currency or offer.price_unit not in KG_PER_PRICE_UNIT:
        return None
    whole = HUNDREDTHS.get(offer.currency, offer.currency)
    try:
        rate = float(rates.factor(whole, basis.currency, basis.rates_on).value)
    except CreelbookError:
        return None
    price = price_without_tax(quoted_price=float(offer.price), tax_inside=offer.tax_inside)
    return float(
        goods_price(
            quoted_price_per_kg=quoted_price_per_kg(
                price_without_tax=price, unit_mass_kg=KG_PER_PRICE_UNIT[offer.price_unit]
            ),
            exchange_rate=rate if whole == offer.currency else rate / 100,
        )
    )


def of_one_kind(first: Offer, second: Offer) -> bool:
    """Whether two offers are for the same kind of yarn: process, fibre and nearly the count."""
    a, b = first.yarn.average_ne, second.yarn.average_ne
    return (
        a is not None
        and b is not None
        and max(a, b) <= COUNT_NEAR * min(a, b)
        and first.yarn.process == second.yarn.process
        and first.yarn.fibre_mix == second.yarn.fibre_mix
    )


def _fibre(offer: Offer, beside: Beside) -> Iterator[Doubt]:
    """The price against what the fibre of a plain cotton yarn costs the house."""
    goods = goods_per_kg(offer, beside.basis, beside.rates)
    band = _band(offer, beside.assumptions)
    if goods is None or band is None or band[0] <= goods <= band[1]:
        return
    low, high = band
    unit = f"{beside.basis.currency}/kg"
    figures = [
        Compared("goods, without tax", goods, unit),
        Compared("fibre in a kilogram of yarn", low, unit),
        Compared(f"{BAND_OF_COTTON:g} times the fibre price", high, unit),
    ]
    is_bale = offer.price_unit.startswith("bale")
    absurd = is_bale or not ABSURD * low <= goods <= high
    read_otherwise = [
        (name, price)
        for name in OTHER_UNITS.get(offer.price_unit, ())
        if absurd
        and (price := goods_per_kg(replace(offer, price_unit=name), beside.basis, beside.rates))
        is not None
        and low <= price <= high
    ]
    if read_otherwise:
        name, price = read_otherwise[0]
        yield Doubt(
            "price unit",
            f"{offer.price_text} is {goods:.3f} {unit}, {'below' if goods < low else 'far above'} "
            f"its fibre; for one {name} it would be {price:.3f} {unit}.",
            f"is the price for one {offer.price_unit} or for one {name}?",
            (*figures, Compared(f"for one {name}", price, unit)),
            UNITS,
        )
    elif goods < low:
        yield Doubt(
            "below fibre",
            f"The price of {goods:.3f} {unit} is below the fibre in it, {low:.3f} {unit} at the "
            "house's assumptions.",
            "which fibre and which quality is it spun from?",
            tuple(figures[:2]),
            FIBRE,
        )
    else:
        yield Doubt(
            "above cotton band",
            f"The price of {goods:.3f} {unit} is more than {BAND_OF_COTTON:g} times the house's "
            "fibre price.",
            "what is in the yarn or in the price that others leave out?",
            (figures[0], figures[2]),
            BAND,
        )


def _band(offer: Offer, assumptions: AssumptionSet | None) -> tuple[float, float] | None:
    """Lowest and highest believable price of a plain cotton yarn [¤/kg]; None where not judged."""
    yarn = offer.yarn
    route = "ring" if yarn.spinning == "compact ring" else yarn.spinning
    keys = (f"{route}.fibre_price", f"{route}.realisation")
    plain = yarn.core == "none" and yarn.fibre_mix.startswith("cotton")
    if not plain or assumptions is None or not all(assumptions.has(key) for key in keys):
        return None
    price, realisation = (float(assumptions.input(key).value) for key in keys)
    if price <= 0:
        return None
    fibre = fibre_cost(fibre_price=price, realisation=realisation, waste_credit=0.0)
    return float(fibre), price * BAND_OF_COTTON


def _taxes(offer: Offer, own: Iterable[Offer]) -> Iterator[Doubt]:
    """Two prices of one seller for one yarn that a tax rate explains; the first found is asked."""
    for other in own:
        if other.code == offer.code or not _alike(offer, other):
            continue
        low, high = sorted((offer, other), key=lambda each: each.price)
        figures = tuple(
            Compared(f"{each.code}, tax inside {each.tax_inside * 100:g} %", each.price_text)
            for each in (offer, other)
        )
        if low.price == high.price and (offer.tax_inside > 0) != (other.tax_inside > 0):
            yield Doubt(
                "tax inside",
                f"{offer.code} and {other.code} have one price, and only one is said to have tax "
                "inside.",
                "is tax inside the price, and at how many per cent?",
                figures,
                TAXES,
            )
            return
        rate = next((each for each in USUAL_TAXES if _explains(each, low, high)), None)
        if rate is not None and offer.tax_inside == other.tax_inside:
            yield Doubt(
                "tax inside",
                f"{high.code} is exactly {rate * 100:g} % above {low.code} for the same yarn: a "
                "usual rate of tax.",
                "is tax inside the higher price, and at how many per cent?",
                (*figures, Compared("apart", rate * 100, "%")),
                TAXES,
            )
            return


def _alike(first: Offer, second: Offer) -> bool:
    """Whether two offers promise the same yarn in the same words of price."""

    def said(offer: Offer) -> tuple[object, ...]:
        yarn = offer.yarn
        return (
            offer.supplier.id, offer.currency, offer.price_unit, offer.term, offer.place,
            yarn.count, yarn.count_system, yarn.count_basis, yarn.ply, yarn.process, yarn.twist,
            yarn.preparation, yarn.fibre_mix, yarn.cores,
        )  # fmt: skip

    return said(first) == said(second)


def _explains(rate: float, low: Offer, high: Offer) -> bool:
    """Whether the higher price is the lower with a tax, to the last digit quoted."""
    if low.price == high.price:
        return False
    exponent = high.price.normalize().as_tuple().exponent
    last = 10.0 ** (exponent if isinstance(exponent, int) else 0)
    return abs(float(low.price) * (1 + rate) - float(high.price)) <= min(
        last / 2, 0.002 * float(high.price)
    )


def _far_from_others(beside: Beside) -> Iterator[Doubt]:
    if beside.price is None or len(beside.others) < FEWEST_OTHERS:
        return
    middle = median(beside.others)
    apart = beside.price / middle - 1
    if middle <= 0 or abs(apart) <= FAR_FROM_OTHERS:
        return
    unit = f"{beside.basis.currency}/kg"
    yield Doubt(
        "far from others",
        f"The same-basis price is {abs(apart) * 100:.0f} % {'above' if apart > 0 else 'below'} the "
        f"median of {len(beside.others)} other offers for this kind of yarn.",
        "does the price hold for this yarn, unit and delivery term?",
        (
            Compared("same basis", beside.price, unit),
            Compared(f"median of {len(beside.others)}", middle, unit),
        ),
        "a rule of ours: 25 % from the median of three or more offers",
    )
