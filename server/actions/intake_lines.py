"""One line of an intake made into an offer entry: what is open, odd or faulty about it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from server.actions.nouns import NOUNS, Refused, doubts, read_entry
from server.actions.offer_entry import offer_as_entered
from server.core.doubts import doubts_about
from server.core.offer import Supplier
from server.core.questions import NOT_SAID
from server.core.quote_draft import folded
from server.core.quote_reading import Reading
from server.store.intakes import Intake, Standing

OFFERS = NOUNS["offers"]
MUST_SAY = ("supplier", "count", "price")  # without these a line cannot become an offer
_SHORT_NAME = 5  # letters of a first word that may stand for a supplier
_TOLD = {
    "supplier": "the supplier is not known; choose it",
    "count": "no count was found; enter it",
    "price": "no price was found; enter it",
}
_NAMES = {name: info.title or name for name, info in OFFERS.fields.items()}


@dataclass
class Context:
    """What a line is held against.

    suppliers: by name; current: offers of a supplier that no later one replaces, by yarn
    seen: line number by text and supplier; claimed: line number by offer it takes the place of
    """

    intake: Intake
    suppliers: Mapping[str, Supplier]
    first_words: Mapping[str, str]
    current: dict[str, dict[tuple[str, ...], list[Standing]]] = field(default_factory=dict)
    seen: dict[tuple[str, str], int] = field(default_factory=dict)
    claimed: dict[str, int] = field(default_factory=dict)


def first_words(names: Iterable[str]) -> dict[str, str]:
    """First words that stand for one supplier only, folded."""
    met: dict[str, list[str]] = {}
    for name in names:
        met.setdefault(folded(name.split()[0]) if name.split() else "", []).append(name)
    return {
        word: found[0]
        for word, found in met.items()
        if len(found) == 1 and len(word) >= _SHORT_NAME
    }


def supplier_in(text: str, context: Context) -> str:
    """The supplier a line names, "" when it names none or several."""
    plain = folded(text)
    whole = [name for name in context.suppliers if folded(name) in plain]
    if len(whole) == 1:
        return whole[0]
    words = set(re.findall(r"[^\W\d_]+", plain))
    met = {context.first_words[word] for word in words if word in context.first_words}
    return met.pop() if len(met) == 1 else ""


def line_as_read(number: int, reading: Reading, context: Context) -> dict[str, Any]:
    """The staged row of a line just read."""
    values = dict(reading.values)
    values.setdefault("supplier", context.intake.supplier or supplier_in(reading.text, context))
    named = values["supplier"]
    if named and named not in context.suppliers:
        values["supplier"] = supplier_in(named, context)
    questions = [
        [each.field, each.sentence, [list(choice) for choice in each.choices], each.unit, ""]
        for each in reading.questions
    ]
    text = reading.text[:4000]
    row = {
        "intake_id": context.intake.id,
        "line": number,
        "text": text,
        "pieces": [[p.start, p.end, p.field, p.value, p.taken_for] for p in reading.pieces],
    }
    return row | judged(number, text, values, questions, context)


def judged(
    number: int,
    text: str,
    values: Mapping[str, str],
    questions: Sequence[Sequence[Any]],
    context: Context,
    decision: str = "",
) -> dict[str, Any]:
    """Outcome, faults, doubts and likeness of a line with these values and questions.

    decision: what a person decided about a likeness; "" takes the usual one
    """
    given = {name: value for name, value in values.items() if value not in ("", None)}
    asked = [list(each) for each in questions]
    for question in asked:
        if not question[4] and (said := context.intake.answers.get(question[0], "")):
            question[4] = said
        if question[4]:
            given[question[0]] = question[4]
    for name, said in context.intake.answers.items():
        given.setdefault(name, said)
    faults = [[name, _NAMES[name], _TOLD[name]] for name in MUST_SAY if not given.get(name)]
    typed: dict[str, Any] | None = None
    if not faults:
        try:
            typed = read_entry(OFFERS, _complete(given, number, text, context))
        except Refused as refused:
            faults = [[each.field, each.label, each.message] for each in refused.errors]
    odd = [] if typed is None else _doubts(typed, context)
    likeness, earlier = ("", "") if typed is None else _likeness(number, text, typed, context)
    if likeness == "repeat":
        odd.append(["", "Line", f"says the same as line {earlier}"])
        earlier = ""
    outcome = _outcome(given, asked, faults, odd)
    usual = usual_decision(likeness, outcome)
    if usual == "replace" and context.claimed.setdefault(earlier, number) != number:
        odd.append(["", "Line", f"offer {earlier} is replaced by line {context.claimed[earlier]}"])
        usual = "keep"
    return {
        "values": given,
        "questions": asked,
        "faults": faults,
        "doubts": odd,
        "outcome": outcome,
        "earlier": earlier,
        "likeness": likeness,
        "decision": decision if decision in decisions_for(earlier) else usual,
    }


def usual_decision(likeness: str, outcome: str) -> str:
    """What is done with a line unless a person decides otherwise."""
    if likeness == "re-quote" and outcome == "asked":
        return "keep"  # the earlier offer stands until the new one can be ranked
    return {"duplicate": "skip", "repeat": "skip", "re-quote": "replace", "older": "keep"}.get(
        likeness, "new"
    )


def decisions_for(earlier: str) -> tuple[str, ...]:
    """What can be done with a line. earlier: code of the offer it seems to repeat, or ""."""
    return ("replace", "keep", "skip") if earlier else ("new", "skip")


def _outcome(
    given: Mapping[str, str], asked: Sequence[Sequence[Any]], faults: list[Any], odd: list[Any]
) -> str:
    if faults:
        return "faulty"
    if any(not question[4] for question in asked) or not_said(given, asked):
        return "asked"
    return "doubtful" if odd else "accepted"


def not_said(given: Mapping[str, str], asked: Sequence[Sequence[Any]]) -> tuple[str, ...]:
    """Fields that a comparison needs, which the line does not say and no question is about."""
    put = {question[0] for question in asked}
    plain = given.get("effect", "plain") == "plain" and given.get("core", "none") == "none"
    return tuple(
        name
        for name in NOT_SAID
        if not given.get(name)
        and name not in put
        and not (name == "count_basis" and plain)
        and not (name == "break_kind" and not given.get("break1_price"))
    )


def _complete(given: Mapping[str, str], number: int, text: str, context: Context) -> dict[str, str]:
    """The entry of a line: what it says, with the texts that every offer has."""
    intake = context.intake
    entry = {name: value for name, value in given.items() if name in OFFERS.fields}
    received, last = intake.received_on.isoformat(), entry.get("valid_until", "9")
    entry.setdefault("quoted_on", min(received, last) if last[:1] == "2" else received)
    entry["code"] = given.get("code") or f"I{intake.id}-{number}"
    entry["as_quoted"] = text[:2000]
    if entry.get("effect", "plain") == "plain" and entry.get("core", "none") == "none":
        entry.setdefault("count_basis", "average")
    entry.setdefault("count_basis", "unknown")
    if entry.get("break1_price"):
        entry.setdefault("break_kind", "unknown")
    return entry


def _doubts(typed: Mapping[str, Any], context: Context) -> list[list[str]]:
    unusual = []
    last = typed["valid_until"]
    if last is not None and last < context.intake.received_on:
        unusual.append(["valid_until", _NAMES["valid_until"], "was over on the day it came in"])
    unusual += [[name, _NAMES[name], said] for name, said in doubts(OFFERS, typed).items()]
    offer = offer_as_entered(typed, context.suppliers[typed["supplier"]])
    return unusual + [[each.key, "Offer", each.text] for each in doubts_about(offer)]


def _likeness(
    number: int, text: str, typed: Mapping[str, Any], context: Context
) -> tuple[str, str]:
    """(kind, code of the earlier offer or number of the earlier line)."""
    said = (typed["supplier"], " ".join(text.split()))
    first = context.seen.setdefault(said, number)
    if first != number:
        return "repeat", str(first)
    if not typed["count_system"] or not typed["spinning"]:
        return "", ""
    yarn = (
        str(typed["count"].normalize()), typed["count_system"], str(typed["ply"]),
        typed["spinning"], typed["effect"], typed["core"],
    )  # fmt: skip
    price = (str(typed["price"].normalize()), typed["currency"], typed["price_unit"])
    alike = [
        each
        for each in context.current.get(typed["supplier"], {}).get(yarn, ())
        if each.term == typed["term"]
        and _agree(each.place, typed["place"])
        and _agree(each.preparation, typed["preparation"])
        and _agree(each.twist, typed["twist"])
    ]
    if not alike:
        return "", ""
    for each in alike:
        same_words = " ".join(each.as_quoted.split()) == said[1][:2000]
        if same_words or (each.price == price and each.quoted_on == typed["quoted_on"]):
            return "duplicate", each.code
    newest = max(alike, key=lambda each: (each.quoted_on, each.code))
    if typed["quoted_on"] < newest.quoted_on:
        return "older", newest.code
    return "re-quote", newest.code


def _agree(one: str, other: str) -> bool:
    """Whether two words do not contradict each other; what is not said contradicts nothing."""
    unsaid = ("", "unknown")
    return one in unsaid or other in unsaid or folded(one) == folded(other)


def typed_entry(
    number: int, text: str, given: Mapping[str, str], context: Context
) -> dict[str, Any]:
    """The entry of a line as values to store. Raises Refused."""
    return read_entry(OFFERS, _complete(given, number, text, context))


def question_rows(questions: Sequence[Sequence[Any]]) -> list[dict[str, Any]]:
    """The questions of a line as they are stored with its offer, answered ones too."""
    return [
        {
            "field": name,
            "sentence": sentence[:500],
            "choices": choices,
            "unit": unit,
            "answer": answer,
        }
        for name, sentence, choices, unit, answer in questions
        if name in OFFERS.fields
    ]
