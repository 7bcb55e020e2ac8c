"""A stated weight that the yarn cannot have, and what may lie behind it.

A weight at or below its straight yarn is impossible; below 1.02 or above 1.30 times the straight
yarn it is a doubt. Each likely cause is tried: the statement is read the other way and the ratio
worked out anew. A reading whose threads could not be woven, or would lie more open than those of
any real cloth known here, is no answer. Limits: 57 cloths of public customs rulings.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from server.core.cloth_setting import PEIRCE_DIAMETERS
from server.core.fabric import (
    area_mass_from_metre_mass,
    cover_factor,
    mass_ratio,
    metre_mass_from_ounces,
    ounces_per_square_yard,
    straight_yarn_mass,
)
from server.core.how_close import HEAVY, LIGHT, Held, held_cloths

IMPOSSIBLE, TOO_LIGHT, TOO_HEAVY = "impossible", "too light", "too heavy"
FITS, NEARER, OPEN_TO = "would fit", "nearer, and not enough", ""
USUAL = (1.16, 1.20)  # grey twill to heavy denim; what a likely count or coating is judged with
STATES = (0.06, 0.09)  # worth of loom threads beside a finished weight
WAVY = 0.10  # a filling crimp above it is that of a stretch cloth
BLEACHED = (0.04, 0.08)  # mass lost in scouring and bleaching, from memory
_CM_PER_IN = 2.54
_YARD_IN = 36.0
_HALF_OUNCE, _ROUND = 0.5, 0.006  # a trade weight is a round half ounce to the gram


@dataclass(frozen=True, slots=True)
class Statement:
    """Threads, counts and weight as somebody states them, all of one cloth and one state.

    epi, ppi: threads as stated [1/in]; warp_ne, filling_ne: average counts [Ne]
    grams: weight as stated [g/m²]; width_in: width of that state, where it is known [in]
    plies: singles counted as threads that make one end of the warp
    filling_crimp: filling length beyond the width, on the width, where it is known [share]
    """

    epi: float
    ppi: float
    warp_ne: float
    filling_ne: float
    grams: float
    width_in: float | None = None
    plies: int = 1
    filling_crimp: float = 0.0

    @property
    def straight(self) -> float:
        """Straight yarn [g/m²]."""
        return float(
            straight_yarn_mass(
                epi=self.epi, warp_ne=self.warp_ne, ppi=self.ppi, filling_ne=self.filling_ne
            )
        )

    @property
    def ratio(self) -> float:
        """Weight over straight yarn [×]."""
        return float(mass_ratio(mass_per_area=self.grams, reference_mass_per_area=self.straight))

    @property
    def ounces(self) -> float:
        """Weight as stated [oz/yd²]."""
        return float(ounces_per_square_yard(mass_per_area=self.grams))

    @property
    def covers(self) -> tuple[float, float]:
        """Cover factors of warp and filling."""
        ends, warp_ne = self.epi / self.plies, self.warp_ne / self.plies
        return (
            float(cover_factor(threads_per_inch=ends, ne=warp_ne)),
            float(cover_factor(threads_per_inch=self.ppi, ne=self.filling_ne)),
        )

    @property
    def standing(self) -> str:
        """Impossible, too light, too heavy, or "" when nothing is wrong with it."""
        if self.ratio <= 1:
            return IMPOSSIBLE
        if self.ratio < LIGHT:
            return TOO_LIGHT
        return TOO_HEAVY if self.ratio > HEAVY else ""

    @property
    def distance(self) -> float:
        """How far the ratio is out of bounds [×]."""
        return max(LIGHT - self.ratio, self.ratio - HEAVY, 0.0)


@dataclass(frozen=True, slots=True)
class Cause:
    """Something that may lie behind a weight.

    ratio: weight over straight yarn once it is read that way; None where there is nothing to try
    answer: would fit; nearer, and not enough; "" where it was not tried
    """

    words: str
    ratio: float | None = None
    answer: str = OPEN_TO


def causes(stated: Statement) -> tuple[Cause, ...]:
    """What may lie behind a weight that is out of bounds: readings that would fit come first."""
    if not stated.standing:
        return ()
    tried = [
        (answer != FITS, max(reading.covers), Cause(words, reading.ratio, answer))
        for words, reading in _readings(stated)
        if (answer := _answer(stated, reading))
    ]
    ranked = [cause for *_, cause in sorted(tried, key=lambda each: each[:2])]
    return (*ranked, *_untried(stated))


def is_trade_weight(grams: float) -> bool:
    """Whether a weight is a round number of half ounces to the gram. grams: weight [g/m²]"""
    halves = float(ounces_per_square_yard(mass_per_area=grams)) / _HALF_OUNCE
    return abs(halves - round(halves)) * _HALF_OUNCE <= _ROUND


@lru_cache(maxsize=1)
def most_open() -> tuple[float, float]:
    """Least cover factor of warp and of filling among the real cloths that can be held."""
    known = [statement_of(held).covers for held in held_cloths() if held.untuned is not None]
    return min(cover for cover, _ in known), min(cover for _, cover in known)


def statement_of(held: Held) -> Statement:
    """What a ruling states, as it can be tried; a warp counted as singles keeps its plies."""
    single = "warp_ne" not in held.figures
    return Statement(
        float(held.inputs["epi"].value),
        float(held.inputs["ppi"].value),
        (held.cloth.warp_ne or 0.0) if single else held.figures["warp_ne"],
        held.figures["filling_ne"],
        held.cloth.grams,
        float(held.inputs["width_in"].value) if "width_in" in held.inputs else None,
        held.cloth.singles_counted,
    )


def _answer(stated: Statement, reading: Statement) -> str:
    """What a reading comes to: it fits, it is nearer, or it is none."""
    pairs = zip(stated.covers, reading.covers, most_open(), strict=True)
    changed = [(after, least) for before, after, least in pairs if after != before]
    if any(not least <= after <= PEIRCE_DIAMETERS for after, least in changed):
        return OPEN_TO
    woven = max(reading.covers) <= PEIRCE_DIAMETERS
    if not reading.standing and woven:
        return FITS
    nearer = reading.distance < stated.distance and reading.standing != IMPOSSIBLE
    return NEARER if nearer else OPEN_TO


def _readings(stated: Statement) -> Iterator[tuple[str, Statement]]:
    """The statement read another way, with what was then misread."""
    yield from _threads_misread(stated)
    yield from _yarns_misread(stated)
    yield from _weight_misread(stated)
    low, high = (_percent(share) for share in STATES)
    if stated.standing == TOO_HEAVY:
        if stated.filling_crimp > WAVY:
            share = mass_of_crimp(stated)
            yield (
                f"a filling that takes {stated.filling_crimp * 100:.0f} % more than the width, as "
                "in stretch cloth; straight yarn leaves that out",
                replace(stated, grams=stated.grams * share),
            )
        words = "threads as on the loom beside a weight as finished"
        other = stated.grams * (1 - STATES[1])
    else:
        words = "threads as finished or washed beside a weight as on the loom"
        other = stated.grams / (1 - STATES[1])
    yield f"two states are mixed: {words}, worth {low} to {high}", replace(stated, grams=other)


def mass_of_crimp(stated: Statement) -> float:
    """Straight yarn over the same with its filling as long as it lies [share]."""
    wavy = replace(stated, ppi=stated.ppi * (1 + stated.filling_crimp))
    return stated.straight / wavy.straight


def _threads_misread(stated: Statement) -> Iterator[tuple[str, Statement]]:
    """Threads of a centimetre taken for those of an inch, or the reverse; one direction or both."""
    if stated.standing == TOO_HEAVY:
        by, said = _CM_PER_IN, "were counted in a centimetre and read as of an inch"
    else:
        by, said = 1 / _CM_PER_IN, "were counted in an inch and read as of a centimetre"
    for what, ends, picks in (("ends", by, 1.0), ("picks", 1.0, by), ("ends and picks", by, by)):
        yield f"the {what} {said}", replace(stated, epi=stated.epi * ends, ppi=stated.ppi * picks)


def _yarns_misread(stated: Statement) -> Iterator[tuple[str, Statement]]:
    """Two-ply threads: each counted as two, or the count of one single taken for the yarn's."""
    if stated.standing == TOO_HEAVY:
        words = "is two-ply, and Ne {:.3g} is the count of one of its singles"
        warp_ne, filling_ne = stated.warp_ne, stated.filling_ne
        yield f"the warp {words.format(warp_ne)}", replace(stated, warp_ne=warp_ne / 2)
        yield f"the filling {words.format(filling_ne)}", replace(stated, filling_ne=filling_ne / 2)
    elif stated.plies == 1:
        yield (
            "the ends are two-ply and each was counted as two, with the count of the folded yarn",
            replace(stated, epi=stated.epi / 2),
        )
    if stated.standing != TOO_HEAVY:
        yield (
            "the picks are two-ply and each was counted as two, with the count of the folded yarn",
            replace(stated, ppi=stated.ppi / 2),
        )


def _weight_misread(stated: Statement) -> Iterator[tuple[str, Statement]]:
    """The mass of a running yard taken for that of a square yard, or the reverse."""
    width = stated.width_in
    if width is None:
        return
    if stated.standing == TOO_HEAVY:
        of_a_metre = metre_mass_from_ounces(ounces_per_yard=stated.ounces)
        grams = float(area_mass_from_metre_mass(metre_mass=of_a_metre, width_in=width))
        words = f"{stated.ounces:.2f} oz are of a running yard {width:.1f} in wide"
    else:
        grams = stated.grams * width / _YARD_IN
        words = f"ounces of a square yard were divided by a width of {width:.1f} in once more"
    yield words, replace(stated, grams=grams)


def _untried(stated: Statement) -> Iterator[Cause]:
    """Causes that no other reading of the statement can show."""
    first, second = (_counts(stated, usual / stated.ratio) for usual in USUAL)
    if stated.standing == TOO_HEAVY:
        over = stated.grams - stated.straight * USUAL[1]
        yield Cause(f"coating, resin or print: some {over:.0f} g/m² would not be yarn")
        yield Cause(f"the yarns are coarser than stated: {first} to {second} would fit")
    else:
        yield Cause(f"a count is nominal, or wrong: {first} to {second} would fit")
        if stated.ratio > 1 - BLEACHED[1]:
            low, high = (_percent(share) for share in BLEACHED)
            yield Cause(f"mass lost in scouring or bleaching: {low} to {high}, from memory")
    for what, cover in zip(("ends", "picks"), stated.covers, strict=True):
        if cover > PEIRCE_DIAMETERS:
            yield Cause(
                f"the {what} as stated would lie closer than side by side: cover factor "
                f"{cover:.1f}, side by side is {PEIRCE_DIAMETERS:g} (Peirce)"
            )
    if is_trade_weight(stated.grams):
        yield Cause(f"{stated.ounces:.2f} oz/yd² is a round half ounce: a trade weight")


def _counts(stated: Statement, factor: float) -> str:
    return f"Ne {stated.warp_ne * factor:.1f} × {stated.filling_ne * factor:.1f}"


def _percent(share: float) -> str:
    return f"{share * 100:g} %"
