"""What only the seller can say: a field of an offer that is missing or can be read two ways.

A field with an open question holds nothing; an offer with an open question is unproven.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Question:
    """One thing to ask.

    field: the field of the offer entry that the answer fills
    sentence: what to ask, with the seller's words in it
    choices: (value to store, what it means), the likeliest first; empty when any value may answer
    unit: unit of the answer, or ""
    """

    field: str
    sentence: str
    choices: tuple[tuple[str, str], ...] = ()
    unit: str = ""


NOT_SAID = {
    "currency": Question(
        "currency", "The currency is not said. Ask: in which currency is the price?"
    ),
    "price_unit": Question(
        "price_unit",
        "The unit of the price is not said. Ask: for one kilogram, one pound, one bale of how many "
        "pounds?",
        (("kg", "kilogram"), ("lb", "pound"), ("t", "metric ton")),
    ),
    "count_system": Question(
        "count_system",
        "The count system is not said. Ask: is the count Ne, Nm or tex?",
        (("Ne", "English cotton count"), ("Nm", "metric count"), ("tex", "grams per kilometre")),
    ),
    "count_basis": Question(
        "count_basis",
        "The count is not said to be of the whole yarn. Ask: average or base count, total or "
        "sheath?",
    ),
    "spinning": Question(
        "spinning",
        "The spinning system is not said. Ask: ring, compact ring, open-end or air-jet?",
        (
            ("ring", "ring"),
            ("compact ring", "compact ring"),
            ("OE", "open-end (rotor)"),
            ("air-jet", "air-jet"),
        ),
    ),
    "term": Question(
        "term", "The delivery term is not said. Ask: where are the goods handed over, freight paid?"
    ),
    "payment": Question(
        "payment",
        "The payment is not said. Ask: how and when is it paid?",
        (
            ("LC sight", "letter of credit at sight"),
            ("LC 60", "letter of credit, 60 days"),
            ("CAD", "cash against documents"),
            ("OA 30", "open account, 30 days"),
            ("OA 60", "open account, 60 days"),
            ("TT advance", "paid with the order"),
        ),
    ),
    "quoted_regain_percent": Question(
        "quoted_regain_percent",
        "The weight basis is not said. Ask: at which regain is the weight invoiced?",
        (("8.5", "8.5 % regain"), ("7.0", "7.0 % regain")),
        "%",
    ),
    "lead_days": Question(
        "lead_days",
        "The lead time is not said. Ask: how many days from order to shipment?",
        unit="d",
    ),
    "valid_until": Question(
        "valid_until", "The validity is not said. Ask: until which day is the price good?"
    ),
    "break_kind": Question(
        "break_kind",
        "Ask: does a price break hold for all units or only for the excess?",
        (
            ("all units", "the price reached holds for the whole quantity"),
            ("incremental", "each price holds for its own part of the quantity"),
        ),
    ),
}
"""Question for each field that a comparison needs and a seller may leave out."""
