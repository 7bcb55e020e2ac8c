"""The list of offers to be quoted again: one text for each seller, with that seller's offers only.

A text is made from one seller's own words, figures and units. What other sellers ask, what the
house computes and what it noted never gets into it, because the function that writes it is given
nothing else.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from server.core.offer import Offer, Supplier
from server.core.questions import Question
from server.core.requote_words import WORDS, Words, language_of


@dataclass(frozen=True)
class Requote:
    """What one seller is asked.

    day: the price should hold until this day at least
    lapsed: offers to be quoted again; asked: offers with something not said
    """

    supplier: Supplier
    language: str
    day: date
    lapsed: tuple[Offer, ...]
    asked: tuple[Offer, ...]

    @property
    def subject(self) -> str:
        """Subject line of the mail."""
        words = WORDS[self.language]
        return words.subject if self.lapsed else words.subject_of_questions

    @property
    def text(self) -> str:
        """The mail, without subject."""
        words = WORDS[self.language]
        parts = [words.greeting]
        if self.lapsed:
            parts.append(words.quote_again.format(day=self.day.isoformat()))
            parts.append("\n".join(f"- {_line(offer, words)}" for offer in self.lapsed))
        if self.asked:
            parts.append(words.also_answer if self.lapsed else words.please_answer)
            parts.append("\n".join(_questions(offer, words) for offer in self.asked))
        return "\n\n".join([*parts, words.thanks])


def requotes_of(
    offers: Iterable[Offer], *, before: date, day: date, language: str = ""
) -> tuple[Requote, ...]:
    """Everyone who is to be asked, by name.

    before: offers whose last valid day is earlier are asked again
    day: until when a new price should hold at least
    language: one for all, or "" for that of each seller's country
    """
    lapsed: dict[int, list[Offer]] = defaultdict(list)
    asked: dict[int, list[Offer]] = defaultdict(list)
    suppliers: dict[int, Supplier] = {}
    for offer in offers:
        is_over = offer.valid_until is not None and offer.valid_until < before
        if is_over:
            lapsed[offer.supplier.id].append(offer)
        if offer.open_questions:
            asked[offer.supplier.id].append(offer)
        if is_over or offer.open_questions:
            suppliers[offer.supplier.id] = offer.supplier
    return tuple(
        Requote(
            supplier,
            language or language_of(supplier.country),
            day,
            _by_code(lapsed[supplier.id]),
            _by_code(asked[supplier.id]),
        )
        for supplier in sorted(suppliers.values(), key=lambda each: (each.name.casefold(), each.id))
    )


def _by_code(offers: list[Offer]) -> tuple[Offer, ...]:
    return tuple(sorted(offers, key=lambda each: (each.code, each.id)))


def _yarn(offer: Offer) -> str:
    process = offer.yarn.process if offer.yarn.spinning else ""
    return ", ".join(part for part in (offer.yarn.count_text, process) if part)


def _line(offer: Offer, words: Words) -> str:
    """One offer in the seller's own words and units, with its date and our code."""
    said = [
        _yarn(offer),
        _price(offer, words),
        f"{offer.term} {offer.place}".strip(),
        offer.payment,
    ]
    dated = [words.offer_of.format(day=offer.quoted_on.isoformat())]
    if offer.valid_until is not None:
        dated.append(words.valid_until.format(day=offer.valid_until.isoformat()))
    return f"{offer.code}: {', '.join(part for part in said if part)}; {', '.join(dated)}"


def _price(offer: Offer, words: Words) -> str:
    steps = "; ".join(
        f"{words.from_tonnes.format(tonnes=f'{step.from_tonnes.normalize():f}')}: {step.price}"
        for step in offer.breaks
    )
    price = f"{offer.price} {offer.currency}".strip()
    price += f"/{offer.price_unit}" if offer.price_unit else ""
    return f"{price} ({steps})" if steps else price


def _questions(offer: Offer, words: Words) -> str:
    said = (
        f"{offer.code} ({_yarn(offer)}, {words.offer_of.format(day=offer.quoted_on.isoformat())})"
    )
    return "\n".join(
        [f"- {said}:", *(f"  - {worded(question, words)}" for question in offer.open_questions)]
    )


def worded(question: Question, words: Words) -> str:
    """The question in the seller's language, after the seller's words when it is about them."""
    quoted = re.match(r"“[^”]*”", question.sentence)
    text = words.questions.get(question.field)
    if text is None:
        return question.sentence.rpartition("Ask: ")[2]
    return f"{quoted[0]}: {text}" if quoted else text
