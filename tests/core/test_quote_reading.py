"""Reading offer lines: what buyers read beyond doubt, what they ask, and that nothing is guessed.

The lines stand in tests/examples/quotes; the blind ones were written by people who never saw the
reader, and nobody changes the reader because of one of them.
"""

from __future__ import annotations

import tomllib
from collections import Counter
from dataclasses import dataclass, field
from datetime import date
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.actions.entries import OfferEntry
from server.core.quote_draft import Habits, folded
from server.core.quote_reading import Reading, language_of, read_quote

FOLDER = Path(__file__).resolve().parents[1] / "examples" / "quotes"
USUAL = {
    name: str(info.default)
    for name, info in OfferEntry.model_fields.items()
    if not info.is_required() and info.default not in (None, "")
}
CONVERTED = 0.005  # a figure moved from pounds or decitex is right within this [share]
NEVER_WRONG = ("price", "price_unit", "currency", "count", "count_system", "ply")
TODAY = date(2026, 3, 2)
WORDS = (
    "7/1 OE ring slub 2.46 46,80 15.900 USD $ Rs /kg per lb bale FOB Karachi mill 60 days valid "
    "03/04/26 +/-3% incl tax (40mt+) LC sight base Ne Nm tex 112c"
)


def quotes(name: str) -> list[dict[str, Any]]:
    return list(tomllib.loads((FOLDER / f"{name}.toml").read_text(encoding="utf-8"))["quote"])


@dataclass
class Score:
    """Fields right, asked for nothing, missed and wrong."""

    counts: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)

    def add(self, quote: dict[str, Any], reading: Reading) -> None:
        said, ambiguous = quote["said"], set(quote["asked"])
        asked = {question.field for question in reading.questions}
        for name, value in reading.values.items():
            if name in asked or name == "description":
                continue
            if name in said and same(name, value, said[name]):
                self.counts["right"] += 1
            elif name in said or name in ambiguous or USUAL.get(name) != value:
                self.wrong.append(f"{name} {value!r}, not {said.get(name)!r}: {quote['text']}")
        for name in said:
            self.counts["asked though said"] += name in asked
            self.counts["missed"] += name not in asked and name not in reading.values
        self.counts["asked rightly"] += len(ambiguous & asked)
        self.counts["left empty"] += len(ambiguous - asked)

    def told(self, name: str) -> str:
        counted = ", ".join(f"{count} {what}" for what, count in sorted(self.counts.items()))
        return f"offer lines, {name}: {counted}, {len(self.wrong)} wrong"


def same(name: str, met: str, meant: str) -> bool:
    if name == "place":  # words around a place may stay
        return folded(meant) in folded(met) or folded(met) in folded(meant)
    if met == meant:
        return True
    if not name.endswith(("tonnes", "denier")):
        return False
    return abs(float(met) / float(meant) - 1) < CONVERTED


def scored(name: str) -> Score:
    score = Score()
    for quote in quotes(name):
        score.add(quote, read_quote(quote["text"], received_on=quote["received_on"]))
    return score


@pytest.mark.parametrize("name", ["trade_guide", "open"])
def test_every_field_of_a_known_line_is_right_or_asked(name: str, record_property: Any) -> None:
    score = scored(name)
    record_property("offer_lines", score.told(name))
    assert not score.wrong
    assert score.counts["left empty"] == 0
    assert score.counts["asked though said"] + score.counts["missed"] <= 12


def test_blind_lines_are_read_without_a_guess_at_price_unit_currency_or_count(
    record_property: Any,
) -> None:
    score = scored("blind")
    record_property("offer_lines", score.told("blind"))
    assert not [each for each in score.wrong if each.split()[0] in NEVER_WRONG]
    meant = sum(score.counts[each] for each in ("right", "asked though said", "missed"))
    assert score.counts["right"] / meant > 0.9
    assert len(score.wrong) / meant < 0.01


@pytest.mark.parametrize("name", ["trade_guide", "open", "blind"])
def test_pieces_stand_where_the_words_are_and_do_not_overlap(name: str) -> None:
    for quote in quotes(name):
        reading = read_quote(quote["text"], received_on=quote["received_on"])
        stretches = [(p.start, p.end) for p in reading.pieces] + list(reading.left_over)
        ordered = sorted(stretches)
        assert all(start < end <= len(quote["text"]) for start, end in ordered)
        assert all(a[1] <= b[0] for a, b in pairwise(ordered))
        assert all(piece.taken_for for piece in reading.pieces)


@pytest.mark.parametrize(
    ("text", "field", "choices"),
    [
        ("hilo OE 6/1 $46.80 kg", "currency", {"MXN", "USD", "CAD"}),
        ("6/1 OE Rs 2310/10 lbs FOB KHI", "currency", {"PKR", "INR", "LKR"}),
        ("7/1 ring USD 432/bale FOB Semarang", "price_unit", {"bale (400 lb)", "bale (480 lb)"}),
        ("OE 6/1 112c/lb FOB mill", "term", {"FCA", "EXW"}),
        ("Ne 8/1 OE 1.90 USD/kg valid till 03/04/26", "valid_until", {"2026-04-03", "2026-03-04"}),
        ("Ne 8/1 ring slub 2.46 USD/kg", "count_basis", {"average", "base"}),
        ("Ne 10/1 core spun 3.10 USD/kg", "count_basis", {"total", "sheath"}),
        ("Ne 8/1 OE 1.84 USD/kg / 1.80 (40mt+)", "break_kind", {"all units", "incremental"}),
        ("Fio OE 8/1 R$ 10,90/kg posto fabrica", "term", {"EXW", "FCA", "DAP"}),
    ],
)  # fmt: skip
def test_words_with_two_meanings_become_a_question_with_both(
    text: str, field: str, choices: set[str]
) -> None:
    reading = read_quote(text, received_on=TODAY)
    question = next(each for each in reading.questions if each.field == field)
    assert {value for value, _ in question.choices} == choices
    assert reading.values.get(field, "unknown") == "unknown"


def test_a_known_order_of_dates_settles_the_day_and_a_likely_answer_comes_first() -> None:
    text = "Ne 8/1 OE $1.90/kg valid till 03/04/26"
    habits = Habits(date_order="MDY", likely={"currency": "CAD"})
    reading = read_quote(text, received_on=TODAY, habits=habits)
    assert reading.values["valid_until"] == "2026-03-04"
    (question,) = [each for each in reading.questions if each.field == "currency"]
    assert question.choices[0][0] == "CAD"


@pytest.mark.parametrize(
    ("text", "price"),
    [
        ("OE 8/1 15,900 yuan/t", "15900"),
        ("OE 8/1 15.900 CNY/t", "15900"),
        ("OE 8/1 1,964 USD/kg", "1.964"),
        ("OE 8/1 PKR 2,310/10 lb", "2310"),
        ("OE 8/1 62.500 VND/kg", "62500"),
    ],
)
def test_of_two_readings_a_thousand_apart_the_one_yarn_can_cost_is_taken(
    text: str, price: str
) -> None:
    assert read_quote(text, received_on=TODAY).values["price"] == price


def test_a_ring_look_is_no_ring_yarn() -> None:
    reading = read_quote("ring-look slub OE 6.5/1 USD 2.15/kg FOB Ningbo", received_on=TODAY)
    assert reading.values["spinning"] == "OE"
    assert reading.values["description"] == "ring-look"
    only = read_quote("ring effect yarn Ne 6.5 USD 2.15/kg", received_on=TODAY)
    assert "spinning" not in only.values


@pytest.mark.parametrize(
    ("text", "language"),
    [
        ("hilo de anillos cardado, entrega 20 días", "es"),
        ("filato cardato, consegna 3 sett.", "it"),
        ("fio cardado, prazo 20 dias, algodão", "pt"),
        ("ring iplik karde, teslim 20 gün", "tr"),
        ("fil cardé à anneaux, délai 4 semaines", "fr"),
        ("7/1 OE", "en"),
    ],
)
def test_the_language_is_told_by_its_words(text: str, language: str) -> None:
    assert language_of(text) == language


@given(st.text(max_size=300))
def test_any_text_is_read_without_a_fault(text: str) -> None:
    reading = read_quote(text, received_on=TODAY)
    assert reading.text == text


@given(
    st.lists(
        st.sampled_from(WORDS.split()),
        max_size=14,
    )
)
def test_any_order_of_trade_words_keeps_the_figures_of_the_text(words: list[str]) -> None:
    text = " ".join(words)
    price = read_quote(text, received_on=TODAY).values.get("price")
    assert price is None or price.replace(".", "") in text.replace(".", "").replace(",", "")
