"""Reading the price out of an offer line: figure, currency and unit.

Which reading of 15,900 is meant follows from what yarn can cost: two readings are a thousand
times apart, and only one is a yarn price. Everything else that reads two ways is asked.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from server.core.questions import NOT_SAID, Question
from server.core.quote_breaks import put_breaks, read_breaks, read_tax, tax_without_rate
from server.core.quote_draft import Draft
from server.core.quote_money import (
    CURRENCIES_IN_WORDS,
    CURRENCY,
    LB,
    OF_A_WORD,
    PER,
    UNIT,
    currencies_of,
    likely_prices,
    unit_of,
)
from server.core.quote_numbers import NUMBER, plain, readings

_CENTS = (
    rf"(?P<figure>{NUMBER})\s*(?P<us>us\s*)?(?:¢|usc|c|cts?|cents?"
    rf"|centavos\s+de\s+dolar)\b\.?\s*{PER}?\s*(?:the\s+|la\s+)?(?P<lb>{LB})"
)
_PRICE = (
    rf"(?:(?P<before>{CURRENCY})\.?\s*)?(?<!\d[.,])(?<![\d/])(?P<figure>{NUMBER})(?!\s*%)(?!\s*/\s*\d\b(?!\d"
    rf"|\s*(?:lb|kg)))"
    rf"\s*;?\s*(?P<after>{CURRENCY})?\s*;?\s*(?:ttc|ht)?\s*(?:(?P<per>{PER})\s+|(?P<slash>/)\s*"
    rf"|)(?:{UNIT}|)(?![a-z])"
)


@dataclass(frozen=True, slots=True)
class _Price:
    """A stretch that may be the price. score: how much speaks for it."""

    span: tuple[int, int]
    figure: str
    currencies: tuple[str, ...]
    unit: str
    unit_said: str
    score: float


def read_price(draft: Draft, language: str) -> None:
    """Tax, price breaks, then the price. language: orders the choices of a bare dollar."""
    read_tax(draft)
    breaks = read_breaks(draft)
    best = max(_prices(draft), key=lambda price: price.score, default=None)
    best = best or _bare(draft, {each.figure for each in breaks})
    if best is None:
        return
    draft.take(best.span, "price", "", "the price")
    currencies, unit, unit_said = best.currencies, best.unit, best.unit_said
    if not currencies or not unit:
        currencies, unit, unit_said = _beside(draft, currencies, unit, unit_said)
    if not currencies and breaks:
        currencies = breaks[0].currencies
    _settle(draft, best, currencies, unit, unit_said, language)
    put_breaks(draft, breaks)
    tax_without_rate(draft)


def _prices(draft: Draft) -> list[_Price]:
    found = []
    for match in draft.find(_CENTS):
        found.append(_Price(match.span(), match["figure"], ("USc",), "lb", match["lb"], 3.0))
    for match in draft.find(_PRICE):
        currency = match["before"] or match["after"] or ""
        unit, said = unit_of(match)
        if not currency and not said:
            continue
        linked = bool(match["per"] or match["slash"])
        score = 1.5 * bool(currency) + (1.0 if said and (linked or currency) else 0.4 * bool(said))
        span = match.span()
        if match["per"] and not said:  # the preposition belongs to what follows
            span = (match.start(), match.start("per"))
        found.append(_Price(span, match["figure"], currencies_of(currency), unit, said, score))
    return found


def _bare(draft: Draft, of_breaks: set[str]) -> _Price | None:
    """A number nobody took: after a word for price, or the only one with decimals."""
    named = draft.first(
        rf"\b(?:price|precio|prezzo|preco|fiyat(?:i)?|prix|@)\s*[:=]?\s*(?P<figure>{NUMBER})"
    )
    numbers = draft.find(r"(?<![\d.,/])(?P<figure>\d+[.,]\d{2,3})(?![\d%])(?!\s*(?:%|x\b))")
    decimals = [each for each in numbers if each["figure"] not in of_breaks]
    match = named or (decimals[0] if len(decimals) == 1 else None)
    if match is None and len(decimals) > 1:
        choices = tuple((plain(each["figure"]), f"“{each['figure']}”") for each in decimals)
        draft.ask(
            Question("price", "Several numbers could be the price. Which one is it?", choices)
        )
    return match and _Price(match.span(), match["figure"], (), "", "", 0.1)


def _beside(
    draft: Draft, currencies: tuple[str, ...], unit: str, unit_said: str
) -> tuple[tuple[str, ...], str, str]:
    """Currency and unit that stand apart from the figure: `all USD/kg`."""
    apart = draft.first(rf"(?P<currency>{CURRENCY})\s*(?:(?:{PER}\s+|/\s*)(?:{UNIT}))?(?![a-z\d])")
    if apart and not currencies:
        draft.take(apart.span(), "currency", "", "the currency of the price")
        currencies = currencies_of(apart["currency"])
        if not unit_said:
            unit, unit_said = unit_of(apart)
    if not unit_said:
        alone = draft.first(
            rf"(?<![a-z])(?:(?:per|por|al|el|la|il|le|par|each|cada)\s+|/\s*)(?:{UNIT})(?![a-z])"
        )
        kilo = draft.first(r"\bkilosu(?:na|nu)?\b|\bkilo\s+fiyati\b")
        if kilo and not alone:
            draft.take(kilo.span(), "price_unit", "kg", "the price is for one kg")
            return currencies, "kg", "kg"
        if alone:
            unit, unit_said = unit_of(alone)
            draft.take(alone.span(), "price_unit", "", f"the price is for one {unit or unit_said}")
    return currencies, unit, unit_said


def _settle(
    draft: Draft,
    price: _Price,
    currencies: tuple[str, ...],
    unit: str,
    unit_said: str,
    language: str,
) -> None:
    """Write what is sure into the draft and ask the rest."""
    figure = _plausible(draft, price.figure, currencies, unit, unit_said)
    if figure:
        draft.values["price"] = figure
    if len(currencies) == 1:
        draft.values["currency"] = currencies[0]
    elif currencies:
        choices = tuple((code, CURRENCIES_IN_WORDS.get(code, code)) for code in currencies)
        if language == "es" and currencies[0] == "USD":
            choices = (choices[1], choices[0], *choices[2:])
        draft.ask(
            Question(
                "currency",
                f"“{draft.said(price.span)}” can be several currencies. Ask: which one?",
                choices,
            )
        )
    else:
        draft.ask(NOT_SAID["currency"])
    if unit:
        draft.values["price_unit"] = unit
    elif unit_said:
        choices = next((choices for words, choices in OF_A_WORD if re.match(words, unit_said)), ())
        draft.ask(
            Question(
                "price_unit",
                f"“{unit_said}” has more than one mass. Ask: how many kilograms or pounds is it?",
                choices,
            )
        )
    else:
        draft.ask(NOT_SAID["price_unit"])
    _mark(draft, price.span, figure)


def _mark(draft: Draft, span: tuple[int, int], figure: str) -> None:
    """Say on the piece of the price what it was taken for."""
    money = draft.values.get("currency", "currency asked")
    unit = draft.values.get("price_unit", "unit asked")
    taken_for = f"price {figure} {money}/{unit}"
    draft.pieces = [
        replace(piece, value=figure, taken_for=taken_for)
        if piece.field == "price" and not piece.value
        else piece
        for piece in draft.pieces
    ]


def _plausible(
    draft: Draft, text: str, currencies: tuple[str, ...], unit: str, unit_said: str
) -> str:
    """The one reading of the figure that a yarn can cost; "" and a question when two can."""
    figures = readings(text, draft.habits.decimal_mark)
    if len(figures) == 1:
        return figures[0]
    choices = next((c for words, c in OF_A_WORD if unit_said and re.match(words, unit_said)), ())
    units = [unit] if unit else [name for name, _ in choices] or ["kg", "lb", "t"]
    can = likely_prices(figures, currencies or ("USD", "EUR"), units)
    if len(can) == 1:
        return can[0]
    draft.ask(
        Question(
            "price",
            f"“{text}” can be {figures[0]} or {figures[1]}. Which one is the price?",
            tuple((figure, figure) for figure in figures),
        )
    )
    return ""
