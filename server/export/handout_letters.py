"""Letters a handout can print: what the font lacks is replaced, so that nothing vanishes unsaid."""

from __future__ import annotations

import re
import struct
import unicodedata
from functools import cache
from pathlib import Path
from typing import Any

REPLACED = "\N{REPLACEMENT CHARACTER}"
MISSING_NOTE = f"{REPLACED} stands for a character that this handout cannot print."
_JOINERS = "\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}"  # letters of some scripts need them
_ISOLATE = "\N{FIRST STRONG ISOLATE}", "\N{POP DIRECTIONAL ISOLATE}"
_BREAK = "\N{ZERO WIDTH SPACE}"
_SHORT = 25  # letters of a word that needs no place to be broken
_LONG_WORD = re.compile(rf"\S{{{_SHORT},}}")
_PIECE = 12  # letters of a long word that stay together


def printable(value: Any, letters: frozenset[int]) -> Any:
    """Plain data of a document of slotted dataclasses and tuples, every text fit to be printed."""
    if isinstance(value, str):
        return printable_text(value, letters)
    if isinstance(value, tuple):
        return [printable(each, letters) for each in value]
    if hasattr(value, "__slots__"):
        return {name: printable(getattr(value, name), letters) for name in value.__slots__}
    return value


def printable_text(text: str, letters: frozenset[int]) -> str:
    """A text with letters of the font only, its long words breakable.

    letters: code points of the font; others become REPLACED, and what steers the layout goes
    """
    if len(text) < _SHORT and text.isascii() and text.isprintable():
        return text
    if not (text.isascii() and text.isprintable()):
        text = "".join(_letter(each, letters) for each in unicodedata.normalize("NFC", text))
        if any(unicodedata.bidirectional(each) in ("R", "AL", "AN") for each in text):
            text = text.join(_ISOLATE)
    return _LONG_WORD.sub(_breakable, text)


def plain(text: str) -> str:
    """A printable text without what steers its lines, for lists of files."""
    return "".join(each for each in text if each not in (*_ISOLATE, _BREAK))


def _letter(each: str, letters: frozenset[int]) -> str:
    if each.isspace():
        return " "
    kind = unicodedata.category(each)
    if kind == "Cc" or (kind == "Cf" and each not in _JOINERS):
        return ""
    return each if ord(each) in letters and kind not in ("Co", "Cs", "Cn") else REPLACED


def _breakable(word: re.Match[str]) -> str:
    text = word[0]
    return _BREAK.join(text[at : at + _PIECE] for at in range(0, len(text), _PIECE))


@cache
def letters_of(font: Path) -> frozenset[int]:
    """The code points a TrueType font has glyphs for (its `cmap`, formats 4 and 12)."""
    data = font.read_bytes()
    tables = struct.unpack(">H", data[4:6])[0]
    for at in range(12, 12 + 16 * tables, 16):
        tag, _, offset, _ = struct.unpack(">4sLLL", data[at : at + 16])
        if tag == b"cmap":
            return frozenset(_mapped(data, offset))
    return frozenset()


def _mapped(data: bytes, cmap: int) -> set[int]:
    found: set[int] = set()
    for number in range(struct.unpack(">H", data[cmap + 2 : cmap + 4])[0]):
        at = cmap + 4 + 8 * number
        start = cmap + struct.unpack(">HHL", data[at : at + 8])[2]
        kind = struct.unpack(">H", data[start : start + 2])[0]
        if kind == 12:
            found |= _segments_of_12(data, start)
        elif kind == 4:
            found |= _segments_of_4(data, start)
    return found


def _segments_of_12(data: bytes, start: int) -> set[int]:
    found: set[int] = set()
    for group in range(struct.unpack(">L", data[start + 12 : start + 16])[0]):
        at = start + 16 + 12 * group
        first, last, glyph = struct.unpack(">LLL", data[at : at + 12])
        found |= {code for code in range(first, last + 1) if glyph + code - first}
    return found


def _segments_of_4(data: bytes, start: int) -> set[int]:
    count = struct.unpack(">H", data[start + 6 : start + 8])[0] // 2

    def row(at: int, kind: str) -> tuple[int, ...]:
        return struct.unpack(f">{count}{kind}", data[at : at + 2 * count])

    ends, starts = row(start + 14, "H"), row(start + 16 + 2 * count, "H")
    deltas = row(start + 16 + 4 * count, "h")
    offsets_at = start + 16 + 6 * count
    offsets = row(offsets_at, "H")
    found: set[int] = set()
    for at in range(count):
        for code in range(starts[at], min(ends[at], 0xFFFE) + 1):
            glyph = code
            if offsets[at]:
                place = offsets_at + 2 * at + offsets[at] + 2 * (code - starts[at])
                glyph = struct.unpack(">H", data[place : place + 2])[0]
                if not glyph:
                    continue
            if (glyph + deltas[at]) & 0xFFFF:
                found.add(code)
    return found
