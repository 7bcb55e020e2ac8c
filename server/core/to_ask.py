"""What is to be asked about an offer, in words that can be put to its seller.

Nothing here holds what another seller asks, nor what the house computes; why a question stands is
for the buyer alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import chain

from server.core.construction import Basis
from server.core.doubts import Doubt
from server.core.gate import FAIL, ORIGIN_FILE, UNKNOWN, Finding
from server.core.offer import TEST_PROPERTIES, Offer
from server.core.offer_gate import Place
from server.core.requote_words import WORDS
from server.core.requotes import worded

VALIDITY, OPEN, TEST, ORIGIN, ARRIVAL, YARN, DOUBT = (
    "validity", "not said", "test value", "origin file", "arrival", "yarn", "doubt",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class ToAsk:
    """One thing to ask.

    about: what kind of thing it is; question: can be put to the seller as it stands
    why: what it rests on, for the buyer
    """

    about: str
    question: str
    why: str


def to_ask(
    offer: Offer,
    basis: Basis | None,
    places: Iterable[Place],
    doubts: Iterable[Doubt],
    *,
    transit_days: int | None = None,
) -> tuple[ToAsk, ...]:
    """Everything open about an offer, the most pressing first, each question once.

    places: where the offer is looked at; transit_days: of its freight lane [d], None without one
    """
    found = chain(
        _validity(offer, basis),
        _not_said(offer),
        _of_places(offer, tuple(places), basis, transit_days),
        (ToAsk(DOUBT, _sentence(each.question), each.sentence) for each in doubts),
    )
    return tuple({each.question: each for each in reversed(tuple(found))}.values())[::-1]


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _validity(offer: Offer, basis: Basis | None) -> Iterator[ToAsk]:
    last = offer.valid_until
    if basis is not None and last is not None and last < basis.meeting:
        yield ToAsk(
            VALIDITY,
            f"What is your price for this yarn today, valid until {basis.meeting} at least?",
            f"valid until {last}, before the meeting on {basis.meeting}",
        )


def _not_said(offer: Offer) -> Iterator[ToAsk]:
    for question in offer.open_questions:
        why = question.sentence.rpartition("Ask: ")[0].strip() or "the offer does not say"
        yield ToAsk(OPEN, _sentence(worded(question, WORDS["en"])), why)


def _of_places(
    offer: Offer, places: tuple[Place, ...], basis: Basis | None, transit_days: int | None
) -> Iterator[ToAsk]:
    """What the gate lacks, asked once for all places."""
    seen: set[str] = set()
    for place in places:
        for finding in place.standing.findings:
            if finding.about in seen:
                continue
            for asked in _of_finding(finding, offer, place, basis, transit_days):
                seen.add(finding.about)
                yield asked


def _of_finding(
    finding: Finding, offer: Offer, place: Place, basis: Basis | None, transit_days: int | None
) -> Iterator[ToAsk]:
    about, outcome = finding.about, finding.outcome
    where = f"{place.role} of {place.construction.code}"
    if about in TEST_PROPERTIES and outcome == UNKNOWN:
        label, unit = TEST_PROPERTIES[about]
        name = f"{label[0].lower()}{label[1:]}{f' in {unit}' if unit else ''}"
        yield ToAsk(
            TEST,
            f"What is the {name}, by which method and on which lot?",
            f"{finding.limit} for the {where}; no test value is entered",
        )
    elif about in TEST_PROPERTIES and outcome == FAIL:
        label = TEST_PROPERTIES[about][0]
        name = f"{label[0].lower()}{label[1:]}"
        yield ToAsk(
            TEST,
            f"Is there a lot with {name} {finding.limit}?",
            f"{finding.sentence} ({place.construction.code})",
        )
    elif about == ORIGIN_FILE and outcome in (FAIL, UNKNOWN):
        yield ToAsk(
            ORIGIN,
            "Which papers of the cotton-origin file are still to come, and on which day?",
            f"origin file {finding.value}; complete is asked for",
        )
    elif about == "arrival" and outcome == FAIL and basis is not None:
        left = basis.days_to_need - (transit_days or 0)
        yield ToAsk(
            ARRIVAL,
            f"Can it be shipped within {left} days of the order, not {offer.lead_days}?"
            if left > 0
            else f"How soon can it be shipped at the earliest, not in {offer.lead_days} days?",
            finding.sentence,
        )
    elif about in ("twist", "average count") and outcome == UNKNOWN:
        yield ToAsk(
            YARN,
            "Is the twist Z or S?"
            if about == "twist"
            else "What is the average count of the whole yarn, slubs and core included?",
            f"{finding.sentence}, {where}",
        )
