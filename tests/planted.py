"""A house full of secrets: distinctive words and figures in everything a buyer must not see.

They are written past the forms, straight into a copy of the demonstration, before it is read.
"""

from __future__ import annotations

import html
import io
import re
import unicodedata
import zipfile
import zlib
from collections.abc import Iterable
from decimal import Decimal
from urllib.parse import unquote_plus

from sqlalchemy import Engine, text

from server.actions.asked_change import read_change
from server.actions.overrides import accept_finding
from server.actions.packs import ClothAsked, edit_pack, freeze, new_pack, stored_pack
from server.actions.variants import save_variant

MARGIN = "8.37193"  # target margin on price [%]
DIGITS = ("837193", "9162807")  # of the margin, and of what it leaves of a price
TITLE, BUYER, WORDS = "Autumn twills", "Tarn & Fell", "Good morning to all at the table."
FORMER = "Quillonby Outfitters"  # whom the draft was first made for
WAYS = ("FOB", "CFR", "CIF", "EXW", "FCA", "DAP", "LC sight", "OA 60", "TT advance", "TT 30/70")
GIVEN = {
    "supplier": {"makes": "gleetwick", "contacts": "snorvale", "notes": "plimsark",
                 "origin_owner": "Ottoline Brask"},
    "offer": {"as_quoted": "as wired by Zumdell", "notes": "hagglemere", "place": "Port Skerrow"},
    "yarn": {"description": "wimbleyarn"},
    "freight_lane": {"route": "Skerrow–Dunmarsh", "source": "lanes of Fennimore"},
    "exchange_rate": {"source": "rates of Gildersby"},
    "duty_rate": {"source": "duties of Hexworth", "tariff_line": "5205.99.77"},
    "charge": {"source": "charges of Ivelow"},
    "assumption": {"source": "guesses of Jarrowick"},
    "assumption_set": {"name": "Kestrelmoor 2026", "notes": "lorbeck set"},
    "gate_limit": {"source": "limits of Mossgrove"},
    "basis": {"name": "Nettleham basis"},
    "construction": {"notes": "orpington remark", "calibration": "pennymoor rolls",
                     "weight_class": "quernby class"},
    "measured_piece": {"label": "roll of Rushwick", "source": "laboratory of Selmerby",
                       "notes": "tarnholm piece"},
    "test_value": {"method": "method of Umberleigh", "lot": "lot Venlow"},
}  # fmt: skip
"""Table -> column -> what is written in every row; names that are unique get a number."""
ROUGH = " & <Söhne>"  # behind a supplier's name, so that it is written otherwise in every format
OVERRIDE = "Wetherspool saw the file in person"
NOTES = "Xanthewick: walk away below 2.4137"
VARIANT, VARIANT_NOTES = "Yarrowmede trial", "zennorly notes"
OTHER = {"title": "Aldermarsh autumn", "buyer": "Birkenstowe Jeans", "notes": "corvidale terms"}
WHOM = "Dunnockby in person"
DELIVERED = "Eskermouth mill"
_UNIQUE = {("assumption_set", "name"), ("basis", "name"), ("measured_piece", "label")}


def plant(engine: Engine) -> None:
    """Write the secrets into a demonstration nobody has read yet."""
    with engine.begin() as database:
        for table, columns in GIVEN.items():
            for column, words in columns.items():
                told = f"'{words} ' || id" if (table, column) in _UNIQUE else f"'{words}'"
                database.execute(text(f"UPDATE {table} SET {column} = {told}"))  # noqa: S608
        database.execute(text("UPDATE person SET name = 'Perpetua Vexlund ' || id"))
        database.execute(text(f"UPDATE supplier SET name = 'Zorblatt' || id || '{ROUGH}'"))  # noqa: S608
        database.execute(text(f"UPDATE basis SET delivery_point = '{DELIVERED}'"))  # noqa: S608
        database.execute(
            text(f"UPDATE assumption SET value = '{MARGIN}' WHERE key = 'fabric.margin_on_price'")  # noqa: S608
        )
        for number, price in database.execute(text("SELECT id, price FROM offer")).all():
            database.execute(
                text("UPDATE offer SET code = :code, price = :price WHERE id = :id"),
                {
                    "code": f"XQ{number}Z",
                    "price": str(Decimal(price) + Decimal(number + 100) / 10**6),
                    "id": number,
                },
            )


def planted_pack(engine: Engine) -> str:
    """A frozen pack in a planted house, with an override and a variant; gives its reference."""
    accept_finding(engine, "XQ11Z", {"about": "origin file", "reason": OVERRIDE}, person_id=1)
    save_variant(
        engine, "DN-1375", read_change({"filling_ne": "8", "loom_ppi": "42.3"}), 1,
        name=VARIANT, notes=VARIANT_NOTES,
    )  # fmt: skip
    other = new_pack(engine, 1, {**OTHER, "meeting": "2026-03-14"}, [ClothAsked("DN-1250")])
    freeze(engine, other, 1, stored_pack(engine, other).version)
    cloths = [ClothAsked("DN-1375"), ClothAsked("DN-1375", VARIANT), ClothAsked("DN-1200S")]
    typed = {"title": FORMER, "buyer": FORMER, "meeting": "2026-03-12", "notes": NOTES}
    reference = new_pack(engine, 1, typed, cloths)
    typed |= {"title": TITLE, "buyer": BUYER, "words": WORDS}
    edit_pack(engine, reference, 1, typed, cloths, stored_pack(engine, reference).version)
    freeze(engine, reference, 1, stored_pack(engine, reference).version)
    return reference


def secrets(engine: Engine) -> set[str]:
    """Every planted word, and every price as quoted."""
    found = {words for columns in GIVEN.values() for words in columns.values()}
    found |= {*OTHER.values(), OVERRIDE, NOTES, "Xanthewick", VARIANT, VARIANT_NOTES, WHOM, FORMER}
    found |= {"Perpetua Vexlund", "2.4137", *DIGITS}
    with engine.connect() as database:
        for name in database.execute(text("SELECT name FROM supplier")).scalars():
            found |= {name, name.removesuffix(ROUGH)}
        found |= set(database.execute(text("SELECT code FROM offer")).scalars())
    return found


def quoted_prices(engine: Engine, *, in_dollars_a_kilogram: bool) -> set[str]:
    """Every price as quoted; those in dollars a kilogram are goods prices of the house as well."""
    with engine.connect() as database:
        rows = database.execute(text("SELECT price, currency, price_unit FROM offer")).all()
    return {
        f"{Decimal(price).normalize():f}"
        for price, currency, unit in rows
        if in_dollars_a_kilogram or (currency, unit) != ("USD", "kg")
    }


def countries(engine: Engine) -> set[str]:
    """Where the suppliers are."""
    with engine.connect() as database:
        return set(database.execute(text("SELECT country FROM supplier")).scalars())


class Haystack:
    """Documents as every text a person with tools could read out of them."""

    def __init__(self) -> None:
        self.texts: dict[str, str] = {}
        self.packed: set[str] = set()  # parts of files in which three letters mean nothing

    def add(self, name: str, content: bytes | str) -> None:
        """One document; archives are opened, compressed streams too."""
        if isinstance(content, str):
            content = content.encode()
        if content[:2] == b"PK":
            with zipfile.ZipFile(io.BytesIO(content)) as archive:
                for part in archive.namelist():
                    self.add(f"{name}!{part}", archive.read(part))
                self.add(f"{name}!comment", archive.comment)
            return
        if content[:4] == b"%PDF":
            self.packed.add(name)
            for place, stream in enumerate(
                re.findall(rb"stream\r?\n(.*?)endstream", content, re.S)
            ):
                opened = zlib.decompressobj()
                try:
                    self.add(f"{name}!stream{place}", opened.decompress(stream) or b" ")
                    self.packed.add(f"{name}!stream{place}")
                except zlib.error:
                    continue
        told = [content.decode("utf-8", "replace")]
        if b"\xfe\xff" in content or b"\0" in content:
            told.append(content.decode("utf-16-be", "replace"))
        self.texts[name] = "\n".join(each for text_ in told for each in _readings(text_))

    def holding(self, words: Iterable[str]) -> dict[str, list[str]]:
        """Secret -> documents that hold it, however it is written there."""
        found: dict[str, list[str]] = {}
        for secret in words:
            written = _writings(secret)
            where = [
                name for name, told in self.texts.items() if any(each in told for each in written)
            ]
            if where:
                found[secret] = where
        return found

    def whole_words(self, words: Iterable[str]) -> dict[str, list[str]]:
        """The same for short words, which must not be found inside longer ones."""
        open_ = {name: told for name, told in self.texts.items() if name not in self.packed}
        found: dict[str, list[str]] = {}
        for word in words:
            whole = re.compile(rf"(?<![\w.]){re.escape(_plain(word))}(?![\w.])")
            where = [name for name, told in open_.items() if whole.search(told)]
            if where:
                found[word] = where
        return found


def _plain(told: str) -> str:
    told = unicodedata.normalize("NFKC", told).casefold()
    return re.sub(r"\s+", " ", re.sub("[\u200b\u00ad\u2066-\u2069]", "", told))


def _readings(told: str) -> set[str]:
    """A text as it stands, and with entities, percent signs and escapes read."""
    once = html.unescape(told)
    escaped = re.sub(r"\\u([0-9a-fA-F]{4})", lambda found: chr(int(found[1], 16)), told)
    joined = re.sub(r"<[^>]*>", "", told)  # a word may be broken over runs of rich text
    return {
        _plain(each)
        for each in (told, once, html.unescape(once), unquote_plus(told), escaped, joined,
                     escaped.replace('\\"', '"'))
    }  # fmt: skip


def _writings(secret: str) -> set[str]:
    """A secret as it may be written: plain, as a name of a cell, as a part of an address."""
    plain = _plain(secret)
    folded = unicodedata.normalize("NFKD", plain).encode("ascii", "ignore").decode()
    words = re.findall(r"[a-z0-9.]+", folded)
    return {plain, "_".join(words).replace(".", "_"), "-".join(words), folded} - {""}
