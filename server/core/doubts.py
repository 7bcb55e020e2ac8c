"""Doubts: what looks odd about an offer, each with the one question to ask the seller.

A doubt never changes the offer and never excludes it; the gate does that with figures. These look
at the offer alone, stored or not; `price_doubts` holds its price against the house and the others.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import chain

from server.core.offer import COUNT_SYSTEMS, Offer
from server.core.yarn import core_share_of_sheath_ne, core_share_of_total_ne

COMMON = "common practice, no source"
RING_TENACITY_CN_PER_TEX = 13.0  # carded ring yarn of denim counts; common practice, no source
RING_HAIRINESS = 8.0  # from here on; common practice, no source
ROTOR_HAIRINESS = 7.0  # rotor yarn is less hairy than ring yarn; common practice, no source
ROTOR_TENACITY_CN_PER_TEX = 13.6  # lowest of the ring yarns of the demonstration; no source
MEASURED_APART = 0.01  # measured and quoted average count further apart than this [share]
PATTERN_APART = 0.01  # added mass stated and by the pattern further apart [share]; our own rule
USUAL_NE = (4.0, 30.0)  # counts of denim, warp and filling; common practice, no source
USUAL_DRAFT = (2.5, 4.2)  # of an elastane core
USUAL_TOLERANCE = (0.005, 0.02)  # of a count [share]; common practice, no source
LONGEST_VALIDITY_DAYS = 90  # 7 to 30 days are usual; common practice, no source
SHARE_APART = 0.1  # stated and computed elastane further apart than this part of the computed

ROTOR_TWIST = "a trade page on open-end cotton yarn (shhsingularity.com); weak"
ROTOR_STRENGTH = (
    "rotor yarn is 15 to 20 % weaker than carded ring yarn: a trade page on open-end cotton yarn "
    "(shhsingularity.com), weak; limits are common practice"
)
DRAFTS = (
    "2.8 to 3.6 in a study of denim core yarns (PMC10839979); 2.5 to 4.5 on a trade page "
    "(tiankunchemical.com)"
)
CORE_SHARE = "definition; mmtex.top on core yarn count and mixing rate"
SLUB_COUNT = "Uster application note on slub yarn (S. Edalat-Pour, 2007)"
SHEATH_COUNT = "juduo.cc (notation 40S+40D, the count is the sheath); mmtex.top (it is the total)"
COUNT_SYSTEM = "ASTM D2260 for the systems; usual counts are common practice, no source"
TOLERANCE = "ASTM D2645 has tolerances, its figures were not seen; the range is common practice"

_SYSTEM = r"Ne[cC]?|Nm|d?tex|den(?:ier)?"
_STATED_ELASTANE = re.compile(
    r"(\d+(?:[.,]\d+)?)\s*%\s*(?:elast|spandex)|\b(?:elastane?|spandex)\s*:?\s*(\d+(?:[.,]\d+)?)\s*%",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Compared:
    """One figure that was looked at."""

    what: str
    value: float | str
    unit: str = ""

    @property
    def text(self) -> str:
        """The figure with its name and unit."""
        value = f"{self.value:.4g}" if isinstance(self.value, float) else self.value
        return f"{self.what} {value} {self.unit}".strip()


@dataclass(frozen=True, slots=True)
class Doubt:
    """One thing that looks odd.

    key: name of the doubt, one for an offer
    sentence: what looks odd; question: the one thing to ask the seller
    figures: what was compared; source: who says what is usual
    """

    key: str
    sentence: str
    question: str
    figures: tuple[Compared, ...] = ()
    source: str = COMMON

    @property
    def text(self) -> str:
        """Sentence and question together."""
        return f"{self.sentence} Ask: {self.question}"

    @property
    def compared(self) -> str:
        """The figures in one line."""
        return "; ".join(figure.text for figure in self.figures)


def doubts_about(offer: Offer) -> tuple[Doubt, ...]:
    """Everything odd about an offer by itself; it need not be stored."""
    return tuple(
        chain(
            _process(offer),
            _twist(offer),
            _count(offer),
            _pattern(offer),
            _core(offer),
            _conditions(offer),
        )
    )


def _process(offer: Offer) -> Iterator[Doubt]:
    """Ring or rotor, by the words and by the test values."""
    yarn, tests = offer.yarn, offer.tests
    figures = tuple(
        Compared(what, tests[name], unit)
        for name, what, unit in (
            ("tenacity", "tenacity", "cN/tex"),
            ("hairiness", "hairiness H", ""),
        )
        if name in tests
    )
    tenacity, hairiness = tests.get("tenacity"), tests.get("hairiness")
    measured = tenacity is not None and hairiness is not None and yarn.core == "none"
    if yarn.spinning == "OE" and re.search(r"\bring\b", yarn.description, re.IGNORECASE):
        yield Doubt(
            "ring in name only",
            "The description says ring, the process is open-end.",
            "on which machine is it spun?",
            (*figures, Compared("description:", yarn.description)),
            "“ring-like”, “ring-look” and “ring-effect” are open-end yarns; " + COMMON,
        )
    elif yarn.spinning == "OE" and measured and _is_like_ring(tenacity, hairiness):
        yield Doubt(
            "rotor like ring",
            "Tenacity and hairiness look like a ring yarn, the process is open-end.",
            "from which machine and lot are the test values?",
            figures,
            ROTOR_STRENGTH,
        )
    is_ring = yarn.spinning in ("ring", "compact ring")
    if is_ring and measured and _is_like_rotor(tenacity, hairiness):
        yield Doubt(
            "ring like rotor",
            "Tenacity and hairiness look like a rotor yarn, the process is ring.",
            "on which machine is it spun?",
            figures,
            ROTOR_STRENGTH,
        )


def _is_like_ring(tenacity: float | None, hairiness: float | None) -> bool:
    return (tenacity or 0.0) >= ROTOR_TENACITY_CN_PER_TEX and (hairiness or 0.0) >= RING_HAIRINESS


def _is_like_rotor(tenacity: float | None, hairiness: float | None) -> bool:
    return (
        tenacity is not None
        and hairiness is not None
        and tenacity < RING_TENACITY_CN_PER_TEX
        and hairiness < ROTOR_HAIRINESS
    )


def _twist(offer: Offer) -> Iterator[Doubt]:
    if offer.yarn.spinning == "OE" and offer.yarn.twist == "S":
        yield Doubt(
            "rotor S-twist",
            "S-twist from a rotor is unusual.",
            "is the direction seen on the yarn?",
            (Compared("twist", "S"),),
            ROTOR_TWIST,
        )


def _count(offer: Offer) -> Iterator[Doubt]:
    """The count: its system, its basis, and the measured one; one question on the system."""
    yarn = offer.yarn
    if yarn.count <= 0:
        return
    other = _other_system(offer)
    if other:
        yield other
    if yarn.effect != "plain" and yarn.count_basis == "base":
        yield Doubt(
            "base count",
            "The count is that of the base between the slubs.",
            "what is the measured average?",
            (Compared("count as quoted", yarn.count_text),),
            SLUB_COUNT,
        )
    if yarn.core != "none" and yarn.count_basis in ("average", "base"):
        yield Doubt(
            "whole or sheath",
            "The count is not said to be that of the whole yarn or of the sheath.",
            "is the count that of the whole yarn or of the sheath?",
            (Compared("count as quoted", yarn.count_text),),
            SHEATH_COUNT,
        )
    measured, average = offer.tests.get("average_ne"), yarn.average_ne
    if not other and measured and average and abs(measured / average - 1) > MEASURED_APART:
        yield Doubt(
            "measured count",
            f"Measured Ne {measured:.2f} is not the quoted Ne {average:.2f}.",
            "which one will be invoiced?",
            (
                Compared("measured", measured, "Ne"),
                Compared("quoted, as an average", average, "Ne"),
                Compared("apart", (measured / average - 1) * 100, "%"),
            ),
        )


def _pattern(offer: Offer) -> Iterator[Doubt]:
    """The pattern along the yarn beside the added mass and the count that are stated."""
    yarn = offer.yarn
    if yarn.pattern is None:
        return
    stated, pattern = yarn.slub_added_mass, yarn.pattern.added_mass
    if stated is not None and abs(stated - pattern) > PATTERN_APART:
        yield Doubt(
            "pattern and added mass",
            f"The pattern adds {pattern * 100:.1f} % of mass, the offer says {stated * 100:g} %.",
            "which is right, the pattern or the added mass?",
            (
                Compared("by the pattern", pattern * 100, "%"),
                Compared("stated", stated * 100, "%"),
                Compared("pattern:", yarn.pattern.text),
            ),
            SLUB_COUNT,
        )
    finest, quoted = yarn.pattern.finest_ne, yarn.quoted_ne
    if finest is None or quoted is None or yarn.count_basis not in ("average", "base"):
        return
    steps = finest if yarn.count_basis == "base" else finest / (1 + pattern)
    if abs(steps / quoted - 1) > MEASURED_APART:
        yield Doubt(
            "steps and count",
            f"The steps of the pattern give {yarn.count_basis} Ne {steps:.2f}, the count is quoted "
            f"as {yarn.count_text}.",
            "which is right, the counts of the steps or the count quoted?",
            (
                Compared("by the steps", steps, "Ne"),
                Compared("quoted", quoted, "Ne"),
                Compared("pattern:", yarn.pattern.text),
            ),
            SLUB_COUNT,
        )


def _other_system(offer: Offer) -> Doubt | None:
    """Whether the figure makes sense in another count system than the one it is said to be in."""
    yarn, measured = offer.yarn, offer.tests.get("average_ne")
    quoted = yarn.quoted_ne
    if quoted is None:
        return None
    others = [replace(yarn, count_system=s) for s in COUNT_SYSTEMS if s != yarn.count_system]
    figures = [Compared(f"read as {yarn.count_system}", quoted, "Ne")]
    likely, why = [], ""
    average = yarn.average_ne
    words = _system_in_words(offer)
    if words and words != yarn.count_system:
        likely = [each for each in others if each.count_system == words]
        why = f"the seller's words say {words}"
    elif measured and average and abs(measured / average - 1) > MEASURED_APART:
        likely = [
            each
            for each in others
            if each.average_ne and abs(measured / each.average_ne - 1) <= MEASURED_APART
        ]
        figures.append(Compared("measured average", measured, "Ne"))
        why = f"the measured average is Ne {measured:.2f}"
    elif not measured and not _is_usual(quoted):
        likely = [each for each in others if _is_usual(each.quoted_ne)]
        why = f"counts of denim are Ne {USUAL_NE[0]:g} to {USUAL_NE[1]:g}"
    if not likely:
        return None
    figures += [
        Compared(f"read as {each.count_system}", each.quoted_ne or 0.0, "Ne") for each in likely
    ]
    systems = " or ".join(each.count_system for each in likely)
    return Doubt(
        "count system",
        f"The count {yarn.count.normalize():f} is entered as {yarn.count_system}, but {why}: it "
        f"makes sense as {systems}.",
        f"is {yarn.count.normalize():f} in {yarn.count_system} or in {systems}?",
        tuple(figures),
        COUNT_SYSTEM,
    )


def _is_usual(ne: float | None) -> bool:
    low, high = USUAL_NE
    return ne is not None and low * (1 - MEASURED_APART) <= ne <= high * (1 + MEASURED_APART)


def _system_in_words(offer: Offer) -> str:
    """The count system that stands beside the figure in the seller's words; "" when none does."""
    figure = f"{offer.yarn.count.normalize():f}".replace(".", "[.,]")
    tail = r"(?:[.,]0+)?(?![\d.,]*\d)"
    found = re.search(
        rf"\b({_SYSTEM})\s*{figure}{tail}|(?<![\d.,]){figure}{tail}(?:/\d)?\s*({_SYSTEM})\b",
        offer.as_quoted,
    )
    if not found:
        return ""
    said = found[1] or found[2]
    return {"Nec": "Ne", "NeC": "Ne", "denier": "den"}.get(said, said)


def _core(offer: Offer) -> Iterator[Doubt]:
    """The elastane core: its draft, and the share that follows from it beside the stated one."""
    yarn = offer.yarn
    if not yarn.cores or yarn.core == "none":
        return
    elastane = yarn.cores[0]
    if not USUAL_DRAFT[0] <= elastane.draft <= USUAL_DRAFT[1]:
        yield Doubt(
            "core draft",
            f"A draft of {elastane.draft:g} on the elastane is unusual "
            f"({USUAL_DRAFT[0]:g} to {USUAL_DRAFT[1]:g} is).",
            "at which draft is the elastane fed, as a ratio of the two speeds?",
            (Compared("draft", elastane.draft, "×"),),
            DRAFTS,
        )
    stated, computed = _stated_elastane(yarn.description), _computed_elastane(offer)
    if stated is None or computed is None:
        return
    share, rounding = stated
    if abs(share - computed) > max(rounding, computed * SHARE_APART):
        yield Doubt(
            "elastane share",
            f"The description says {share * 100:g} % elastane; {elastane.denier:g} den at draft "
            f"{elastane.draft:g} in {yarn.count_text} gives {computed * 100:.2f} %.",
            "which denier, draft and count give the stated share?",
            (
                Compared("stated", share * 100, "%"),
                Compared("from denier, draft and count", computed * 100, "%"),
            ),
            CORE_SHARE,
        )


def _computed_elastane(offer: Offer) -> float | None:
    """Share of the elastane from denier, draft and count [share]; None when the basis is open."""
    yarn, elastane, ne = offer.yarn, offer.yarn.cores[0], offer.yarn.quoted_ne
    if ne is None or yarn.count <= 0 or elastane.draft <= 0 or yarn.count_basis == "unknown":
        return None
    fed = {"core_denier": elastane.denier, "core_draft": elastane.draft}
    if yarn.count_basis == "sheath":
        return float(core_share_of_sheath_ne(**fed, sheath_ne=ne))
    return float(core_share_of_total_ne(**fed, total_ne=ne))


def _stated_elastane(description: str) -> tuple[float, float] | None:
    """The share of elastane a description states, with half a unit of its last digit [share]."""
    found = _STATED_ELASTANE.search(description)
    if not found:
        return None
    said = (found[1] or found[2]).replace(",", ".")
    half: float = 0.5 * 10.0 ** -len(said.partition(".")[2]) / 100
    return float(said) / 100, half


def _conditions(offer: Offer) -> Iterator[Doubt]:
    """Tolerance and validity."""
    tolerance = offer.count_tolerance
    if tolerance is not None and not USUAL_TOLERANCE[0] <= tolerance <= USUAL_TOLERANCE[1] + 1e-12:
        low, high = (each * 100 for each in USUAL_TOLERANCE)
        yield Doubt(
            "count tolerance",
            f"A count tolerance of ± {tolerance * 100:g} % is unusual ({low:g} to {high:g} % is).",
            "which tolerance of the lot mean will stand in the contract?",
            (
                Compared("tolerance", tolerance * 100, "%"),
                Compared("more yarn at its coarse end", 100 / (1 - min(tolerance, 0.9)) - 100, "%"),
            ),
            TOLERANCE,
        )
    if offer.valid_until is None:
        return
    days = (offer.valid_until - offer.quoted_on).days
    dates = (
        Compared("quoted on", offer.quoted_on.isoformat()),
        Compared("valid until", offer.valid_until.isoformat()),
    )
    if days < 0:
        yield Doubt(
            "validity",
            f"The offer of {offer.quoted_on} ends on {offer.valid_until}, before it was made.",
            "until which day is the price good?",
            dates,
            "definition: an offer cannot end before it is made",
        )
    elif days > LONGEST_VALIDITY_DAYS:
        yield Doubt(
            "validity",
            f"A price held for {days} days is unusual (7 to 30 days are common).",
            "is the price firm until that day?",
            (*dates, Compared("days", str(days), "d")),
        )
