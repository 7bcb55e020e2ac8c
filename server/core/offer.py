"""An offer as quoted, and what its words mean in figures.

The seller's text, price, currency, unit, count and term are kept as they came; everything here
that is a number for the engine is derived from them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from functools import cached_property

from server.core.errors import BadValue
from server.core.formula import formula
from server.core.overrides import Override, in_words
from server.core.patterns import Pattern
from server.core.quantities import Days, Share
from server.core.questions import NOT_SAID, Question
from server.core.units import (
    KG_PER_LB,
    ne_from_tex,
    tex_from_denier,
    tex_from_dtex,
    tex_from_ne,
    tex_from_nm,
)
from server.core.yarn import core_share, core_tex, slub_average_ne, total_tex_from_sheath

SPINNING_SYSTEMS = ("ring", "compact ring", "OE", "air-jet")
COUNT_SYSTEMS = ("Ne", "Nm", "tex", "dtex", "den")
COUNT_BASES = ("average", "base", "total", "sheath", "unknown")
TWIST_DIRECTIONS = ("Z", "S", "unknown")
EFFECTS = ("plain", "slub", "multi-count", "multi-count slub")
CORES = ("none", "elastane", "dual core")
ORIGIN_STATES = (
    "complete",
    "partly documented",
    "invoice chain only",
    "pending",
    "incomplete",
    "missing",
)
BREAK_KINDS = ("all units", "incremental", "unknown")

KG_PER_PRICE_UNIT = {
    "kg": 1.0,
    "10 kg": 10.0,
    "t": 1000.0,
    "lb": KG_PER_LB,
    "10 lb": 10 * KG_PER_LB,
    "100 kg": 100.0,
    "100 lb": 100 * KG_PER_LB,
    "short ton": 2000 * KG_PER_LB,
    "bale (400 lb)": 400 * KG_PER_LB,
    "bale (480 lb)": 480 * KG_PER_LB,
}
HUNDREDTHS = {"USc": "USD"}  # currencies quoted in hundredths, as the trade writes them

TEST_PROPERTIES = {
    "average_ne": ("Average count, measured", "Ne"),
    "tenacity": ("Tenacity", "cN/tex"),
    "evenness": ("Evenness CVm", "%"),
    "hairiness": ("Hairiness H", ""),
    "count_cv": ("Count CV", "%"),
    "elongation": ("Elongation at break", "%"),
    "imperfections": ("Imperfections (IPI)", "1/km"),
    "warp_stops": ("Warp stops in 100,000 picks, on our looms", "stops"),
    "filling_stops": ("Filling stops in 100,000 picks, on our looms", "stops"),
}


@dataclass(frozen=True, slots=True)
class Supplier:
    """Who offers. origin_state: how complete the cotton-origin file is."""

    id: int
    name: str
    country: str
    makes: str = ""
    origin_state: str = "missing"


@dataclass(frozen=True, slots=True)
class Core:
    """One core filament: denier as fed and the draft put on it while spinning."""

    denier: float
    draft: float

    @property
    def tex(self) -> float:
        """Linear density of the drafted filament [tex]."""
        return float(core_tex(core_denier=self.denier, core_draft=self.draft))


@dataclass(frozen=True)
class Yarn:
    """What is offered.

    count: the figure as quoted, in `count_system`; of the single yarn when `ply` is above 1
    count_basis: average or base (slub), total or sheath (core-spun), unknown when not said
    slub_added_mass: mass the slubs add on the base yarn [share]; None when not said
    pattern: lengths and multipliers along the yarn; None when not said
    fibre_mix: name of the house regain that applies
    """

    id: int
    count: Decimal
    count_system: str
    count_basis: str
    spinning: str
    ply: int = 1
    preparation: str = ""
    twist: str = "unknown"
    effect: str = "plain"
    slub_added_mass: float | None = None
    core: str = "none"
    cores: tuple[Core, ...] = ()
    fibre_mix: str = "cotton"
    description: str = ""
    pattern: Pattern | None = None

    @property
    def added_mass(self) -> float | None:
        """Mass the effect adds on the base yarn [share]: as stated, else from the pattern."""
        if self.slub_added_mass is not None or self.pattern is None:
            return self.slub_added_mass
        return self.pattern.added_mass

    @property
    def quoted_tex(self) -> float | None:
        """Linear density that the quoted figure states, plies together, on its own basis [tex].

        None while the count system is not known.
        """
        if not self.count_system:
            return None
        figure = float(self.count)
        single = figure
        if self.count_system == "Ne":
            single = tex_from_ne(ne=figure)
        elif self.count_system == "Nm":
            single = tex_from_nm(nm=figure)
        elif self.count_system == "dtex":
            single = tex_from_dtex(dtex=figure)
        elif self.count_system == "den":
            single = tex_from_denier(denier=figure)
        return float(single) * self.ply

    @cached_property
    def quoted_ne(self) -> float | None:
        """The quoted count in Ne, on its own basis [Ne]; None while the system is not known."""
        if self.count_system == "Ne":
            return float(self.count) / self.ply
        tex = self.quoted_tex
        return None if tex is None else float(ne_from_tex(tex=tex))

    @cached_property
    def average_ne(self) -> float | None:
        """Count of the whole yarn, slubs and core included [Ne]; None while it is not known."""
        quoted = self.quoted_ne
        if quoted is None or self.count_basis == "unknown":
            return None
        if self.count_basis == "base":
            if self.added_mass is None:
                return None
            return float(slub_average_ne(base_ne=quoted, slub_added_mass=self.added_mass))
        if self.count_basis == "sheath":
            if not self.cores:
                return None
            return float(
                ne_from_tex(
                    tex=total_tex_from_sheath(
                        sheath_ne=quoted, core_tex=sum(core.tex for core in self.cores)
                    )
                )
            )
        return quoted

    @property
    def elastane_share(self) -> float | None:
        """Share of the first core filament in the yarn [share]; None without a known core."""
        average = self.average_ne
        if not self.cores or average is None:
            return None
        return float(core_share(core_tex=self.cores[0].tex, total_tex=tex_from_ne(ne=average)))

    @property
    def count_text(self) -> str:
        """The count as the trade writes it, with the basis when it matters."""
        notation = f"/{self.ply}" if self.count_system in ("Ne", "Nm") else ""
        basis = f" ({self.count_basis})" if self.effect != "plain" or self.core != "none" else ""
        figure = f"{self.count_system or 'count'} {self.count.normalize():f}{notation}"
        if self.count_system not in ("", "Ne", "Nm"):
            figure = f"{self.count.normalize():f} {self.count_system}"
        return figure + basis

    @cached_property
    def process(self) -> str:
        """Spinning system with its effect, as it stands in a combination: `ring slub`."""
        effect = {"plain": ""}.get(self.effect, f" {self.effect}")
        core = {"none": "", "elastane": " core-spun", "dual core": " dual-core"}[self.core]
        return f"{self.spinning or 'process not said'}{effect}{core}"


@dataclass(frozen=True, slots=True)
class PriceBreak:
    """From this quantity on the price is this."""

    from_tonnes: Decimal
    price: Decimal


@dataclass(frozen=True)
class Offer:
    """A seller's priced promise, as quoted, with the test values on its sheet.

    price: for one `price_unit` in `currency` (a currency may be in hundredths, such as USc)
    tax_inside: tax included in the price [share]
    quoted_regain: regain of the seller's weight basis [share]; None when not said
    tests: property of TEST_PROPERTIES -> value
    test_sources: property -> method with its lot, and the day
    asked: questions put when the offer came in and not answered yet
    intake_id, intake_line: the paste or file it came in with; None when it was typed
    overrides: findings of the gate that a named person accepted for it

    What the seller did not say is "" (currency, price_unit, term, payment) or None (lead_days,
    valid_until, quoted_regain); `open_questions` names it.
    """

    id: int
    code: str
    supplier: Supplier
    yarn: Yarn
    as_quoted: str
    price: Decimal
    currency: str
    price_unit: str
    term: str
    place: str
    payment: str
    lead_days: int | None
    quoted_on: date
    valid_until: date | None
    tax_inside: float = 0.0
    quoted_regain: float | None = None
    breaks: tuple[PriceBreak, ...] = ()
    break_kind: str = "all units"
    moq_tonnes: float | None = None
    capacity_tonnes: float | None = None
    count_tolerance: float | None = None
    ships_from: str = ""
    notes: str = ""
    tests: Mapping[str, float] = field(default_factory=dict)
    test_sources: Mapping[str, tuple[str, date | None]] = field(default_factory=dict)
    asked: tuple[Question, ...] = ()
    intake_id: int | None = None
    intake_line: int | None = None
    overrides: tuple[Override, ...] = ()

    @cached_property
    def open_questions(self) -> tuple[Question, ...]:
        """What the seller has to say before this offer can be ranked.

        Questions put when the offer came in, then the fields it leaves empty.
        """
        said = {
            "currency": self.currency,
            "price_unit": self.price_unit,
            "count_system": self.yarn.count_system,
            "count_basis": self.yarn.count_basis != "unknown",
            "spinning": self.yarn.spinning,
            "term": self.term,
            "payment": self.payment,
            "quoted_regain_percent": self.quoted_regain is not None,
            "lead_days": self.lead_days is not None,
            "valid_until": self.valid_until is not None,
            "break_kind": not self.breaks or self.break_kind != "unknown",
        }
        put = {question.field for question in self.asked}
        missing = (NOT_SAID[name] for name, met in said.items() if not met and name not in put)
        return (*self.asked, *missing)

    @property
    def decisions(self) -> str:
        """What somebody accepted about it, for which role, who and why; "" for most offers."""
        return in_words(self.overrides)

    @property
    def country(self) -> str:
        """Where the goods come from: the supplier's country unless the offer says another."""
        return self.ships_from or self.supplier.country

    def price_for(self, tonnes: float | None) -> Decimal:
        """The price for one quantity; the first price when no quantity is given.

        tonnes: yarn needed in this comparison [t]
        All-units: the tier reached prices everything. Incremental: the average over the tiers.
        """
        if tonnes is None or not self.breaks:
            return self.price
        steps = [PriceBreak(Decimal(0), self.price), *self.breaks]
        reached = [step for step in steps if float(step.from_tonnes) <= tonnes]
        if self.break_kind != "incremental":
            return reached[-1].price
        amount = Decimal(str(tonnes))
        if amount == 0:
            return self.price
        ends = [step.from_tonnes for step in reached[1:]] + [amount]
        paid = sum(
            (end - step.from_tonnes) * step.price for step, end in zip(reached, ends, strict=True)
        )
        return paid / amount

    @property
    def price_text(self) -> str:
        """The price as quoted, digit for digit."""
        return f"{self.price} {self.currency or '?'}/{self.price_unit or '?'}"


@formula(source="definition: days weighted by the share paid on them")
def payment_day(*, advance_share: Share, lead_days: Days, days_after_shipment: Days) -> Days:
    """Day on which the seller is paid, counted from the order.

    advance_share: share paid with the order [share]
    lead_days: order to shipment [d]
    days_after_shipment: shipment to payment of the rest [d]
    """
    return (1 - advance_share) * (lead_days + days_after_shipment)


@dataclass(frozen=True, slots=True)
class PaymentTerms:
    """A payment term in figures: what is paid with the order, and when the rest falls due."""

    advance_share: float
    days_after_shipment: float
    waits_for: str  # name of the dated charge that states the days, or ""


def read_payment(text: str) -> PaymentTerms:
    """Payment terms from the trade's wording.

    text: `LC sight`, `LC 60`, `CAD`, `OA 30`, `TT advance` or `TT 30/70`
    Raises BadValue for anything else.
    """
    words = text.strip()
    if words == "LC sight":
        return PaymentTerms(0.0, 0.0, "lc_sight_days")
    if words in ("CAD", "TT 0/100"):
        return PaymentTerms(0.0, 0.0, "documents_days")
    if words == "TT advance":
        return PaymentTerms(1.0, 0.0, "")
    if match := re.fullmatch(r"(?:LC|OA) (\d{1,3})", words):
        return PaymentTerms(0.0, float(match[1]), "")
    if (match := re.fullmatch(r"TT (\d{1,2})/(\d{1,2})", words)) and (
        int(match[1]) + int(match[2]) == 100
    ):
        return PaymentTerms(int(match[1]) / 100, 0.0, "documents_days")
    raise BadValue(
        f"Payment “{text[:40]}” is not understood.",
        field="payment",
        value=text,
        remedy="Write LC sight, LC 60, CAD, OA 30, TT advance or TT 30/70.",
    )
