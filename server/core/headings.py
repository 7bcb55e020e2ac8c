"""Headings of supplier sheets: which field of an offer a column holds, in which unit.

The words are the trade's in six languages, from memory.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from server.core.offer import TEST_PROPERTIES
from server.core.quote_draft import folded

QUOTE = "quote"  # a column of free text, read as an offer line
IGNORED = ""

COLUMN_FIELDS: Mapping[str, str] = {
    QUOTE: "Free text of the offer",
    "supplier": "Supplier",
    "code": "Reference (offer code)",
    "count": "Count",
    "count_system": "Count system",
    "count_basis": "Count basis",
    "ply": "Ply",
    "spinning": "Process: spinning, effect, core",
    "preparation": "Carded or combed",
    "twist": "Twist direction",
    "twist_multiplier": "Twist multiplier αe",
    "effect": "Effect",
    "slub_added_mass_percent": "Mass the slubs add, %",
    "core1_denier": "Core, denier",
    "core1_draft": "Core draft",
    "fibre_mix": "Fibre mix",
    "description": "Seller's description",
    "price": "Price",
    "currency": "Currency",
    "price_unit": "Price unit",
    "tax_inside_percent": "Tax inside the price, %",
    "break1_from_tonnes": "Break 1 from, t",
    "break1_price": "Break 1 price",
    "break2_from_tonnes": "Break 2 from, t",
    "break2_price": "Break 2 price",
    "break3_from_tonnes": "Break 3 from, t",
    "break3_price": "Break 3 price",
    "term": "Delivery term and place",
    "place": "Named place",
    "ships_from": "Ships from",
    "payment": "Payment",
    "quoted_regain_percent": "Weight basis (regain), %",
    "lead_days": "Lead time",
    "moq_tonnes": "Minimum order",
    "capacity_tonnes": "Capacity this season",
    "count_tolerance_percent": "Count tolerance, ± %",
    "quoted_on": "Quoted on",
    "valid_until": "Valid until",
    **{key: f"{label}, {unit}".rstrip(", ") for key, (label, unit) in TEST_PROPERTIES.items()},
    "test_method": "Test method",
    "test_lot": "Lot",
    "tested_on": "Tested on",
    "notes": "Notes",
}
"""What a column may hold, with the words people choose it by."""

_WORDS = (
    ("valid_until", r"valid|validez|vigencia|validade|gecerli|expir|scaden|opsiyon"),
    ("tested_on", r"test(ed)?\s*(on|date)|fecha\s*(de\s*)?prueba"),
    ("quoted_on",
        r"quot(ed|e|ation)\s*(on|date)|offer\s*date|^date$|^fecha|^data(\s+offerta)?$|^tarih$"
        r"|fecha\s+oferta"),
    ("lead_days",
        r"lead|delivery\s*(time|days|weeks)|shipment\s*(time|days)|entrega|prazo|plazo"
        r"|consegna|teslim\s*suresi|delai|termin\s*suresi"),
    ("moq_tonnes",
        r"moq|min(imum)?\b.*(order|qty|quantity)|minimo|lotto\s*min|asgari|quantite\s*min"),
    ("capacity_tonnes", r"capacit|capacidad|kapasite|capacidade"),
    ("count_tolerance_percent", r"toler|\btol\b"),
    ("tax_inside_percent", r"\b(vat|iva|kdv|tva|gst|icms)\b|tax"),
    ("quoted_regain_percent", r"regain|ripresa|reprise|reintegro|weight\s*basis"),
    ("break1_from_tonnes", r"break\s*1?\s*(from|qty|t\b)"),
    ("break1_price", r"break\s*1?\s*price|price\s*(from|over)|volume\s*price"),
    ("price_unit", r"price\s*(unit|per)$|^(unit|uom|unidad|unita|birim|unite)$"),
    ("currency", r"currency|^(cur|ccy|moneda|valuta|moeda|para\s*birimi|devise|doviz)$"),
    ("price",
        r"price|precio|prezzo|preco|fiyat|prix|quote\b|rate\b|\b(usd|eur|mxn|brl|inr|pkr|cny"
        r"|try)\s*/|^(usd|eur|mxn)$"),
    ("payment", r"pay(ment|ement)?|pago|pagament|odeme|credit|paiement"),
    ("place", r"^(port|place|puerto|porto|liman|lieu)$"),
    ("ships_from", r"origin|ships?\s*from|pais|paese|pays|mense"),
    ("term", r"inco|delivery|term|condicion|resa|teslim|\b(fob|cif|cfr|exw|fca|dap|ddp)\b"),
    ("slub_added_mass_percent", r"slub.*(%|mass|add)"),
    ("core1_denier", r"(core|elast|span).*(den|dtex)|^den(ier)?$"),
    ("core1_draft", r"draft|stiro|estiraje|etirage|cekim"),
    ("twist_multiplier", r"\b(tm|alpha|ae|αe)\b|twist\s*(mult|factor)|alfa"),
    ("twist", r"twist|torsion|torcao|torsione|bukum"),
    ("ply", r"\bply\b|plies|cabos|capi|kat\b|retors"),
    ("count_basis", r"count\s*basis|base\s*or\s*average"),
    ("count_system", r"count\s*system"),
    ("average_ne", r"(actual|measured|tested)\s*count|count\s*(actual|measured)"),
    ("count_cv", r"count\s*cv|cv.*count"),
    ("count", r"count|titulo|titolo|titre|numara|numero|^(ne|nm|tex|nec)\b|\b(ne|nm)$|cuenta"),
    ("tenacity", r"tenac|rkm|cn/?tex|strength|resist"),
    ("evenness", r"\bcvm\b|even|\bu\s*%|regular"),
    ("hairiness", r"hair|pilos|vello|tuyluluk"),
    ("elongation", r"elong|allunga|alarga|uzama"),
    ("preparation", r"carded|combed|prep"),
    ("fibre_mix", r"fib(re|er)|blend|composi|mezcla|mischia|karisim|mistura|material"),
    ("effect", r"effect|efecto|effetto|slub"),
    ("spinning", r"process|spinning|spun|type|tipo|sistema|system|cins|hilatura|filatura"),
    ("supplier",
        r"supplier|mill\b|vendor|spinner|proveedor|fornitore|fornecedor|tedarikci|fournisseur"),
    ("code", r"^(ref|code|offer\s*(no|code|ref)|no\.?|item|art(icle)?|codigo|codice|kod|#)\b"),
    ("test_method", r"method|metodo"),
    ("test_lot", r"\blot\b|lote|partita|parti\b"),
    (QUOTE,
        r"description|descrip|quality|offer|oferta|offerta|yarn|hilo|filato|fio|iplik|fil\b"
        r"|product|article|teklif"),
    ("notes", r"note|remark|comment|observ|aciklama"),
)  # fmt: skip
_CURRENCY = re.compile(
    r"\b(usd|us\$|eur|mxn|brl|r\$|inr|pkr|cny|rmb|try|tl|gbp|vnd|idr|gtq|bdt|egp|usc)\b"
    r"|(€)|(us\$)|(r\$)"
)
_CODES = {"us$": "USD", "r$": "BRL", "€": "EUR", "rmb": "CNY", "tl": "TRY", "usc": "USc"}
_UNIT = re.compile(
    r"(?:/|per|por|al|x|\()\s*(10\s*lbs?|10\s*kgs?|100\s*kgs?|kgs?|kilo|lbs?|pound|libra"
    r"|mt|tonne|t)\b"
)
_UNITS = {"kgs": "kg", "kilo": "kg", "lbs": "lb", "pound": "lb", "libra": "lb", "mt": "t",
          "tonne": "t"}  # fmt: skip
_SCALE = (
    ("lead_days", r"week|wk|seman|settim|hafta|semaine", "7"),
    ("moq_tonnes", r"\bkgs?\b|kilo", "0.001"),
    ("capacity_tonnes", r"\bkgs?\b|kilo", "0.001"),
    ("evenness", r"\bu\s*%", "1.25"),
    ("tenacity", r"rkm|gf/?tex", "0.980665"),
)  # CVm = 1.25 U and RKM in gf/tex: trade-guide 1.1; standard gravity 9.80665 m/s²


@dataclass(frozen=True, slots=True)
class Heading:
    """A column heading understood.

    field: one of COLUMN_FIELDS, or "" for a column that is left out
    says: fields that the heading itself settles for every line, such as currency and price unit
    scale: factor from the unit of the heading to that of the field, as text; "1" when they agree
    """

    field: str
    says: Mapping[str, str]
    scale: str = "1"


def match_heading(text: str) -> Heading:
    """What a heading means; a heading nobody knows is left out."""
    plain = " ".join(folded(text).replace("_", " ").split())
    if not plain:
        return Heading(IGNORED, {})
    exact = plain.replace(" ", "_")
    field = exact if exact in COLUMN_FIELDS and exact != "description" else ""
    field = field or next((name for name, words in _WORDS if re.search(words, plain)), IGNORED)
    return Heading(field, _says(field, plain), scale_of(field, text))


def scale_of(field: str, heading: str) -> str:
    """Factor from the unit a heading names to the unit of the field, as text."""
    plain = folded(heading)
    found = (factor for name, words, factor in _SCALE if name == field and re.search(words, plain))
    return next(found, "1")


def says_of(field: str, heading: str) -> Mapping[str, str]:
    """What the heading of a column of this field settles for every line."""
    return _says(field, folded(heading))


def _says(field: str, plain: str) -> Mapping[str, str]:
    said: dict[str, str] = {}
    if field == "price" or field.endswith("_price"):
        if currency := _CURRENCY.search(plain):
            code = next(part for part in currency.groups() if part)
            said["currency"] = _CODES.get(code, code.upper())
        if unit := _UNIT.search(plain):
            word = re.sub(r"\s+", " ", unit[1])
            said["price_unit"] = _UNITS.get(word, word.replace("lbs", "lb").replace("kgs", "kg"))
        if term := re.search(r"\b(fob|cif|cfr|exw|fca|fas|cpt|cip|dap|ddp)\b", plain):
            said["term"] = term[1].upper()
    elif field == "count" and (system := re.search(r"\b(nec?|nm|d?tex)\b", plain)):
        said["count_system"] = {"ne": "Ne", "nec": "Ne", "nm": "Nm"}.get(system[1], system[1])
    return said


def find_heading_line(rows: Iterable[tuple[int, tuple[str, ...]]]) -> int:
    """Number of the line that looks most like a heading; 0 when none does.

    rows: the first lines of a sheet with their numbers
    Title lines above it have few cells; lines below it hold figures.
    """
    best, line = 1, 0
    for number, cells in rows:
        met = {match_heading(cell).field for cell in cells if len(cell) < 60} - {IGNORED}
        figures = sum(bool(re.fullmatch(r"[\d.,\s%-]+", cell)) for cell in cells if cell)
        if len(met) - figures > best:
            best, line = len(met) - figures, number
    return line
