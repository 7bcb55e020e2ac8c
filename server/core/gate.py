"""Can this yarn do the job at all? Pass, fail or unknown, each with value, limit and source.

Feasible first, price second; unknown is never pass. A limit is data with a source and an owner. A
named person may accept what was measured or documented; it then counts as pass and says so.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property

from server.core.construction import Basis, Construction, Slot
from server.core.errors import BadValue, shorten
from server.core.offer import TEST_PROPERTIES, Offer
from server.core.overrides import ALL_ROLES, Override
from server.core.rates import Lane

PASS, FAIL, UNKNOWN, ACCEPTED = "pass", "fail", "unknown", "accepted"
POSSIBLE, IMPOSSIBLE, UNPROVEN = "possible", "impossible", "unproven"
ROLES = ("warp, rope-dyed", "warp, slasher-dyed", "warp, undyed", "filling")
LIMITED = {
    "tenacity": "least",
    "evenness": "most",
    "hairiness": "most",
    "elongation": "least",
    "imperfections": "most",
    "count_deviation": "most",
}
NOT_OF_FANCY = ("evenness", "imperfections")  # planned thick places are no faults
ORIGIN_FILE, AVERAGE_COUNT = "origin file", "average count"
_EFFECTS_ACCEPTED = {
    "slub": {"slub", "multi-count", "multi-count slub"},
    "multi-count": {"multi-count", "multi-count slub"},
}
_ORIGIN_OUTCOME = {"complete": PASS, "partly documented": UNKNOWN, "invoice chain only": UNKNOWN}


ACCEPTABLE = (
    *(name for name in LIMITED if name != "count_deviation"),
    ORIGIN_FILE,
    AVERAGE_COUNT,
)
"""Findings that a named person may accept: test values, origin file, deviation of the count."""
_INSTEAD = {
    "validity": "An offer that expired is quoted again; record the re-quote.",
    "arrival": "Ask for a shorter lead time, enter the freight lane, or move the need-by date.",
    **dict.fromkeys(
        ("twist", "spinning", "fibre mix", "effect"),
        "Change what the construction asks for; it then holds for every offer.",
    ),
}


def refuse_unacceptable(about: str, role: str) -> None:
    """Raises BadValue when a finding is none that somebody may accept, or the role is none."""
    if role not in (ALL_ROLES, *ROLES):
        raise BadValue(
            f"“{shorten(role, 40)}” is no role.",
            field="role",
            value=role,
            remedy=f"Write {ALL_ROLES} or one of: {'; '.join(ROLES)}.",
        )
    if about not in ACCEPTABLE:
        question = about.startswith("question")
        raise BadValue(
            f"“{shorten(about, 40)}” cannot be accepted.",
            field="about",
            value=about,
            remedy="Enter the seller's answer on the offer."
            if question
            else _INSTEAD.get(about, f"What can be: {', '.join(ACCEPTABLE)}."),
        )


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit for one role. `least` or `most`, by the property, as LIMITED says."""

    id: int
    role: str
    property: str
    value: float
    unit: str
    source: str
    owner: str = ""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing looked at: outcome with the value met and the limit it was held to.

    owner: whose limit it is
    was, override: the outcome before somebody accepted it, and who did so and why
    """

    about: str
    outcome: str
    sentence: str
    value: str = ""
    limit: str = ""
    source: str = ""
    owner: str = ""
    was: str = ""
    override: Override | None = None

    @property
    def decision(self) -> str:
        """What was found, and who accepted it; "" without a decision."""
        return f"{self.sentence}; {self.override.sentence}" if self.override else ""

    @property
    def may_be_accepted(self) -> bool:
        """Whether a person may wave it through: measured, documented, and not passed already."""
        met = self.was or self.outcome
        if met not in (FAIL, UNKNOWN) or self.about not in ACCEPTABLE:
            return False
        return self.about != AVERAGE_COUNT or met == FAIL  # a count not known is asked


@dataclass(frozen=True)
class Standing:
    """Whether an offer may be used in a role, with everything that was looked at."""

    findings: tuple[Finding, ...]

    @cached_property
    def state(self) -> str:
        """Possible, impossible or unproven."""
        outcomes = {finding.outcome for finding in self.findings}
        if FAIL in outcomes:
            return IMPOSSIBLE
        return UNPROVEN if UNKNOWN in outcomes else POSSIBLE

    @cached_property
    def accepted(self) -> tuple[Finding, ...]:
        """What passes only because a named person accepted it."""
        return tuple(finding for finding in self.findings if finding.outcome == ACCEPTED)

    @cached_property
    def reasons(self) -> tuple[str, ...]:
        """Why it is not possible, failures first."""
        return tuple(
            finding.sentence
            for outcome in (FAIL, UNKNOWN)
            for finding in self.findings
            if finding.outcome == outcome
        )


def examine(
    offer: Offer,
    slot: Slot,
    construction: Construction,
    basis: Basis,
    lane: Lane | None,
    limits: Iterable[Limit],
) -> Standing:
    """Hold one offer to everything its place in the cloth asks for."""
    role = construction.role_of_warp if slot.direction == "warp" else "filling"
    of_role = {limit.property: limit for limit in limits if limit.role == role}
    return _standing(
        offer,
        role,
        basis,
        (
            *_questions(offer),
            *_dates(offer, basis, lane),
            _origin(offer),
            *_count(offer, slot, of_role),
            *_wanted(offer, slot),
            *_tests(offer, of_role),
        ),
    )


def examine_for_role(
    offer: Offer, role: str, basis: Basis, lane: Lane | None, limits: Iterable[Limit]
) -> Standing:
    """Hold one offer to what a role asks of any yarn, whatever the cloth is."""
    of_role = {limit.property: limit for limit in limits if limit.role == role}
    return _standing(
        offer,
        role,
        basis,
        (
            *_questions(offer),
            *_dates(offer, basis, lane),
            _origin(offer),
            *_tests(offer, of_role),
        ),
    )


def _standing(offer: Offer, role: str, basis: Basis, findings: tuple[Finding, ...]) -> Standing:
    """The findings, those accepted for the offer in this role marked so."""
    if not offer.overrides:
        return Standing(findings)
    held = [each for each in offer.overrides if each.holds(role, basis.as_of)]
    held.sort(key=lambda each: each.role == ALL_ROLES)  # the narrower decision speaks first
    return Standing(tuple(_decided(finding, held) for finding in findings))


def _decided(finding: Finding, overrides: Iterable[Override]) -> Finding:
    if not finding.may_be_accepted:
        return finding
    for override in overrides:
        if override.about == finding.about:
            return replace(finding, outcome=ACCEPTED, was=finding.outcome, override=override)
    return finding


def _questions(offer: Offer) -> list[Finding]:
    """One finding for each thing the seller has not said; unknown is not pass."""
    return [
        Finding(f"question: {question.field}", UNKNOWN, question.sentence, source="the offer")
        for question in offer.open_questions
    ]


def _dates(offer: Offer, basis: Basis, lane: Lane | None) -> list[Finding]:
    findings = []
    if offer.valid_until is not None:
        valid = offer.valid_until >= basis.meeting
        findings = [
            Finding(
                "validity",
                PASS if valid else FAIL,
                f"valid until {offer.valid_until}"
                if valid
                else f"expired on {offer.valid_until}, before the meeting on {basis.meeting}",
                str(offer.valid_until),
                f"meeting {basis.meeting}",
                "the offer",
            )
        ]
    if offer.lead_days is None:
        return findings
    if lane is None:
        return [
            *findings,
            Finding("arrival", UNKNOWN, f"no freight lane from {offer.country}: arrival unknown"),
        ]
    days, allowed = offer.lead_days + lane.transit_days, basis.days_to_need
    late = days > allowed
    findings.append(
        Finding(
            "arrival",
            FAIL if late else PASS,
            f"late: {days} days from order to mill, {allowed} are left"
            if late
            else f"{days} of {allowed} days from order to mill",
            f"{days} d",
            f"at most {allowed} d",
            f"lead {offer.lead_days} d, transit {lane.transit_days} d ({lane.source})",
        )
    )
    return findings


def _origin(offer: Offer) -> Finding:
    state = offer.supplier.origin_state
    outcome = _ORIGIN_OUTCOME.get(state, FAIL)
    return Finding(
        ORIGIN_FILE, outcome, f"cotton-origin file {state}", state, "complete", "supplier record"
    )


def _count(offer: Offer, slot: Slot, limits: Mapping[str, Limit]) -> list[Finding]:
    average = offer.yarn.average_ne
    if average is None and offer.yarn.count_basis == "unknown":
        return []  # asked already
    if average is None:
        return [
            Finding(
                AVERAGE_COUNT,
                UNKNOWN,
                f"count {offer.yarn.count_text}: ask whether it is average, base, total or sheath",
            )
        ]
    limit = limits.get("count_deviation")
    if limit is None:
        return []
    deviation = abs(average / slot.ne - 1)
    outside = deviation > limit.value + 1e-12
    return [
        Finding(
            AVERAGE_COUNT,
            FAIL if outside else PASS,
            f"average count Ne {average:.2f} is {deviation * 100:.1f} % from the wanted "
            f"Ne {slot.ne:g} (at most {limit.value * 100:g} %)"
            if outside
            else f"average count Ne {average:.2f}",
            f"Ne {average:.2f}",
            f"Ne {slot.ne:g} ± {limit.value * 100:g} %",
            limit.source,
            limit.owner,
        )
    ]


def _wanted(offer: Offer, slot: Slot) -> list[Finding]:
    met = offer.yarn
    return [
        Finding(
            about,
            UNKNOWN if found == "unknown" else PASS if found in accepted else FAIL,
            f"{about} {found}" if found in accepted else f"{about} {found}, wanted {wanted}",
            found,
            wanted,
            "the construction",
        )
        for about, wanted, found, accepted in (
            ("twist", slot.twist, met.twist, {slot.twist}),
            ("spinning", slot.spinning, met.spinning, {slot.spinning}),
            ("fibre mix", slot.fibre_mix, met.fibre_mix, {slot.fibre_mix}),
            (
                "effect",
                slot.effect,
                met.effect,
                _EFFECTS_ACCEPTED.get(slot.effect, {slot.effect}),
            ),
        )
        if wanted != "any"
    ]


def _tests(offer: Offer, limits: Mapping[str, Limit]) -> list[Finding]:
    fancy = offer.yarn.effect != "plain"
    findings = []
    for key, sense in LIMITED.items():
        limit = limits.get(key)
        if limit is None or key == "count_deviation" or (fancy and key in NOT_OF_FANCY):
            continue
        label, unit = TEST_PROPERTIES[key]
        value = offer.tests.get(key)
        bound = f"at {sense} {limit.value:g} {unit}".strip()
        if value is None:
            missing = f"{label}: no test value ({bound})"
            findings.append(Finding(key, UNKNOWN, missing, "", bound, limit.source, limit.owner))
            continue
        failed = value < limit.value if sense == "least" else value > limit.value
        verdict = f"{label} {value:g} {unit}".strip()
        findings.append(
            Finding(
                key,
                FAIL if failed else PASS,
                f"{verdict}, {bound} for {limit.role}" if failed else verdict,
                f"{value:g} {unit}".strip(),
                bound,
                limit.source,
                limit.owner,
            )
        )
    return findings
