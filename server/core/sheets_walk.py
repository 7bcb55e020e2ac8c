"""A column of a variant walked on its frozen sheets, for which no records are kept.

Lines and inputs belong to causes by what they are: the landed lines of a yarn, the rates, the rest
of the cloth. Each stage takes the lines and inputs of the causes already gone through from the
later sheet and the others from the earlier one.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from server.core.assumptions import KINDS
from server.core.errors import Missing
from server.core.formula import FORMULAS
from server.core.given import Given
from server.core.landed import LEGS, goods_price
from server.core.pack import FrozenPair, Pack
from server.core.pair import assumption_of
from server.core.rates import CHARGES, exchange_rate_used, inverse_exchange_rate
from server.core.records_walk import replaced_by
from server.core.sheet import Input, Line, Sheet
from server.core.walk import (
    BASIS,
    CLOTH,
    EXCHANGE,
    FREIGHT,
    MIX,
    PRICE,
    PROCESS,
    Stage,
    Turn,
)

ORDER = (PRICE, EXCHANGE, FREIGHT, BASIS, CLOTH, PROCESS, MIX)
_EFFICIENCY = "loom_efficiency"
_MOVED = "_moved"  # ends the key of a line that moves freight into the reporting currency
_DUTY_LINES = ("duty", "fob_value", "freight_inside", "insurance_inside")


def stage_of(pack: Pack, pair: FrozenPair) -> Stage:
    """A frozen pair as a sheet of today's formulas with its frozen inputs.

    Raises Missing when a formula of it is no longer there, or takes other arguments.
    """
    lines = []
    for line in pack.lines_of(pair):
        known = FORMULAS.get(line.formula)
        if known is None or {each.name for each in known.arguments} != set(dict(line.feeds)):
            raise Missing(
                f"The formula of “{line.label}” is no longer what it was in {pack.reference}.",
                field="pack",
                value=line.formula,
                remedy="Read the two packs side by side; their figures stand as they were frozen.",
            )
        lines.append(Line(line.key, known.function, dict(line.feeds), line.label))
    inputs = {
        name: Input(
            each.value, each.label, each.unit, each.source, each.on, each.as_entered, each.where
        )
        for name, each in pack.inputs_of(pair).items()
    }
    return Stage(Sheet(tuple(lines)), inputs)


def turns_of(
    figure: str,
    before: tuple[Pack, FrozenPair],
    after: tuple[Pack, FrozenPair],
    later: Given,
) -> tuple[Stage, tuple[Turn, ...]]:
    """The first stage and every one after it, with its cause.

    later: the records behind the later pack, for what replaced an offer
    """
    was, now = ({yarn.slot: yarn.code for yarn in pair.yarns} for _, pair in (before, after))
    exchanged = frozenset(
        slot for slot in was.keys() & now.keys() if not _is_same(was[slot], now[slot], later)
    )
    first, last = alike(stage_of(*before), stage_of(*after))
    both = _Both(
        figure,
        first,
        last,
        tuple(now) + tuple(slot for slot in was if slot not in now),
        frozenset(was),
        frozenset(now),
        exchanged,
    )
    turns = []
    for place, cause in enumerate(ORDER, start=1):
        names: dict[str, str] = {}
        if cause == PRICE:
            names = {slot: was[slot] for slot in was if slot not in exchanged}
        elif cause == MIX:
            names = {s: f"{now[s]} in place of {was[s]}" for s in now if s in exchanged}
        turns.append(Turn(cause, both.stage(ORDER[:place]), (), names))
    return both.stage(()), tuple(turns)


def alike(first: Stage, last: Stage) -> tuple[Stage, Stage]:
    """Two stages with every rate quoted the same way and all freight in the same money.

    Where a rate is quoted the other way round in one of them, its reciprocal stands in; where a
    lane or a charge changed its currency, its amounts stand in the reporting currency, each at the
    rate of its own day. No figure changes by it.
    """
    names = [
        name
        for name, entry in first.inputs.items()
        if name in last.inputs and last.inputs[name].unit != entry.unit and _is_shared(name)
    ]
    return _reworked(first, names), _reworked(last, names)


def _is_shared(name: str) -> bool:
    return name.startswith(("exchange_rate.", "lane.")) or name in CHARGES


def _reworked(stage: Stage, names: Collection[str]) -> Stage:
    inputs, lines = dict(stage.inputs), list(stage.sheet.lines)
    for name in names:
        entry = stage.inputs[name]
        turned = [line for line in lines if line.formula is inverse_exchange_rate]
        if any(name in line.sources.values() for line in turned):
            inputs[name] = replace(entry, value=1 / entry.value, unit="¤/¤q")
            lines = [_not_turned(line, name) for line in lines]
        moving = [
            line for line in lines if line.key.endswith(_MOVED) and name in line.sources.values()
        ]
        if moving:
            unit = "¤/kg" if moving[0].formula is goods_price else "¤"
            said = entry.as_entered or f"{float(entry.value):g} {entry.unit}"
            value = stage.value(moving[0].key)
            inputs[name] = replace(entry, value=value, unit=unit, as_entered=said)
        for gone in moving:
            lines = [_fed(line, gone.key, name) for line in lines if line.key != gone.key]
    return Stage(Sheet(tuple(lines)), inputs)


def _not_turned(line: Line, name: str) -> Line:
    """A line that took the reciprocal of a rate, taking the rate as it now stands."""
    if line.formula is not inverse_exchange_rate or name not in line.sources.values():
        return line
    return replace(line, formula=exchange_rate_used, feeds={"exchange_rate": name})


def _fed(line: Line, was: str, now: str) -> Line:
    """A line that takes another source."""
    if was not in line.sources.values():
        return line
    feeds = {argument: now if each == was else each for argument, each in line.sources.items()}
    return replace(line, feeds=feeds)


def _is_same(was: str, now: str, later: Given) -> bool:
    return was == now or replaced_by(was, later) == now


@dataclass(frozen=True)
class _Both:
    """Two sheets of one cloth. exchanged: slots whose yarn is another one"""

    figure: str
    first: Stage
    last: Stage
    slots: tuple[str, ...]
    slots_was: frozenset[str]
    slots_now: frozenset[str]
    exchanged: frozenset[str]

    def stage(self, done: Sequence[str]) -> Stage:
        """The stage at which some causes are gone through."""
        lines: dict[str, Line] = {}
        present = self.slots_now if CLOTH in done else self.slots_was
        for slot in (slot for slot in self.slots if slot in present):
            section = self._sections[self._section_cause(slot) in done].get(slot, {})
            if self._has_own_duty_lines(slot):
                named = {f"{slot}.{part}" for part in _DUTY_LINES}
                section = {key: line for key, line in section.items() if key not in named}
                later = self._sections[FREIGHT in done][slot]  # what only its duty rests on, too
                section = later | section | {k: line for k, line in later.items() if k in named}
            lines |= section
        lines |= self._rest[CLOTH in done]
        rule = self._rule[PROCESS in done]
        if rule is not None:
            for each in self._rule:
                lines = {k: line for k, line in lines.items() if k not in (each or {})}
            lines |= rule
        sheet = Sheet(_ordered(lines, self.figure))
        return Stage(sheet, {name: self._input(name, done) for name in sheet.input_names})

    def _input(self, name: str, done: Sequence[str]) -> Input:
        turned = self._cause_of(name) in done
        sides = (self.last, self.first) if turned else (self.first, self.last)
        for side in sides:
            if name in side.inputs:
                return side.inputs[name]
        raise Missing(
            f"Neither sheet says {name}.",
            field="pack",
            value=name,
            remedy="Read the two packs side by side; their figures stand as they were frozen.",
        )

    @cached_property
    def _sections(self) -> tuple[dict[str, dict[str, Line]], dict[str, dict[str, Line]]]:
        """The lines from quote to same-basis price of each slot, before and after."""
        first, last = (
            {
                slot: {line.key: line for line in stage.sheet.needed_for((_price(slot),))}
                for slot in self.slots
                if _price(slot) in stage.sheet.by_key
            }
            for stage in (self.first, self.last)
        )
        return first, last

    @cached_property
    def _rest(self) -> tuple[dict[str, Line], dict[str, Line]]:
        """The lines of the cloth itself."""
        first, last = (
            {
                line.key: line
                for line in stage.sheet.needed_for((self.figure,))
                if not any(line.key in section for section in sections.values())
            }
            for stage, sections in zip((self.first, self.last), self._sections, strict=True)
        )
        return first, last

    @cached_property
    def _rule(self) -> tuple[dict[str, Line] | None, dict[str, Line] | None]:
        """The lines of the loom efficiency where one sheet works it out and the other does not."""
        worked_out = [_EFFICIENCY in stage.sheet.by_key for stage in (self.first, self.last)]
        if worked_out[0] == worked_out[1]:
            return None, None
        first, last = (
            {
                line.key: line
                for line in stage.sheet.needed_for((_EFFICIENCY,))
                if line.key not in other.sheet.by_key
            }
            for stage, other in ((self.first, self.last), (self.last, self.first))
        )
        return first, last

    def _has_own_duty_lines(self, slot: str) -> bool:
        """Whether the duty of a slot moves with the duties: same yarn, delivered on the same legs.

        Customs may take another value than before (CIF or FOB), which is another set of lines.
        """
        if self._section_cause(slot) != PRICE:
            return False
        legs = [
            {leg for leg in LEGS if f"{slot}.{leg}" in section.get(slot, {})}
            for section in self._sections
        ]
        return legs[0] == legs[1]

    def _section_cause(self, slot: str) -> str:
        if slot not in self.slots_was or slot not in self.slots_now:
            return CLOTH
        return MIX if slot in self.exchanged else PRICE

    def _cause_of(self, name: str) -> str:
        """The cause an input belongs to."""
        slot, _, part = name.partition(".")
        if name.startswith("exchange_rate."):
            return EXCHANGE
        if part == "house_regain":
            return BASIS
        if slot in self.slots:
            return self._cause_of_part(name, slot, part)
        if name in KINDS or assumption_of(name) in KINDS:
            return PROCESS
        in_sections = {
            source
            for sections in self._sections
            for section in sections.values()
            for line in section.values()
            for source in line.sources.values()
        }
        return FREIGHT if name in in_sections else CLOTH

    def _cause_of_part(self, name: str, slot: str, part: str) -> str:
        entries = [s.inputs[name] for s in (self.first, self.last) if name in s.inputs]
        if part == "costing_ne":
            own = any(entry.source.startswith("offer ") for entry in entries)
            return MIX if slot in self.exchanged and own else CLOTH
        if part in ("crimp", "waste", "share_of_threads"):
            return CLOTH
        cause = self._section_cause(slot)
        if cause != PRICE:
            return cause
        if part == "stops" or part.startswith("own."):
            return PROCESS
        if part == "days_after_shipment" and all(
            entry.where.startswith("/rates/") for entry in entries
        ):
            return FREIGHT
        return PRICE


def _price(slot: str) -> str:
    return f"{slot}.same_basis_price"


def _ordered(lines: Mapping[str, Line], figure: str) -> tuple[Line, ...]:
    """The lines a figure rests on, each after those that feed it."""
    found: dict[str, Line] = {}

    def add(key: str) -> None:
        if key in found or key not in lines:
            return
        for source in lines[key].sources.values():
            add(source)
        found[key] = lines[key]

    add(figure)
    return tuple(found.values())
