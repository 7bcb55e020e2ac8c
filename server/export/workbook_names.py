"""Names of a workbook: of its sheets and of its inputs, legal in every spreadsheet program."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field

MOST_SHEET_NAME = 31
MOST_NAME = 120  # programs take 255; nobody reads more than this
MOST_TEXT = 32_000  # characters of a cell; programs take 32,767
RESERVED_SHEETS = ("history",)
_NOT_IN_SHEET_NAMES = re.compile(r"[\[\]:*?/\\]")
_LIKE_A_REFERENCE = re.compile(r"[a-z]{1,4}\d+|r\d*(c\d*)?|c\d*|true|false", re.IGNORECASE)
_UNPRINTABLE = {"Cc", "Cs", "Cn", "Co"}  # control, half characters, none at all, private


def plain(text: str) -> str:
    """Text as a cell may hold it: no control characters, never read as markup, not too long."""
    if text.isprintable() and text[:1] != "<":
        return text[:MOST_TEXT]
    kept = "".join(
        each for each in text if each == "\n" or unicodedata.category(each) not in _UNPRINTABLE
    )
    return f" {kept}"[:MOST_TEXT] if kept.startswith("<r>") else kept[:MOST_TEXT]


def name_part(text: str) -> str:
    """The letters and digits of a text without accents, other signs as one underscore."""
    folded = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.sub(r"[^A-Za-z0-9]+", "_", folded).strip("_")


def quoted(sheet: str) -> str:
    """A sheet name as it stands in formulas."""
    return "'" + sheet.replace("'", "''") + "'"


@dataclass
class Names:
    """Gives out names that differ without regard to case."""

    taken: set[str] = field(default_factory=set)

    def name(self, *parts: str) -> str:
        """A defined name from its parts, such as `Q09_quoted_price`."""
        text = "_".join(told for part in parts if (told := name_part(part)))[:MOST_NAME]
        if not text[:1].isalpha() or text[:3].lower() == "xl_" or is_reference(text):
            text = f"id_{text}".rstrip("_")
        return self._unused(text, "_{}", MOST_NAME + 10)

    def sheet(self, *wanted: str) -> str:
        """A sheet name: the first of the wanted that is short enough, else the last, cut."""
        told = [_NOT_IN_SHEET_NAMES.sub(" ", plain(each).replace("\n", " ")) for each in wanted]
        told = [" ".join(each.split()).strip("' ") for each in told]
        fit = next((each for each in told if each and len(each) <= MOST_SHEET_NAME), "")
        text = fit or told[-1][:MOST_SHEET_NAME].strip("' ") or "Cloth"
        if text.casefold() in RESERVED_SHEETS:
            text = f"{text} of cloth"
        return self._unused(text, " ({})", MOST_SHEET_NAME)

    def _unused(self, text: str, counted: str, most: int) -> str:
        found, place = text, 1
        while found.casefold() in self.taken:
            place += 1
            tail = counted.format(place)
            found = text[: most - len(tail)].rstrip() + tail
        self.taken.add(found.casefold())
        return found


def is_reference(text: str) -> bool:
    """Whether a program would take the name for a cell, in either way of counting."""
    return _LIKE_A_REFERENCE.fullmatch(text) is not None
