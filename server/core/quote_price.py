"""Reading the price out of an offer line: figure, currency, unit, price breaks, tax inside.

Which reading of 15,900 is meant follows from what yarn can cost: two readings are a thousand
times apart, and only one is a yarn price. Everything else that reads two ways is asked.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from server.core.currencies import CURRENCIES
from server.core.offer import HUNDREDTHS, KG_PER_PRICE_UNIT
from server.core.questions import NOT_SAID, Question
from server.core.quote_draft import Draft, Piece, pattern
from server.core.quote_numbers import NUMBER, plain, readings
from server.core.units import KG_PER_LB

_SURE = {
    "USD": (
        r"us\$|u\$s|u\.s\.\$|usd|us\s+dollars?|dollars?\s+us|dollari\s+usa"
        r"|dolares\s+(?:usa|americanos|eua)"
    ),
    "EUR": r"eur\b|euros?\b|€|avro\b",
    "BRL": r"r\$|brl|reais|real\b",
    "MXN": r"mxn|mxp|m\.n\.|mx\$|pesos?\s+mexicanos?",
    "GTQ": r"gtq|quetzal(?:es)?|q\b\.?",
    "INR": r"inr|₹",
    "PKR": r"pkr",
    "CNY": r"cny|rmb|yuan",
    "TRY": r"try\b|tl\b|₺|turk\s+lirasi",
    "GBP": r"gbp|£",
    "VND": r"vnd|dong\b",
    "IDR": r"idr|rupiah",
    "BDT": r"bdt|taka\b",
    "EGP": r"egp|l\.e\.",
    "UZS": r"uzs",
}
_UNSURE = {
    r"\$|dollars?|dolares|dollari|dolar\b|dlls?\b\.?|usd?\$": ("USD", "MXN", "CAD"),
    r"rs\b\.?|rupees?|rupias": ("PKR", "INR", "LKR"),
    r"pesos?\b": ("MXN", "COP", "ARS"),
    r"¥|yen\b": ("CNY", "JPY"),
    r"dirhams?|dh\b|dhs\b": ("MAD", "AED"),
    r"pounds?\s+(?:sterling|egyptian)|egyptian\s+pounds?": ("EGP", "GBP"),
}
_ISO = (
    "mad|aed|hnl|nio|pen|cop|clp|ars|lkr|jpy|chf|cad|aud|krw|thb|myr|php|twd|hkd|sgd|zar|kes|etb|tnd"
    "|pln|czk|ron|rub|kzt|khr|mmk"
)  # the codes of yarn trading countries; a code such as ALL is a word as well
_CURRENCY = rf"(?:{'|'.join((*_SURE.values(), *_UNSURE))}|\b(?:{_ISO})\b)"
_KG = r"(?:kgs?|kilos?|quilos?|kilogram(?:o|os|me|mes|s|mo|mi)?)\b\.?"
_LB = r"(?:lbs?|pounds?|libras?|libbr[ae]|livres?|libre)\b\.?"
_TONNE = (
    r"(?:m\.?t\.?|tm|mts|tonnes?|metric\s+tons?|ton(?:elada)?s?\s+metricas?|toneladas?"
    r"|tonnellat[ae]|t)(?![a-z])\.?"
)
_TON = r"tons?\b"
_BALE = (
    rf"(?:(?P<w1>{NUMBER})\s*-?\s*(?P<m1>lbs?|kgs?|libras?)\.?\s*(?:yarn\s+)?(?:bales?"
    rf"|pacas?|fardos?|ball[ae]s?)"
    rf"|(?:yarn\s+)?(?:bales?|pacas?|fardos?|ball[ae]s?|balya|bl\b)(?:\s*\(?\s*(?:of|de|da"
    rf"|di|a|w/|=)?\s*(?P<w2>{NUMBER})\s*-?\s*(?P<m2>lbs?|kgs?|libras?|libbre"
    rf"|livres?)\b\)?)?)"
)
_UNIT = (
    rf"(?P<bale>{_BALE})|(?P<ten_lb>10\s*(?:lbs?|pounds?|libras?)\b|bundle\s+of\s+10\s*lbs?)"
    rf"|(?P<ten_kg>10\s*{_KG})|(?P<hundred_kg>100\s*{_KG})|(?P<hundred_lb>100\s*{_LB})|(?P<hundred>q(?:uintal(?:e|i|es)?)?\b|qq\b|qtl\b)"
    rf"|(?P<bundle>bundles?\b)"
    rf"|(?P<kg>{_KG})|(?P<lb>{_LB})|(?P<t>{_TONNE})|(?P<short_ton>short\s+tons?\b)|(?P<ton>{_TON})"
)
_PER = r"(?:/|per|by|por|al?|el|la|il|le|lo|o|the|par|du|x|cada|p/|icin|beher)"
_CENTS = (
    rf"(?P<figure>{NUMBER})\s*(?P<us>us\s*)?(?:¢|usc|c|cts?|cents?"
    rf"|centavos\s+de\s+dolar)\b\.?\s*{_PER}?\s*(?:the\s+|la\s+)?(?P<lb>{_LB})"
)
_PRICE = (
    rf"(?:(?P<before>{_CURRENCY})\.?\s*)?(?<!\d[.,])(?<![\d/])(?P<figure>{NUMBER})(?!\s*%)(?!\s*/\s*\d\b(?!\d"
    rf"|\s*(?:lb|kg)))"
    rf"\s*;?\s*(?P<after>{_CURRENCY})?\s*;?\s*(?:ttc|ht)?\s*(?:(?P<per>{_PER})\s+|(?P<slash>/)\s*"
    rf"|)(?:{_UNIT}|)(?![a-z])"
)
_FROM = (
    r"(?:from|over|above|>=|≥|>|des|a\s+partir\s+de|desde|da|oltre|dal|acima\s+de|partir\s+de"
    r"|mas\s+de|plus\s+de|au-dela\s+de|for|beyond|dopo|a\s+partire\s+da)"
)
_ON = (
    r"(?:\+|and\s+(?:above|up|over|more)|or\s+more|up\b|ustu(?:nde)?|uzeri(?:nde)?|in\s+su|ve\s+ustu"
    r"|y\s+mas|o\s+mas|e\s+oltre|oltre|ou\s+plus|et\s+plus|ou\s+mais|e\s+acima|plus\b)"
)
_MASS = rf"(?<![\d.,])(?P<mass>{NUMBER})\s*(?P<mass_unit>{_TONNE}|tons?\b|{_KG})"
_MONEY = (
    rf"(?:{_CURRENCY}\s*)?(?<![\d.,])(?P<figure>\d+[.,]\d+"
    rf"|{NUMBER})(?![\d.,]*\d)(?:\s*{_CURRENCY})?(?:\s*/\s*(?:kg|lb|t)\b)?"
)
_BREAKS = (
    rf"{_MONEY}\s*\(?\s*{_FROM}\s*{_MASS}\s*(?:{_ON})?\)?",
    rf"{_MONEY}\s*\(\s*{_MASS}\s*(?:{_ON})?\)",
    rf"{_MONEY}\s*\(?\s*{_MASS}\s*{_ON}\)?",
    rf"(?:{_CURRENCY}\s*)?(?P<figure>{NUMBER})\s*(?:de|from|da|entre|between|du"
    rf"|di)\s*(?P<mass>{NUMBER})\s*(?:a|to|e|and|y|bis|au"
    rf"|-)\s*{NUMBER}\s*(?P<mass_unit>{_TONNE}|tons?\b|{_KG})",
    rf"(?:{_CURRENCY}\s*)?(?P<figure>{NUMBER})\s*(?:no\s+que\s+passar\s+de"
    rf"|lo\s+que\s+pase\s+de"
    rf"|for\s+the\s+rest\s+above)\s*(?P<mass>{NUMBER})\s*(?P<mass_unit>{_TONNE}|{_KG})?",
    rf"(?:{_FROM}\s*)?{_MASS}\s*(?:{_ON})?\s*(?:[:=@-]|at|a"
    rf"|icin)?\s*(?:{_CURRENCY}\s*)?(?P<figure>\d+[.,]\d\d?\d?)(?![\d%])",
)
_UP_TO = (
    rf"(?:up\s*to|upto|till|until|hasta|ate|fino(?:\s+a)?|kadar|jusqu'a|nas\s+primeiras"
    rf"|les\s+premieres|las\s+primeras|le\s+prime|first)\s*(?:(?P<limit>{NUMBER})\s*(?:{_TONNE}"
    rf"|tons?\b|{_KG}))|(?P<limit2>{NUMBER})\s*(?:{_TONNE}|ton\b)\s*(?:'?a\s*)?kadar"
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
_ORDER = {  # units of a currency for one US dollar, to an order of magnitude; from memory
    "MXN": 17,
    "INR": 90,
    "PKR": 280,
    "BRL": 5,
    "CNY": 7,
    "TRY": 40,
    "VND": 26000,
    "IDR": 16000,
    "BDT": 120,
    "EGP": 50,
    "UZS": 12000,
    "GTQ": 8,
    "LKR": 300,
    "JPY": 150,
    "COP": 4000,
    "ARS": 1400,
    "MAD": 10,
    "AED": 4,
    "HNL": 26,
    "NIO": 37,
    "PEN": 4,
    "CLP": 950,
    "USc": 100,
}
_YARN_USD_PER_KG = (0.5, 25.0)  # no denim yarn costs less or more; wide on purpose


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
    _tax(draft)
    breaks = _breaks(draft)
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
    _put_breaks(draft, breaks, unit)
    _tax_without_rate(draft)


def _tax(draft: Draft) -> None:
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


def _tax_without_rate(draft: Draft) -> None:
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
class _Break:
    tonnes: str
    figure: str
    unclear: bool
    currencies: tuple[str, ...]


def _breaks(draft: Draft) -> list[_Break]:
    """Prices from a quantity on. A mass in kilograms is given in tonnes."""
    found: list[_Break] = []
    for expression in _BREAKS:
        for match in draft.find(expression):
            mass_unit = (match["mass_unit"] or "t").strip(". ")
            mass = readings(match["mass"])[0]
            tonnes = mass if not re.match(r"k|q", mass_unit) else f"{float(mass) / 1000:g}"
            if float(tonnes) > 2000 or float(tonnes) <= 0:
                continue
            currency = re.search(_CURRENCY, match[0])
            span = match.span()
            draft.take(span, f"break@{tonnes}", "", f"price from {tonnes} t on")
            found.append(
                _Break(
                    tonnes,
                    match["figure"],
                    mass_unit in ("ton", "tons"),
                    _currencies(currency[0]) if currency else (),
                )
            )
    if limit := draft.first(_UP_TO):
        draft.take(limit.span(), "", "", "the first price holds up to here")
        tonnes = readings(limit["limit"] or limit["limit2"])[0]
        if not found and (beyond := draft.first(_BEYOND)):
            draft.take(beyond.span(), f"break@{tonnes}", "", f"price from {tonnes} t on")
            found.append(_Break(tonnes, beyond["figure"], False, ()))
    return sorted(found, key=lambda each: float(each.tonnes))[:3]


def _put_breaks(draft: Draft, breaks: list[_Break], unit: str) -> None:
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


def _prices(draft: Draft) -> list[_Price]:
    found = []
    for match in draft.find(_CENTS):
        found.append(_Price(match.span(), match["figure"], ("USc",), "lb", match["lb"], 3.0))
    for match in draft.find(_PRICE):
        currency = match["before"] or match["after"] or ""
        unit, said = _unit(match)
        if not currency and not said:
            continue
        linked = bool(match["per"] or match["slash"])
        score = 1.5 * bool(currency) + (1.0 if said and (linked or currency) else 0.4 * bool(said))
        span = match.span()
        if match["per"] and not said:  # the preposition belongs to what follows
            span = (match.start(), match.start("per"))
        found.append(_Price(span, match["figure"], _currencies(currency), unit, said, score))
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
    apart = draft.first(
        rf"(?P<currency>{_CURRENCY})\s*(?:(?:{_PER}\s+|/\s*)(?:{_UNIT}))?(?![a-z\d])"
    )
    if apart and not currencies:
        draft.take(apart.span(), "currency", "", "the currency of the price")
        currencies = _currencies(apart["currency"])
        if not unit_said:
            unit, unit_said = _unit(apart)
    if not unit_said:
        alone = draft.first(
            rf"(?<![a-z])(?:(?:per|por|al|el|la|il|le|par|each|cada)\s+|/\s*)(?:{_UNIT})(?![a-z])"
        )
        kilo = draft.first(r"\bkilosu(?:na|nu)?\b|\bkilo\s+fiyati\b")
        if kilo and not alone:
            draft.take(kilo.span(), "price_unit", "kg", "the price is for one kg")
            return currencies, "kg", "kg"
        if alone:
            unit, unit_said = _unit(alone)
            draft.take(alone.span(), "price_unit", "", f"the price is for one {unit or unit_said}")
    return currencies, unit, unit_said


def _currencies(word: str) -> tuple[str, ...]:
    """The currencies a word can mean, the likeliest first."""
    met = word.strip()
    if not met:
        return ()
    for code, words in _SURE.items():
        if re.fullmatch(words, met):
            return (code,)
    for words, codes in _UNSURE.items():
        if re.fullmatch(words, met):
            return codes
    return (met.upper(),) if met.upper() in CURRENCIES else ()


def _unit(match: re.Match[str]) -> tuple[str, str]:
    """(unit of the house, the seller's word); the unit is "" when the word is not enough."""
    part = match.groupdict()
    if part["bale"]:
        mass, of = part["w1"] or part["w2"], part["m1"] or part["m2"]
        if mass:
            figure = float(readings(mass)[0]) * (1.0 if of.startswith("k") else KG_PER_LB)
            for unit, kg in KG_PER_PRICE_UNIT.items():
                if unit.startswith("bale") and abs(figure / kg - 1) < 0.005:
                    return unit, part["bale"]
        return "", part["bale"]
    for name, unit in (
        ("ten_lb", "10 lb"),
        ("ten_kg", "10 kg"),
        ("hundred_kg", "100 kg"),
        ("hundred_lb", "100 lb"),
        ("kg", "kg"),
        ("lb", "lb"),
        ("t", "t"),
        ("hundred", ""),
        ("short_ton", "short ton"),
        ("bundle", ""),
        ("ton", ""),
    ):
        if part[name]:
            return unit, part[name]
    return "", ""


_OF_A_WORD = (
    (
        r"bale|yarn|paca|fardo|ball|balya|bl",
        (("bale (400 lb)", "bale of 400 lb"), ("bale (480 lb)", "bale of 480 lb")),
    ),
    (r"q|qtl", (("100 kg", "quintal of 100 kg"), ("100 lb", "quintal of 100 lb"))),
    (r"bundle", (("10 lb", "bundle of 10 lb"), ("10 kg", "bundle of 10 kg"))),
    (r"ton", (("t", "metric ton, 1,000 kg"), ("short ton", "short ton, 2,000 lb"))),
)


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
        choices = next((choices for words, choices in _OF_A_WORD if re.match(words, unit_said)), ())
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


CURRENCIES_IN_WORDS = {
    "USD": "US dollar",
    "MXN": "Mexican peso",
    "CAD": "Canadian dollar",
    "PKR": "Pakistani rupee",
    "INR": "Indian rupee",
    "LKR": "Sri Lankan rupee",
    "COP": "Colombian peso",
    "ARS": "Argentine peso",
    "CNY": "yuan",
    "JPY": "yen",
    "MAD": "Moroccan dirham",
    "AED": "UAE dirham",
    "EGP": "Egyptian pound",
    "GBP": "pound sterling",
}


def _plausible(
    draft: Draft, text: str, currencies: tuple[str, ...], unit: str, unit_said: str
) -> str:
    """The one reading of the figure that a yarn can cost; "" and a question when two can."""
    figures = readings(text, draft.habits.decimal_mark)
    if len(figures) == 1:
        return figures[0]
    choices = next((c for words, c in _OF_A_WORD if unit_said and re.match(words, unit_said)), ())
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


def likely_prices(
    figures: Sequence[str], currencies: Sequence[str], units: Sequence[str]
) -> list[str]:
    """Of several readings of a price, those that yarn can cost in one of these moneys and units.

    Empty when nothing is known of the currency's order of magnitude.
    """
    codes = [code for code in currencies if code in _ORDER or code in ("USD", "EUR", "GBP")]
    return [x for x in figures if any(_can_cost(x, c, u) for c in codes for u in units)]


def _can_cost(figure: str, code: str, unit: str) -> bool:
    mass = KG_PER_PRICE_UNIT[unit]
    per_kg = float(figure) / mass / _ORDER.get(code, 1)
    low, high = _YARN_USD_PER_KG
    return low <= per_kg <= high


assert set(HUNDREDTHS) <= set(_ORDER)
