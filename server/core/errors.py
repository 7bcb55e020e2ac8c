"""What went wrong: which field, which value, in which unit, and what to do about it."""

from __future__ import annotations


class CreelbookError(Exception):
    """Base of every error a person can do something about.

    field: the name of the field or thing in question
    value: the value met, as text
    unit: the unit the field is kept in, or ""
    remedy: what to do, as a sentence
    """

    code = "error"

    def __init__(
        self, message: str, *, field: str = "", value: object = "", unit: str = "", remedy: str = ""
    ) -> None:
        super().__init__(message)
        self.message = message
        self.field = field
        self.value = shorten(value)
        self.unit = unit
        self.remedy = remedy

    def __str__(self) -> str:
        return f"{self.message} {self.remedy}".strip()


class BadValue(CreelbookError):
    """A value that cannot be right: refused, nothing stored."""

    code = "bad_value"


class NotFound(CreelbookError):
    """No such thing is kept."""

    code = "not_found"


class Missing(CreelbookError):
    """A rate, an assumption or an answer that a figure needs and nobody has entered."""

    code = "missing"


class Conflict(CreelbookError):
    """Somebody else changed the record since it was read."""

    code = "conflict"


def shorten(value: object, limit: int = 60) -> str:
    """The value as text of at most `limit` characters, for use inside a message."""
    text = str(value)
    return text if len(text) <= limit else text[: limit - 1] + "…"
