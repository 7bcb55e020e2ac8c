"""What changed between two packs, or a pack and today: for each cloth the difference by cause."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property

from server.core.errors import BadValue, CreelbookError
from server.core.given import Frozen
from server.core.pack import COST, Cloth, FrozenPair, Pack
from server.core.records_walk import passage
from server.core.sheets_walk import turns_of
from server.core.walk import CAUSES, Cause, Walk, walk

BOTH, COME, GONE = "both", "come", "gone"
AS_ASKED = "swap"  # the column of a variant that makes its changes and nothing else
SEASON = "season_metres"


@dataclass(frozen=True, slots=True)
class Choice:
    """What of two packs is looked at; everything when empty.

    code, variant: one cloth
    before, after: keys of the pairs held against each other, else the leaders
    """

    code: str = ""
    variant: str = ""
    before: str = ""
    after: str = ""


EVERYTHING = Choice()


@dataclass(frozen=True, eq=False)
class Side:
    """A cloth in one of the packs. pair: the one looked at; value: its figure as frozen"""

    cloth: Cloth
    pair: FrozenPair | None
    value: float | None

    @property
    def looked_at(self) -> tuple[FrozenPair, float] | None:
        """The pair with its figure, where it has one."""
        return None if self.pair is None or self.value is None else (self.pair, self.value)


@dataclass(frozen=True, eq=False)
class ClothChange:
    """One cloth in two packs.

    before, after: None where a pack does not hold it
    walk: None where there is nothing to walk; reason then says why
    metres: of a season, as the later pack has them [m]; None when not known
    """

    before: Side | None
    after: Side | None
    walk: Walk | None
    reason: str
    metres: float | None

    @property
    def cloth(self) -> Cloth:
        """The later of the two, which names it."""
        side = self.after or self.before
        assert side is not None
        return side.cloth

    @property
    def name(self) -> str:
        """`DN-1375`, with the variant behind a comma."""
        cloth = self.cloth
        return f"{cloth.code}, {cloth.variant}" if cloth.variant else cloth.code

    @property
    def state(self) -> str:
        """In both, come or gone."""
        if self.before is None:
            return COME
        return GONE if self.after is None else BOTH

    def season(self, amount: float) -> float | None:
        """An amount of a metre for the season [¤]; None without season metres."""
        return None if self.metres is None else amount * self.metres


@dataclass(frozen=True, slots=True)
class SeasonTotals:
    """Money of the season over the cloths whose metres are known [¤].

    A variant is woven in place of its construction, so it counts only where that is not walked.
    cloths: how many; left_out: how many walked ones have no season metres
    amounts: cause -> amount
    """

    cloths: int
    left_out: int
    metres: float
    before: float
    after: float
    amounts: dict[str, float]


@dataclass(frozen=True, eq=False)
class WhatChanged:
    """Two packs held against each other, the earlier one first.

    until_today: the later one was made just now, from the house's present records
    figure: the line that is compared; unit: always ¤/m
    """

    before: Pack
    after: Pack
    until_today: bool
    figure: str
    cloths: tuple[ClothChange, ...]

    @property
    def currency(self) -> str:
        """Of both."""
        return self.after.basis.currency

    @cached_property
    def walked(self) -> tuple[tuple[ClothChange, Walk], ...]:
        """The cloths that were walked."""
        return tuple((each, each.walk) for each in self.cloths if each.walk is not None)

    @cached_property
    def causes(self) -> tuple[Cause, ...]:
        """The causes to be named, in order: the usual ones, and others where they act."""
        acting = {cause for _, each in self.walked for cause, x in each.amounts.items() if x}
        return tuple(each for each in CAUSES.values() if each.usual or each.key in acting)

    @cached_property
    def totals(self) -> SeasonTotals:
        """The season over all cloths walked."""
        counted = [(walked, each.metres) for each, walked in self.walked if self.counts(each)]
        known = [(walked, metres) for walked, metres in counted if metres]
        return SeasonTotals(
            len(known),
            len(counted) - len(known),
            sum(metres for _, metres in known),
            sum(walked.before * metres for walked, metres in known),
            sum(walked.after * metres for walked, metres in known),
            {
                cause.key: sum(
                    walked.amounts.get(cause.key, 0.0) * metres for walked, metres in known
                )
                for cause in self.causes
            },
        )

    def counts(self, cloth: ClothChange) -> bool:
        """Whether a cloth counts in the season; of one code the first, the construction itself."""
        same = [each for each, _ in self.walked if each.cloth.code == cloth.cloth.code]
        return cloth is min(same, key=lambda each: bool(each.cloth.variant))


@dataclass(frozen=True, slots=True)
class Touched:
    """Who last touched a record, and when. entered: whether it was made then"""

    person: str
    at: datetime
    entered: bool


def day_of(pack: Pack) -> date:
    """The day a pack stands for: when it was frozen, else the day its offers are judged on."""
    return pack.made_at.date() if pack.made_at else pack.basis.as_of


def what_changed(
    before: Frozen,
    after: Frozen,
    *,
    figure: str = "",
    until_today: bool = False,
    choice: Choice = EVERYTHING,
) -> WhatChanged:
    """Hold two packs against each other.

    figure: the line compared; the headline of the later pack when empty
    Raises BadValue when their currencies differ, or when they do not hold what was chosen.
    """
    first, last = before.pack, after.pack
    if first.basis.currency != last.basis.currency:
        raise BadValue(
            f"The one is in {first.basis.currency}, the other in {last.basis.currency}; a change "
            "of currency is no cause of a cost.",
            field="against",
            value=f"{first.basis.currency}, {last.basis.currency}",
            remedy="Freeze one of them again in the currency of the other.",
        )
    figure = figure or last.headline or COST
    keys = list(dict.fromkeys(_key(each) for each in (*last.cloths, *first.cloths)))
    if choice.code:
        keys = [_chosen(choice, keys)]
    cloths = tuple(_cloth(before, after, key, figure, choice) for key in keys)
    return WhatChanged(first, last, until_today, figure, cloths)


def _key(cloth: Cloth) -> tuple[str, str]:
    return cloth.code, cloth.variant


def _chosen(choice: Choice, keys: Sequence[tuple[str, str]]) -> tuple[str, str]:
    wanted = (choice.code, choice.variant)
    if wanted not in keys:
        raise BadValue(
            f"Neither pack holds {', '.join(filter(None, wanted))}.",
            field="cloth",
            value=", ".join(filter(None, wanted)),
            remedy=f"Choose one of: {'; '.join(', '.join(filter(None, key)) for key in keys)}.",
        )
    return wanted


def _cloth(
    before: Frozen, after: Frozen, key: tuple[str, str], figure: str, choice: Choice
) -> ClothChange:
    was = _side(before.pack, key, figure, choice.before, "before")
    now = _side(after.pack, key, figure, choice.after, "after")
    metres = None
    if now is not None and now.pair is not None:
        metres = after.pack.value_of(now.pair, SEASON)
    if was is None or now is None:
        return ClothChange(was, now, None, "", metres)
    if was.looked_at is None or now.looked_at is None:
        where = before if was.looked_at is None else after
        return ClothChange(was, now, None, f"No pair was possible in {where.pack.reference}.", None)
    try:
        walked = _walk(before, after, was.looked_at, now.looked_at, figure, was.cloth)
    except CreelbookError as missing:
        return ClothChange(was, now, None, str(missing), metres)
    return ClothChange(was, now, walked, "", metres)


def _walk(
    before: Frozen,
    after: Frozen,
    was: tuple[FrozenPair, float],
    now: tuple[FrozenPair, float],
    figure: str,
    cloth: Cloth,
) -> Walk:
    if cloth.variant:
        start, turns = turns_of(figure, (before.pack, was[0]), (after.pack, now[0]), after.given)
    else:
        way = passage(before.given, after.given, cloth.code, _yarns(was[0]), _yarns(now[0]))
        start, turns = way.first.stage(), way.turns()
    return walk(figure, was[1], now[1], start, turns)


def _yarns(pair: FrozenPair) -> dict[str, str]:
    return {yarn.slot: yarn.code for yarn in pair.yarns}


def _side(pack: Pack, key: tuple[str, str], figure: str, wanted: str, field: str) -> Side | None:
    cloth = next((each for each in pack.cloths if _key(each) == key), None)
    if cloth is None:
        return None
    pair = pair_shown(cloth)
    if wanted:
        pair = cloth.pair(wanted)
        if pair is None:
            raise BadValue(
                f"{pack.reference} holds no pair {wanted[:60]} of {cloth.title}.",
                field=field,
                value=wanted,
                remedy=f"Choose one of: {_listed(cloth.pairs)}.",
            )
    value = None if pair is None else pack.value_of(pair, figure)
    return Side(cloth, pair, value)


def pair_shown(cloth: Cloth) -> FrozenPair | None:
    """The leader; of a variant the column that makes its changes."""
    asked = cloth.pair(AS_ASKED) if cloth.variant else None
    return asked or cloth.leader


def _listed(pairs: Iterable[FrozenPair]) -> str:
    keys = [pair.key for pair in pairs]
    more = f" and {len(keys) - 12} more" if len(keys) > 12 else ""
    return ", ".join(keys[:12]) + more
