"""Reading price breaks and the tax inside a price out of an offer line."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from server.core.questions import NOT_SAID, Question
from server.core.quote_draft import Draft, Piece, pattern
from server.core.quote_money import CURRENCY, KG, TONNE, currencies_of
from server.core.quote_numbers import NUMBER, plain, readings

_FROM = (
    r"(?:from|over|above|>=|≥|>|des|a\s+partir\s+de|desde|da|oltre|dal|acima\s+de|partir\s+de"
    r"|mas\s+de|plus\s+de|au-dela\s+de|for|beyond|dopo|a\s+partire\s+da)"
)
_ON = (
    r"(?:\+|and\s+(?:above|up|over|more)|or\s+more|up\b|ustu(?:nde)?|uzeri(?:nde)?|in\s+su|ve\s+ustu"
    r"|y\s+mas|o\s+mas|e\s+oltre|oltre|ou\s+plus|et\s+plus|ou\s+mais|e\s+acima|plus\b)"
)
_MASS = rf"(?<![\d.,])(?P<mass>{NUMBER})\s*(?P<mass_unit>{TONNE}|tons?\b|{KG})"
_MONEY = (
    rf"(?:{CURRENCY}\s*)?(?<![\d.,])(?P<figure>\d+[.,]\d+"
    rf"|{NUMBER})(?![\d.,]*\d)(?:\s*{CURRENCY})?(?:\s*/\s*(?:kg|lb|t)\b)?"
)
_BREAKS = (
    rf"{_MONEY}\s*\(?\s*{_FROM}\s*{_MASS}\s*(?:{_ON})?\)?",
    rf"{_MONEY}\s*\(\s*{_MASS}\s*(?:{_ON})?\)",
    rf"{_MONEY}\s*\(?\s*{_MASS}\s*{_ON}\)?",
    rf"(?:{CURRENCY}\s*)?(?P<figure>{NUMBER})\s*(?:de|from|da|entre|between|du"
    rf"|di)\s*(?P<mass>{NUMBER})\s*(?:a|to|e|and|y|bis|au"
    rf"|-)\s*{NUMBER}\s*(?P<mass_unit>{TONNE}|tons?\b|{KG})",
    rf"(?:{CURRENCY}\s*)?(?P<figure>{NUMBER})\s*(?:no\s+que\s+passar\s+de"
    rf"|lo\s+que\s+pase\s+de"
    rf"|for\s+the\s+rest\s+above)\s*(?P<mass>{NUMBER})\s*(?P<mass_unit>{TONNE}|{KG})?",
    rf"(?:{_FROM}\s*)?{_MASS}\s*(?:{_ON})?\s*(?:[:=@-]|at|a"
    rf"|icin)?\s*(?:{CURRENCY}\s*)?(?P<figure>\d+[.,]\d\d?\d?)(?![\d%])",
)
_UP_TO = (
    rf"(?:up\s*to|upto|till|until|hasta|ate|fino(?:\s+a)?|kadar|jusqu'a|nas\s+primeiras"
    rf"|les\s+premieres|las\s+primeras|le\s+prime|first)\s*(?:(?P<limit>{NUMBER})\s*(?:{TONNE}"
    rf"|tons?\b|{KG}))|(?P<limit2>{NUMBER})\s*(?:{TONNE}|ton\b)\s*(?:'?a\s*)?kadar"
)
_BEYOND = (
    r"(?<![\d.,])(?P<figure>\d+[.,]\d+)\s*(?:oltre|above(?:\s+that)?|beyond|thereafter"
    r"|after\s+that|au-dela|en\s+adelante|acima|uzeri)(?!\s*\d)"
)
_ALL_UNITS = (
    r"(?:all[\s-]units?|entire\s+q(?:uanti)?ty|whole\s+(?:qty|quantity|lot)|on\s+the\s+total"
    r"|sobre\s+(?:el|o)\s+total|toda\s+la\s+cantidad|tutt[oa]\s+(?:la\s+quantita|il\s+lotto|la\s+fornitura)"
    r"|sull'intera\s+quantita|(?:sur\s+)?la\s+totalite|su\s+tutta\s+la\s+fornitura|toute\s+la\s+quantite|tum\s+miktar"
    r"|toplam\s+miktar|tamami(?:na|nda)?)"
)
_EXCESS = (
    r"(?:incremental|excess\s+only|only\s+(?:for|on)\s+the\s+excess|for\s+the\s+excess"
    r"|solo\s+(?:por|sobre|sul)\s*(?:el|l'|lo)?\s*(?:excedente|eccedenza|exceso)"
    r"|cada\s+(?:faixa|tramo)|ogni\s+(?:scaglione|fascia)|chaque\s+tranche|sur\s+l'excedent"
    r"|her\s+dilim|asan\s+(?:kisim|miktar)|each\s+(?:slab|tier|band)\s+at\s+its\s+own)"
)
_TAX = r"(?:vat|iva|kdv|tva|gst|icms|tax(?:es)?|impuestos?|impostos?|vergi|imposta|taxe)"


def read_tax(draft: Draft) -> None:
    """Tax on top, and tax inside with its rate [%]."""
    for found in draft.find(
        rf"(?:\+|plus|mas|mais|piu|excl(?:uding|\.|usive\s+of)?|w/o|without|sin|sem|senza"
        rf"|hors|arti|before)\s*(?:de\s+)?(?:\d+\s*%\s*)?{_TAX}(?:\s*extra)?\b"
        rf"|{_TAX}\s*(?:\d+\s*%\s*)?(?:extra|haric|esclusa|excluido|excluida|no\s+incluido"
        rf"|nao\s+inclus[oa]|non\s+comprise|exclus[oa])\b|(?<![a-z])ht\b(?=[\s,;.]|$)"
    ):
        draft.take(found.span(), "tax_inside_percent", "0", "tax comes on top")
    rate = draft.first(
        rf"\b(?:incl(?:uding|uded|\.|uye)?|with|con|com|inc\.?|dahil|compris|comprese?"
        rf"|avec)\s*(?:de\s+"
        rf"|the\s+)?(?P<a>{NUMBER})\s*%\s*(?:de\s+)?{_TAX}(?:\s+(?:incluid[oa]|inclus[oa]"
        rf"|dahil|incl(?:uded)?))?"
        rf"|\b(?:incl(?:uding|\.)?|with|con|com"
        rf"|avec)?\s*{_TAX}\s*(?:de(?:l)?\s+)?%?\s*(?P<b>{NUMBER})\s*%?\s*(?:incl(?:uded"
        rf"|uido|uso|usa|uida|\.)?|dahil|comprise?|inclus[oa]?|compres[oa])"
        rf"|%\s*(?P<c>{NUMBER})\s*{_TAX}\s*dahil"
        rf"|\b(?P<d>{NUMBER})\s*%\s*{_TAX}\s*(?:incl(?:uded|uido|uso|usa|uida|\.)?|dahil"
        rf"|comprise?|inside)"
        rf"|\b{_TAX}\s*(?P<e>{NUMBER})\s*%\s*(?:inside)"
    )
    if rate:
        figure = plain(next(part for part in rate.groups() if part))
        draft.take(rate.span(), "tax_inside_percent", figure, f"tax of {figure} % inside the price")


def tax_without_rate(draft: Draft) -> None:
    """Tax is said to be inside, its rate is not."""
    found = pattern(
        rf"\b(?:incl(?:uding|\.|uded)?|with|con|com)\s*(?:the\s+|de\s+)?{_TAX}\b"
        rf"|\b{_TAX}\s*(?:incl(?:uded|uid[oa]s?|uso|usa|\.)?|dahil|compris(?:e|es)?"
        rf"|compres[oa]|inclus[oa]s?)\b|(?<![a-z])ttc\b"
    ).search(draft.folded)
    if found and not draft.knows("tax_inside_percent"):
        said = draft.said(found.span())
        draft.ask(
            Question(
                "tax_inside_percent",
                f"“{said}”: the rate is not said. Ask: which tax is inside the price, at how many "
                "percent?",
                (),
                "%",
            ),
            found.span() if draft.free(*found.span()) else None,
        )


@dataclass(frozen=True, slots=True)
class Break:
    """A price from a quantity on. tonnes: from here [t]."""

    tonnes: str
    figure: str
    currencies: tuple[str, ...]


def read_breaks(draft: Draft) -> list[Break]:
    """Prices from a quantity on. A mass in kilograms is given in tonnes."""
    found: list[Break] = []
    for expression in _BREAKS:
        for match in draft.find(expression):
            mass_unit = (match["mass_unit"] or "t").strip(". ")
            mass = readings(match["mass"])[0]
            tonnes = mass if not re.match(r"k|q", mass_unit) else f"{float(mass) / 1000:g}"
            if float(tonnes) > 2000 or float(tonnes) <= 0:
                continue
            currency = re.search(CURRENCY, match[0])
            span = match.span()
            draft.take(span, f"break@{tonnes}", "", f"price from {tonnes} t on")
            found.append(
                Break(
                    tonnes,
                    match["figure"],
                    currencies_of(currency[0]) if currency else (),
                )
            )
    if limit := draft.first(_UP_TO):
        draft.take(limit.span(), "", "", "the first price holds up to here")
        tonnes = readings(limit["limit"] or limit["limit2"])[0]
        if not found and (beyond := draft.first(_BEYOND)):
            draft.take(beyond.span(), f"break@{tonnes}", "", f"price from {tonnes} t on")
            found.append(Break(tonnes, beyond["figure"], ()))
    return sorted(found, key=lambda each: float(each.tonnes))[:3]


def put_breaks(draft: Draft, breaks: list[Break]) -> None:
    """Write the breaks into the draft, once the first price is known; ask their kind."""
    base = draft.values.get("price", "")
    names = {f"break@{each.tonnes}": place for place, each in enumerate(breaks, 1)}
    for place, each in enumerate(breaks, 1):
        draft.values[f"break{place}_from_tonnes"] = each.tonnes
        figures = readings(each.figure, draft.habits.decimal_mark)
        near = [x for x in figures if base and 0.5 < float(x) / float(base) < 2]
        draft.values[f"break{place}_price"] = (near or list(figures))[0]
    draft.pieces = [
        _of_break(draft, piece, names)
        for piece in draft.pieces
        if not piece.field.startswith("break@") or piece.field in names
    ]
    if not breaks:
        return
    for kind, expression in (("all units", _ALL_UNITS), ("incremental", _EXCESS)):
        if word := draft.first(expression):
            draft.take(word.span(), "break_kind", kind, f"price breaks: {kind}")
            return
    draft.values["break_kind"] = "unknown"
    draft.ask(NOT_SAID["break_kind"])


def _of_break(draft: Draft, piece: Piece, names: dict[str, int]) -> Piece:
    """The piece of a price break with its place among the breaks."""
    if piece.field not in names:
        return piece
    field = f"break{names[piece.field]}_price"
    return replace(piece, field=field, value=draft.values[field])
