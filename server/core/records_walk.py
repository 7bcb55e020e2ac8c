"""A construction walked on its records: offers, rates, basis, cloth, assumptions, choice of yarns.

Each stage costs the cloth anew from records of which some are of the earlier day and some of the
later, so a re-quote in another unit, currency or term, another lane or another loom rule brings its
own lines with it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from server.core.assumptions import AssumptionSet
from server.core.candidates import fits
from server.core.construction import Basis, Construction, Slot
from server.core.costing import ChosenYarn, Costing
from server.core.errors import CreelbookError, Missing
from server.core.gate import POSSIBLE, Standing, examine
from server.core.given import Given
from server.core.landing import land
from server.core.offer import Offer
from server.core.pair import costing_ne, tonnes_needed
from server.core.rates import RateBook
from server.core.sheet import Input
from server.core.walk import BASIS, CLOTH, EXCHANGE, FREIGHT, MIX, PRICE, PROCESS, Stage, Turn

Yarns = Mapping[str, str]  # slot -> code of the offer taken for it
Offers = Mapping[str, Offer]
_NOT_LOOKED_AT = "not among the offers looked at on the later day"
_WORDS_OF_OFFER = {"term": "term", "payment": "payment", "country": "goods from"}


@dataclass(frozen=True)
class Records:
    """Everything one stage rests on.

    basis: with the day all rates are looked up on
    priced, counted, woven: slot -> offer that gives price, count, and stops on the loom
    """

    construction: Construction
    basis: Basis
    assumptions: AssumptionSet
    rates: RateBook
    priced: Offers
    counted: Offers
    woven: Offers
    held: frozenset[str] = frozenset()

    def stage(self) -> Stage:
        """The cloth costed from these records. Raises Missing when one is not there."""
        assumptions = self.assumptions.in_currency(
            self.basis.currency, self.rates, self.basis.rates_on
        )
        yarns = tuple(self._yarn(slot) for slot in self.construction.slots)
        costing = Costing(self.construction, self.basis, assumptions, yarns)
        return Stage(costing.sheet, costing.inputs)

    def _yarn(self, slot: Slot) -> ChosenYarn:
        offer, woven = self.priced[slot.name], self.woven[slot.name]
        tonnes = tonnes_needed(slot, self.construction, self.basis.metres_of(self.construction))
        landing = land(offer, self.basis, self.rates, prefix=slot.name, tonnes=tonnes)
        inputs = {**landing.inputs, f"{slot.name}.costing_ne": self._count(slot)}
        return ChosenYarn(
            slot, offer.code, woven.yarn.spinning, woven.yarn.process, landing.sheet.lines,
            inputs, None, woven,
        )  # fmt: skip

    def _count(self, slot: Slot) -> Input:
        if slot.name not in self.held:
            return costing_ne(slot, self.counted[slot.name], self.basis)
        return Input(
            slot.ne,
            f"Count of the {slot.name}, as wanted",
            "Ne",
            f"construction {self.construction.code}",
            None,
            f"{self.counted[slot.name].code} is not near it; its price is held",
            f"/constructions/{self.construction.code}",
        )


@dataclass(frozen=True)
class Passage:
    """One construction of two packs with the yarns taken in each."""

    before: Given
    after: Given
    cloth_was: Construction
    cloth_now: Construction
    yarns_was: Yarns
    yarns_now: Yarns

    @cached_property
    def kept(self) -> dict[str, Offer]:
        """The offers of before, as they are quoted on the later day; gone ones as they were."""
        return {slot: self._later(code) for slot, code in self.yarns_was.items()}

    def _later(self, code: str) -> Offer:
        found = self.after.offer(replaced_by(code, self.after)) or self.after.offer(code)
        return found or _offer(self.before, code)

    @cached_property
    def chosen(self) -> dict[str, Offer]:
        """The offers of the later pack."""
        return {slot: _offer(self.after, code) for slot, code in self.yarns_now.items()}

    @cached_property
    def first(self) -> Records:
        """The records of the earlier pack."""
        offers = {slot: _offer(self.before, code) for slot, code in self.yarns_was.items()}
        on = max(self.before.basis.rates_on, self.after.basis.rates_on)  # each book holds one day
        basis = replace(self.before.basis, rates_on=on)
        given = self.before
        return Records(
            self.cloth_was, basis, given.assumptions, given.rates, offers, offers, offers
        )

    def turns(self) -> tuple[Turn, ...]:
        """Every stage after the first, with its cause. Raises Missing when one cannot be costed."""
        records, turns = self.first, []
        for cause, exchange, notes in (
            (PRICE, self._quoted_anew, self._quoted_notes()),
            (EXCHANGE, self._at_later_rates, self._basis_notes("rates_on")),
            (
                FREIGHT,
                self._on_later_lanes,
                (*self._basis_notes("rates_on", "delivery_point"), *self._duty_notes()),
            ),
            (BASIS, self._on_later_basis, self._basis_notes("quantity", "metres")),
            (CLOTH, self._in_later_cloth, self._cloth_notes()),
            (PROCESS, self._made_as_later, self._basis_notes("assumption_set", "loom_rule")),
            (MIX, self._of_chosen_yarns, self._mix_notes()),
        ):
            records = exchange(records)
            turns.append(Turn(cause, records.stage(), notes, self._names(cause)))
        return tuple(turns)

    # What each cause exchanges

    def _quoted_anew(self, records: Records) -> Records:
        return replace(records, priced=self.kept)

    def _at_later_rates(self, records: Records) -> Records:
        later = self.after.rates.exchange_rates
        return replace(records, rates=replace(records.rates, exchange_rates=later))

    def _on_later_lanes(self, records: Records) -> Records:
        return replace(records, rates=self.after.rates)

    def _on_later_basis(self, records: Records) -> Records:
        """What prices are taken for; the loom rule is left to the process."""
        later = replace(
            self.after.basis, rates_on=records.basis.rates_on, loom_rule=records.basis.loom_rule
        )
        return replace(records, basis=later)

    def _in_later_cloth(self, records: Records) -> Records:
        """The later construction with the yarns of before, and the later one in a new slot."""
        held = frozenset(slot.name for slot in self.cloth_now.slots if self._is_held(slot))
        woven = {name: records.woven.get(name, offer) for name, offer in self._in_cloth.items()}
        return replace(
            records,
            construction=self.cloth_now,
            priced=self._in_cloth,
            counted=self._in_cloth,
            woven=woven,
            held=held,
        )

    def _made_as_later(self, records: Records) -> Records:
        basis = replace(records.basis, loom_rule=self.after.basis.loom_rule)
        assumptions = self.after.assumptions
        return replace(records, basis=basis, assumptions=assumptions, woven=self._in_cloth)

    def _of_chosen_yarns(self, records: Records) -> Records:
        chosen = self.chosen
        return replace(records, priced=chosen, counted=chosen, woven=chosen, held=frozenset())

    @cached_property
    def _in_cloth(self) -> dict[str, Offer]:
        names = [slot.name for slot in self.cloth_now.slots]
        return {name: self.kept.get(name) or self.chosen[name] for name in names}

    def _is_held(self, slot: Slot) -> bool:
        """Whether the count wanted went away from the offer of before; its price is then held."""
        was, kept = _slot(self.cloth_was, slot.name), self.kept.get(slot.name)
        return bool(was and kept and was.ne != slot.ne and not fits(kept, slot))

    # What is said about a step

    def _names(self, cause: str) -> dict[str, str]:
        """What a sentence names: offers quoted otherwise, yarns exchanged."""
        if cause == PRICE:
            found = {slot: (code, self.kept[slot].code) for slot, code in self.yarns_was.items()}
            return {
                s: was if was == now else f"{was} (now {now})" for s, (was, now) in found.items()
            }
        if cause == MIX:
            both = {n: (kept, self.chosen[n]) for n, kept in self.kept.items() if n in self.chosen}
            return {
                name: f"{chosen.code} in place of {kept.code}"
                for name, (kept, chosen) in both.items()
                if kept.code != chosen.code
            }
        return {}

    def _quoted_notes(self) -> tuple[str, ...]:
        notes = []
        for slot, code in self.yarns_was.items():
            was, kept, name = _offer(self.before, code), self.kept[slot], slot.capitalize()
            if kept.code != code:
                notes.append(f"{name}: {code} was quoted anew as {kept.code}.")
            elif self.after.offer(code) is None:
                notes.append(f"{name}: {code} is {_NOT_LOOKED_AT}; its old quote stands here.")
            notes += [
                f"{name}: {label} {getattr(was, field) or 'not said'} before, "
                f"{getattr(kept, field) or 'not said'} after."
                for field, label in _WORDS_OF_OFFER.items()
                if getattr(was, field) != getattr(kept, field)
            ]
        return tuple(notes)

    def _duty_notes(self) -> tuple[str, ...]:
        """Origins whose duty is on another value than before, which no input tells."""
        notes: dict[str, None] = {}
        for offer in self.kept.values():
            bases = [_duty_base(offer, given) for given in (self.before, self.after)]
            if all(bases) and bases[0] != bases[1]:
                country = offer.country
                notes[f"Duty from {country} on {bases[0]} before, on {bases[1]} after."] = None
        return tuple(notes)

    def _basis_notes(self, *names: str) -> tuple[str, ...]:
        labels = {"rates_on": "Rates", "metres": "Metres compared"}
        notes = []
        for name in names:
            was, now = (getattr(each.basis, name) for each in (self.before, self.after))
            if was != now:
                label = labels.get(name, name.replace("_", " ").capitalize())
                notes.append(f"{label}: {_said(was)} before, {_said(now)} after.")
        return tuple(notes)

    def _cloth_notes(self) -> tuple[str, ...]:
        was, now = (
            {slot.name for slot in cloth.slots} for cloth in (self.cloth_was, self.cloth_now)
        )
        notes = [f"{name.capitalize()} is added." for name in sorted(now - was)]
        notes += [f"{name.capitalize()} is taken away." for name in sorted(was - now)]
        notes += [
            f"{slot.name.capitalize()}: {self.kept[slot.name].code} is not near the count wanted "
            "now; its price is held until the mix."
            for slot in self.cloth_now.slots
            if self._is_held(slot)
        ]
        return tuple(notes)

    def _mix_notes(self) -> tuple[str, ...]:
        notes = []
        for slot in self.cloth_now.slots:
            kept, chosen = self.kept.get(slot.name), self.chosen[slot.name]
            if kept is not None and kept.code != chosen.code:
                notes.append(
                    f"{slot.name.capitalize()}: {_named(chosen)} is taken in place of "
                    f"{_named(kept)}. {self._why(slot, kept, chosen)}"
                )
        if notes:
            notes += self._basis_notes("meeting", "need_by")
        return tuple(notes)

    def _why(self, slot: Slot, kept: Offer, chosen: Offer) -> str:
        """Why the one is taken in place of the other, as far as the records tell."""
        if not fits(kept, slot):
            return f"{kept.code} is not near what the {slot.name} wants now."
        if self.after.offer(kept.code) is None:
            return f"{kept.code} is {_NOT_LOOKED_AT}."
        standing = _standing(kept, slot, self.cloth_now, self.after)
        if standing is not None and standing.state != POSSIBLE:
            return f"{kept.code} is no longer ranked: {'; '.join(standing.reasons)}."
        earlier, then = self.before.offer(chosen.code), _slot(self.cloth_was, slot.name)
        if earlier is None or then is None:
            return f"{chosen.code} was not among the offers looked at before."
        standing = _standing(earlier, then, self.cloth_was, self.before)
        if standing is not None and standing.state != POSSIBLE:
            return f"{chosen.code} was not ranked before: {'; '.join(standing.reasons)}."
        return "Both may stand there on both days."


def passage(before: Given, after: Given, code: str, was: Yarns, now: Yarns) -> Passage:
    """The way of one construction between two packs.

    was, now: the yarns taken in each
    Raises Missing when a pack does not hold the construction.
    """
    cloths = []
    for given in (before, after):
        construction = given.construction(code)
        if construction is None:
            raise _not_held(f"construction {code}")
        cloths.append(construction)
    return Passage(before, after, cloths[0], cloths[1], was, now)


def replaced_by(code: str, given: Given) -> str:
    """The newest offer that stands in place of another; itself when nothing does."""
    seen = {code}
    while given.replaced.get(code, code) not in seen:
        code = given.replaced[code]
        seen.add(code)
    return code


def _offer(given: Given, code: str) -> Offer:
    found = given.offer(code)
    if found is None:
        raise _not_held(f"offer {code}")
    return found


def _not_held(what: str) -> Missing:
    return Missing(
        f"The records of the pack do not hold {what}.",
        field="pack",
        value=what,
        remedy="Freeze the pack again from the offers and constructions of the day.",
    )


def _slot(construction: Construction, name: str) -> Slot | None:
    return next((slot for slot in construction.slots if slot.name == name), None)


def _standing(
    offer: Offer, slot: Slot, construction: Construction, given: Given
) -> Standing | None:
    try:
        lane = given.rates.lane(offer.country, given.basis.rates_on)
        return examine(offer, slot, construction, given.basis, lane, given.limits)
    except CreelbookError:
        return None


def _duty_base(offer: Offer, given: Given) -> str:
    try:
        return given.rates.duty(offer.country, given.basis.rates_on, offer.yarn).rate.base
    except CreelbookError:
        return ""


def _named(offer: Offer) -> str:
    return f"{offer.code} ({offer.supplier.name})"


def _said(value: object) -> str:
    if value in (None, ""):
        return "not said"
    return f"{value:g}" if isinstance(value, float) else f"{value}"
