"""Words for currencies and units of price, and what a yarn can cost.

Orders of magnitude only tell 15,900 from 15.900; they never enter a figure.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from server.core.currencies import CURRENCIES
from server.core.offer import KG_PER_PRICE_UNIT
from server.core.quote_numbers import NUMBER, readings
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
CURRENCY = rf"(?:{'|'.join((*_SURE.values(), *_UNSURE))}|\b(?:{_ISO})\b)"
KG = r"(?:kgs?|kilos?|quilos?|kilogram(?:o|os|me|mes|s|mo|mi)?)\b\.?"
LB = r"(?:lbs?|pounds?|libras?|libbr[ae]|livres?|libre)\b\.?"
TONNE = (
    r"(?:m\.?t\.?|tm|mts|tonnes?|metric\s+tons?|ton(?:elada)?s?\s+metricas?|toneladas?"
    r"|tonnellat[ae]|t)(?![a-z])\.?"
)
_TON = r"tons?\b"
_BALE = (
    rf"(?:(?P<w1>{NUMBER})\s*-?\s*(?P<m1>lbs?|kgs?|libras?)\.?\s*(?:yarn\s+)?(?:bales?"
    rf"|pacas?|fardos?|ball?[ae]s?)"
    rf"|(?:yarn\s+)?(?:bales?|pacas?|fardos?|ball?[ae]s?|balya|bl\b)(?:\s*\(?\s*(?:of|de|da"
    rf"|di|a|w/|=)?\s*(?P<w2>{NUMBER})\s*-?\s*(?P<m2>lbs?|kgs?|libras?|libbre"
    rf"|livres?)\b\)?)?)"
)
UNIT = (
    rf"(?P<bale>{_BALE})|(?P<ten_lb>10\s*(?:lbs?|pounds?|libras?)\b|bundle\s+of\s+10\s*lbs?)"
    rf"|(?P<ten_kg>10\s*{KG})|(?P<hundred_kg>100\s*{KG})|(?P<hundred_lb>100\s*{LB})|(?P<hundred>q(?:uintal(?:e|i|es)?)?\b|qq\b|qtl\b)"
    rf"|(?P<bundle>bundles?\b)"
    rf"|(?P<kg>{KG})|(?P<lb>{LB})|(?P<t>{TONNE})|(?P<short_ton>short\s+tons?\b)|(?P<ton>{_TON})"
)
PER = r"(?:/|per|by|por|al?|el|la|il|le|lo|o|the|par|du|x|cada|p/|icin|beher)"
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


def currencies_of(word: str) -> tuple[str, ...]:
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


def unit_of(match: re.Match[str]) -> tuple[str, str]:
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


OF_A_WORD = (
    (
        r"bale|yarn|paca|fardo|ball|balya|bl",
        (("bale (400 lb)", "bale of 400 lb"), ("bale (480 lb)", "bale of 480 lb")),
    ),
    (r"q|qtl", (("100 kg", "quintal of 100 kg"), ("100 lb", "quintal of 100 lb"))),
    (r"bundle", (("10 lb", "bundle of 10 lb"), ("10 kg", "bundle of 10 kg"))),
    (r"ton", (("t", "metric ton, 1,000 kg"), ("short ton", "short ton, 2,000 lb"))),
)


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
