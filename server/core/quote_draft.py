"""A line of text while it is being read: what was recognised where, and what is still to ask."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache

from server.core.questions import Question

_TAKEN = "\0"
_ALIKE = {
    "\u00a0": " ", "\u2009": " ", "\u202f": " ", "’": "'", "‘": "'", "´": "'", "–": "-", "—": "-",
    "−": "-", "×": "x", "“": '"', "”": '"', "ı": "i", "\t": " ", "\n": " ", "|": " ",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of the seller's text and what it was taken for.

    start, end: where it stands in the text [characters]
    field: field of the offer entry it fills; "" when it only explains
    value: the value as stored; "" while it is a question
    taken_for: the reading in words
    """

    start: int
    end: int
    field: str
    value: str
    taken_for: str


@dataclass(frozen=True, slots=True)
class Habits:
    """What is known of the one who writes. It orders the choices of a question, or settles them
    where a person said how this supplier writes.

    date_order: DMY, MDY or YMD when it was settled, else ""
    decimal_mark: "." or "," when it was settled, else ""
    likely: field -> value answered last time; offered first, never taken by itself
    """

    date_order: str = ""
    decimal_mark: str = ""
    likely: Mapping[str, str] = field(default_factory=dict)


@lru_cache(maxsize=4096)
def _folded_sign(sign: str) -> str:
    alike = _ALIKE.get(sign, sign)
    plain = unicodedata.normalize("NFD", alike)[0].casefold()
    return plain if len(plain) == 1 else alike


def folded(text: str) -> str:
    """The text in small letters without accents, sign for sign, so that places stay the same."""
    return "".join(map(_folded_sign, text))


@lru_cache(maxsize=512)
def pattern(expression: str) -> re.Pattern[str]:
    """A compiled expression, blanks and comments in it left out."""
    return re.compile(expression, re.VERBOSE)


class Draft:
    """A text being read. Each recogniser takes stretches nobody has taken before."""

    def __init__(self, text: str, received_on: date, habits: Habits) -> None:
        self.text = text
        self.folded = folded(text)
        self.received_on = received_on
        self.habits = habits
        self.values: dict[str, str] = {}
        self.pieces: list[Piece] = []
        self.questions: dict[str, Question] = {}
        self._free = self.folded

    def find(self, expression: str) -> Iterator[re.Match[str]]:
        """Matches in what is still free, from left to right."""
        for match in pattern(expression).finditer(self._free):
            if self.free(*match.span()):
                yield match

    def first(self, expression: str) -> re.Match[str] | None:
        """The first match in what is still free."""
        return next(self.find(expression), None)

    def free(self, start: int, end: int) -> bool:
        """Whether nobody has taken a part of this stretch."""
        return _TAKEN not in self._free[start:end]

    def take(self, span: tuple[int, int], field: str, value: str, taken_for: str) -> None:
        """Take a stretch for a field; the first reading of a field holds."""
        start, end = self._trimmed(*span)
        self._free = self._free[:start] + _TAKEN * (end - start) + self._free[end:]
        self.pieces.append(Piece(start, end, field, value, taken_for))
        if field and value:
            self.values.setdefault(field, value)

    def ask(self, question: Question, span: tuple[int, int] | None = None) -> None:
        """Put a question, about a stretch of the text when there is one."""
        likely = self.habits.likely.get(question.field)
        choices = sorted(question.choices, key=lambda choice: choice[0] != likely)
        asked = Question(question.field, question.sentence, tuple(choices), question.unit)
        self.questions.setdefault(question.field, asked)
        if span:
            self.take(span, question.field, "", "a question: " + question.sentence)

    def knows(self, field: str) -> bool:
        """Whether a field was read or is asked."""
        return field in self.values or field in self.questions

    def said(self, span: tuple[int, int]) -> str:
        """The seller's own words in a stretch."""
        start, end = self._trimmed(*span)
        return self.text[start:end]

    def _trimmed(self, start: int, end: int) -> tuple[int, int]:
        while start < end and self.text[start] in " \t,;:":
            start += 1
        while end > start and self.text[end - 1] in " \t,;:":
            end -= 1
        return start, end
