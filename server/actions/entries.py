"""What a person may enter for each noun: the columns of its form, its CSV and its API."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Self

from pydantic import Field, model_validator

from server.actions.fields import (
    AnyRole,
    AssumptionKey,
    BreakKind,
    ChargeKey,
    CoreKind,
    CountBasis,
    Currency,
    CustomsBase,
    DutyPly,
    DutyPreparation,
    Effect,
    Entry,
    LimitedProperty,
    LoomRule,
    MaybeCountSystem,
    MaybeCurrency,
    MaybeDate,
    MaybeNumber,
    MaybePayment,
    MaybePriceUnit,
    MaybeSpinning,
    MaybeTerm,
    MaybeWhole,
    Name,
    Number,
    OriginState,
    PatternText,
    QuantityRule,
    Role,
    Text,
    Twist,
    choice,
    day,
    number,
    whole,
    words,
)
from server.core.assumptions import KINDS
from server.core.offer import HUNDREDTHS
from server.core.patterns import IN_COUNTS, LONGEST_TEXT, NOTATION
from server.core.patterns import UNIT as PATTERN_UNIT
from server.core.rates import CHARGES


class SupplierEntry(Entry):
    """A supplier."""

    name: Name = words("Name")
    country: Name = words("Country", longest=80)
    makes: Name = words("Makes", longest=300, default="", help="What it spins")
    origin_state: OriginState = choice(
        "Cotton-origin file",
        "How complete the records through the whole chain are",
        default="missing",
    )
    origin_on: MaybeDate = day("File looked at on", default=None)
    origin_owner: Name = words("File looked at by", default="")
    contacts: Text = words("Contacts", longest=2000, default="")
    notes: Text = words("Notes", longest=4000, default="")


class OfferEntry(Entry):
    """An offer with its yarn, price breaks and test values."""

    code: Name = words("Offer code", longest=40, help="Your own short name for the offer")
    supplier: Name = words("Supplier", help="Name of a supplier already entered")
    replaces: Name = words(
        "Replaces offer",
        longest=40,
        default="",
        help="Code of the earlier offer this one takes the place of",
    )
    as_quoted: Text = words("As quoted", longest=2000, help="The seller's own words, kept for ever")
    price: Number = number("Price", "quoted currency and unit", above=0)
    currency: MaybeCurrency = words(
        "Currency",
        longest=3,
        default="",
        help="ISO 4217 code as quoted; USc for cents; leave empty if not said",
    )
    price_unit: MaybePriceUnit = choice("Price for one", default="")
    tax_inside_percent: Number = number("Tax inside the price", "%", least=0, most=60, default="0")
    break_kind: BreakKind = choice(
        "Price breaks",
        "Whether a break prices the whole quantity or only the excess",
        default="all units",
    )
    break1_from_tonnes: MaybeNumber = number("Break 1 from", "t", above=0, optional=True)
    break1_price: MaybeNumber = number("Break 1 price", "as the price", above=0, optional=True)
    break2_from_tonnes: MaybeNumber = number("Break 2 from", "t", above=0, optional=True)
    break2_price: MaybeNumber = number("Break 2 price", "as the price", above=0, optional=True)
    break3_from_tonnes: MaybeNumber = number("Break 3 from", "t", above=0, optional=True)
    break3_price: MaybeNumber = number("Break 3 price", "as the price", above=0, optional=True)
    term: MaybeTerm = choice(
        "Delivery term", "As the contract names it; “FOB mill” is FCA", default=""
    )
    place: Name = words("Named place", longest=120, default="")
    ships_from: Name = words(
        "Ships from", longest=80, default="", help="Country, when it is not the supplier's own"
    )
    payment: MaybePayment = words(
        "Payment",
        longest=40,
        default="",
        help="LC sight, LC 60, CAD, OA 30, TT advance or TT 30/70; leave empty if not said",
    )
    quoted_regain_percent: MaybeNumber = number(
        "Weight basis (regain)",
        "%",
        least=0,
        most=30,
        usual=(0.3, 13),
        optional=True,
        help="Regain the price is based on; leave empty if not said",
    )
    lead_days: MaybeWhole = whole("Lead time", "d", least=0, most=720, default=None)
    quoted_on: date = day("Quoted on")
    valid_until: MaybeDate = day("Valid until", default=None)
    moq_tonnes: MaybeNumber = number("Minimum order", "t", least=0, usual=(1, 25), optional=True)
    capacity_tonnes: MaybeNumber = number("Capacity this season", "t", least=0, optional=True)
    count_tolerance_percent: MaybeNumber = number(
        "Count tolerance ±", "%", least=0, most=20, usual=(0.5, 3), optional=True
    )
    count: Number = number("Count as quoted", "count system", above=0, most=100000)
    count_system: MaybeCountSystem = choice("Count system", default="")
    count_basis: CountBasis = choice(
        "Count basis",
        "Average or base of a slub yarn, total or sheath of a core yarn",
        default="average",
    )
    ply: int = whole("Ply", "singles", least=1, most=12, default=1)
    spinning: MaybeSpinning = choice(
        "Spinning system", "The process, whatever the look is called", default=""
    )
    preparation: Name = words("Preparation", longest=80, default="", help="Carded, combed …")
    twist: Twist = choice("Twist direction", default="unknown")
    twist_multiplier: MaybeNumber = number(
        "Twist multiplier αe", "", above=0, most=12, usual=(3, 5.5), optional=True
    )
    effect: Effect = choice("Effect", default="plain")
    slub_added_mass_percent: MaybeNumber = number(
        "Mass the slubs add", "% of base", least=0, most=200, usual=(2, 40), optional=True
    )
    pattern: PatternText = words(
        "Pattern along the yarn",
        longest=LONGEST_TEXT,
        unit=PATTERN_UNIT,
        default="",
        help=f"One repeat: length in cm and times as heavy as the base, such as {NOTATION}; a "
        f"length may be a range (25-35 x1); steps may be counts ({IN_COUNTS})",
    )
    core: CoreKind = choice("Core", default="none")
    core1_denier: MaybeNumber = number("Core 1", "den", above=0, most=2000, optional=True)
    core1_draft: MaybeNumber = number("Core 1 draft", "×", least=1, most=8, optional=True)
    core2_denier: MaybeNumber = number("Core 2", "den", above=0, most=2000, optional=True)
    core2_draft: MaybeNumber = number("Core 2 draft", "×", least=1, most=8, optional=True)
    fibre_mix: Name = words(
        "Fibre mix", longest=80, default="cotton", help="Names the house regain that applies"
    )
    description: Name = words("Seller's description", longest=300, default="")
    average_ne: MaybeNumber = number("Average count, measured", "Ne", above=0, optional=True)
    tenacity: MaybeNumber = number(
        "Tenacity", "cN/tex", above=0, most=100, usual=(8, 25), optional=True
    )
    evenness: MaybeNumber = number(
        "Evenness CVm", "%", above=0, most=100, usual=(9, 25), optional=True
    )
    hairiness: MaybeNumber = number(
        "Hairiness H", "", above=0, most=50, usual=(3, 12), optional=True
    )
    count_cv: MaybeNumber = number("Count CV", "%", least=0, most=50, usual=(0.5, 3), optional=True)
    elongation: MaybeNumber = number("Elongation at break", "%", above=0, most=100, optional=True)
    imperfections: MaybeNumber = number(
        "Imperfections (IPI)",
        "1/km",
        least=0,
        most=100000,
        usual=(5, 2000),
        optional=True,
        help="Thin and thick places and neps per kilometre; not for slub and fancy yarns",
    )
    warp_stops: MaybeNumber = number(
        "Warp stops, on our looms",
        "stops/100,000 picks",
        least=0,
        most=1000,
        usual=(0.2, 15),
        optional=True,
        help="Our own count with this yarn in the warp; stands in place of the assumed one",
    )
    filling_stops: MaybeNumber = number(
        "Filling stops, on our looms",
        "stops/100,000 picks",
        least=0,
        most=1000,
        usual=(0.2, 15),
        optional=True,
        help="Our own count with this yarn in the filling; stands in place of the assumed one",
    )
    test_method: Name = words("Test method", longest=120, default="supplier's sheet")
    test_lot: Name = words("Lot", longest=80, default="")
    tested_on: MaybeDate = day("Tested on", default=None)
    notes: Text = words("Notes", longest=4000, default="")

    @model_validator(mode="after")
    def fits_together(self) -> Self:
        """Dates in order, breaks complete and rising, cores described when there is one."""
        if self.valid_until is not None and self.valid_until < self.quoted_on:
            raise ValueError("valid_until: is before the day of the quote; check both dates")
        last = Decimal(0)
        for place in (1, 2, 3):
            start = getattr(self, f"break{place}_from_tonnes")
            price = getattr(self, f"break{place}_price")
            if (start is None) != (price is None):
                raise ValueError(f"break{place}_price: enter both the tonnes and the price")
            if start is not None:
                if start <= last:
                    raise ValueError(f"break{place}_from_tonnes: must be above the break before")
                last = start
        for place in (1, 2):
            draft = getattr(self, f"core{place}_draft")
            if draft is not None and getattr(self, f"core{place}_denier") is None:
                raise ValueError(f"core{place}_denier: enter the denier with the draft of the core")
        if self.pattern and self.effect == "plain":
            raise ValueError("effect: a plain yarn has no pattern; choose slub or multi-count")
        return self


class ExchangeRateEntry(Entry):
    """An exchange rate: 1 base = rate quote."""

    base: Currency = words("One unit of", longest=3, help="ISO 4217 code")
    quote: Currency = words("is worth, in", longest=3, help="ISO 4217 code")
    rate: Number = number("Rate", "quote for one base", above=0)
    valid_from: date = day("Valid from")
    source: Name = words("Source", longest=300)

    @model_validator(mode="after")
    def two_currencies(self) -> Self:
        """A rate ties two different whole currencies."""
        if self.base == self.quote:
            raise ValueError("quote: must be another currency than the base")
        for name in ("base", "quote"):
            if getattr(self, name) in HUNDREDTHS:
                raise ValueError(f"{name}: enter the rate of the whole unit, not of cents")
        return self


class FreightLaneEntry(Entry):
    """The way from a country to the mill."""

    country: Name = words("From country", longest=80)
    route: Name = words("Route", longest=120)
    currency: Currency = words("Currency", longest=3)
    freight: Number = number("Freight for a load", "currency", least=0)
    load_mass_kg: Number = number("Yarn in a load", "kg", above=0, usual=(15000, 28000))
    inland: Number = number("Inland, port to mill", "currency/kg", least=0, usual=(0, 0.3))
    transit_days: int = whole("Transit", "d", least=0, most=365)
    domestic: bool = Field(
        default=False,
        title="Domestic",
        description="No customs border",
        json_schema_extra={"unit": ""},
    )
    valid_from: date = day("Valid from")
    source: Name = words("Source", longest=300)


class DutyRateEntry(Entry):
    """Import duty on yarn of an origin: on all of it, or on the yarns of one tariff line."""

    country: Name = words("Origin", longest=80)
    rate_percent: Number = number("Duty", "% of customs value", least=0, most=500, usual=(0, 30))
    base: CustomsBase = choice("Customs value", "CIF or FOB, by the importing law", default="CIF")
    valid_from: date = day("Valid from")
    source: Name = words("Source", longest=300)
    tariff_line: Name = words(
        "Tariff line", longest=40, default="", help="Number of the line, as the tariff writes it"
    )
    dtex_from: MaybeNumber = number(
        "Count from",
        "dtex",
        above=0,
        most=100000,
        optional=True,
        help="Of the single yarn, “714.29 dtex or more”; leave empty if the line is open",
    )
    dtex_below: MaybeNumber = number(
        "Count under",
        "dtex",
        above=0,
        most=100000,
        optional=True,
        help="Of the single yarn, “less than 714.29 dtex”; dtex = 5905.4 / Ne",
    )
    preparation: DutyPreparation = choice(
        "Preparation", "“Of uncombed fibres” is carded", default="any"
    )
    ply: DutyPly = choice("Ply", "Single, or plied (“multiple (folded) or cabled”)", default="any")
    fibre_mix: Name = words(
        "Fibre mix", longest=80, default="any", help="As the offers name it; any for all"
    )

    @model_validator(mode="after")
    def limits_in_order(self) -> Self:
        """A line has some counts."""
        low, high = self.dtex_from, self.dtex_below
        if low is not None and high is not None and high <= low:
            raise ValueError("dtex_below: must be above the count the line begins at")
        return self


class ChargeEntry(Entry):
    """A dated charge or convention of the landed price."""

    key: ChargeKey = choice("Charge")
    value: Number = number("Value", "% for shares, else as the charge says", least=0)
    currency: MaybeCurrency = words(
        "Currency", longest=3, default="", help="Only for charges in money"
    )
    valid_from: date = day("Valid from")
    source: Name = words("Source", longest=300)

    @model_validator(mode="after")
    def money_has_a_currency(self) -> Self:
        """A charge in money needs its currency, the others have none."""
        in_money = CHARGES[self.key][1].startswith("¤")
        if in_money and not self.currency:
            raise ValueError("currency: is needed for a charge in money")
        if not in_money and self.currency:
            raise ValueError("currency: leave it empty, this charge is not in money")
        return self


class AssumptionEntry(Entry):
    """One process assumption."""

    set_name: Name = words("Assumption set", longest=120)
    currency: Currency = words("Currency of the set", longest=3, help="What its money is in")
    key: AssumptionKey = choice("Assumption")
    at_ne: MaybeNumber = number(
        "At count",
        "Ne",
        above=0,
        most=200,
        optional=True,
        help="Only for values that depend on the count",
    )
    value: Number = number("Value", "% for shares, else as the assumption says", least=0)
    low: MaybeNumber = number("Low", "as the value", least=0, optional=True)
    high: MaybeNumber = number("High", "as the value", least=0, optional=True)
    source: Name = words("Source", longest=300)
    noted_on: date = day("Noted on")

    @model_validator(mode="after")
    def within_limits(self) -> Self:
        """The value lies within the hard limits of its kind; a count only where it matters."""
        kind = KINDS[self.key]
        factor = 100 if kind.unit.startswith("share") else 1
        unit = "%" if factor == 100 else kind.unit
        least, most = kind.least * factor, None if kind.most is None else kind.most * factor
        if float(self.value) < least or (most is not None and float(self.value) > most):
            upper = "" if most is None else f" and at most {most:g}"
            raise ValueError(f"value: must be at least {least:g}{upper} {unit} for {kind.label}")
        if kind.whole and self.value % 1:
            raise ValueError(f"value: must be a whole number of {unit} for {kind.label}")
        if self.at_ne is not None and not kind.by_count:
            raise ValueError(f"at_ne: {kind.label} does not depend on the count; leave it empty")
        if kind.by_count and self.at_ne is None:
            raise ValueError(f"at_ne: {kind.label} depends on the count; enter the count")
        if (self.low is not None and self.low > self.value) or (
            self.high is not None and self.high < self.value
        ):
            raise ValueError("low: the range must hold the value")
        return self


class GateLimitEntry(Entry):
    """A limit an offer is held to in a role."""

    role: Role = choice("Role")
    property: LimitedProperty = choice(
        "Property", "Tenacity and elongation are least values, the others most values"
    )
    value: Number = number("Limit", "cN/tex, %, or as the property says", least=0)
    source: Name = words("Source", longest=300)


class GateOverrideEntry(Entry):
    """A person's decision that one finding of the gate is accepted for an offer."""

    about: Name = words("Finding", longest=40, help="What the gate looked at, such as tenacity")
    role: AnyRole = choice("Accepted for", default="all roles")
    reason: Text = words(
        "Reason",
        longest=500,
        least=10,
        help="At least 10 characters; it stands wherever the offer stands",
    )
    until: MaybeDate = day("Holds until", "Last as-of date on which it counts", default=None)


class BasisEntry(Entry):
    """On what offers are compared."""

    name: Name = words("Name", longest=120)
    currency: Currency = words("Reporting currency", longest=3)
    rates_on: date = day("Rates of")
    delivery_point: Name = words("Delivery point", longest=120)
    as_of: date = day("As of")
    meeting: date = day("Meeting", "Day the order is decided; offers must be valid on it")
    need_by: date = day("Need by", "Day the yarn must be at the mill")
    quantity: QuantityRule = choice("Quantity for price breaks", default="first price")
    metres: MaybeNumber = number("Metres", "m", above=0, optional=True)
    loom_rule: LoomRule = choice(
        "Loom efficiency",
        "From stops: worked out from the warp and filling stops of each pair's own yarns",
        default="as assumed",
    )
    assumption_set: Name = words("Assumption set", longest=120)
    count_threshold_percent: Number = number(
        "Own count used above",
        "% difference",
        least=0,
        most=10,
        default="0.3",
        help="An offer's own count replaces the wanted one when it differs by more",
    )
    mix1: Name = words("Fibre mix 1", longest=80, default="cotton")
    mix1_regain_percent: MaybeNumber = number(
        "House regain 1", "%", least=0, most=30, optional=True
    )
    mix2: Name = words("Fibre mix 2", longest=80, default="")
    mix2_regain_percent: MaybeNumber = number(
        "House regain 2", "%", least=0, most=30, optional=True
    )
    mix3: Name = words("Fibre mix 3", longest=80, default="")
    mix3_regain_percent: MaybeNumber = number(
        "House regain 3", "%", least=0, most=30, optional=True
    )
    mix4: Name = words("Fibre mix 4", longest=80, default="")
    mix4_regain_percent: MaybeNumber = number(
        "House regain 4", "%", least=0, most=30, optional=True
    )

    @model_validator(mode="after")
    def fits_together(self) -> Self:
        """Dates in order, a quantity when metres are asked for, a regain for every mix."""
        if self.need_by < self.meeting:
            raise ValueError("need_by: is before the meeting")
        if self.quantity == "metres" and self.metres is None:
            raise ValueError("metres: enter the metres to buy for")
        if self.currency in HUNDREDTHS:
            raise ValueError("currency: report in a whole currency")
        for place in (1, 2, 3, 4):
            mix = getattr(self, f"mix{place}")
            if bool(mix) != (getattr(self, f"mix{place}_regain_percent") is not None):
                raise ValueError(f"mix{place}_regain_percent: enter both the mix and its regain")
        return self
