"""The kinds of fields an entry is made of, each with label, unit, limits and help.

Hard limits refuse; a usual range lets a value in with a visible doubt. Numbers are decimals, kept
to the digit.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field
from pydantic_core import CoreSchema, core_schema

from server.core.assumptions import KINDS
from server.core.cloth_states import PIECE_STATES
from server.core.construction import DYEING_ROUTES, TWILL_HANDS, WEAVES
from server.core.currencies import CURRENCIES
from server.core.duty import ANY, BASES, PLIES, PREPARATIONS
from server.core.errors import BadValue
from server.core.gate import LIMITED, ROLES
from server.core.landed import TERMS
from server.core.loom_behaviour import LOOM_RULES
from server.core.offer import (
    BREAK_KINDS,
    CORES,
    COUNT_BASES,
    COUNT_SYSTEMS,
    EFFECTS,
    HUNDREDTHS,
    KG_PER_PRICE_UNIT,
    ORIGIN_STATES,
    SPINNING_SYSTEMS,
    TWIST_DIRECTIONS,
    read_payment,
)
from server.core.overrides import ALL_ROLES
from server.core.patterns import read_pattern
from server.core.rates import CHARGES

_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
_NOT_PLAIN = re.compile(r"[<>\x00-\x1f]")


def _plain_words(text: str) -> str:
    if _NOT_PLAIN.search(text):
        raise ValueError("must not contain < or > or control characters; write plain words")
    return text


def _free_text(text: str) -> str:
    if _CONTROL.search(text):
        raise ValueError("must not contain control characters; paste it as plain text")
    return text


def _no_blank(value: Any) -> Any:
    return None if isinstance(value, str) and not value.strip() else value


def _plain_number(value: Any) -> Any:
    if isinstance(value, str) and len(value) > 40:
        raise ValueError("has too many characters for a number; write digits with a decimal point")
    if isinstance(value, str) and "," in value:
        raise ValueError("must be written with a decimal point and without thousands commas")
    if isinstance(value, str) and "_" in value:
        raise ValueError("must be a number; write digits with a decimal point")
    return value


def _known_currency(code: str) -> str:
    if code not in CURRENCIES and code not in HUNDREDTHS:
        raise ValueError("is not a currency code of ISO 4217 (or USc); write for example USD")
    return code


def _known_payment(text: str) -> str:
    try:
        read_payment(text)
    except BadValue as wrong:
        raise ValueError(f"is not understood. {wrong.remedy}") from wrong
    return text


def _sound_pattern(text: str) -> str:
    try:
        return read_pattern(text).text if text else ""
    except BadValue as wrong:
        fault = wrong.message.partition(": ")[2]
        raise ValueError(f"cannot be read: {fault} {wrong.remedy}") from wrong


Name = Annotated[str, AfterValidator(_plain_words)]
Text = Annotated[str, AfterValidator(_free_text)]
Number = Annotated[Decimal, BeforeValidator(_plain_number)]
MaybeNumber = Annotated[Decimal | None, BeforeValidator(_plain_number), BeforeValidator(_no_blank)]
MaybeWhole = Annotated[int | None, BeforeValidator(_no_blank)]
MaybeDate = Annotated[date | None, BeforeValidator(_no_blank)]
Currency = Annotated[str, AfterValidator(_known_currency)]
MaybePayment = Annotated[str, AfterValidator(lambda text: _known_payment(text) if text else "")]
PatternText = Annotated[str, AfterValidator(_plain_words), AfterValidator(_sound_pattern)]
MaybeCurrency = Annotated[str, AfterValidator(lambda code: _known_currency(code) if code else "")]


def number(
    label: str,
    unit: str = "",
    *,
    above: float | None = None,
    least: float | None = None,
    most: float | None = None,
    usual: tuple[float, float] | None = None,
    help: str = "",
    optional: bool = False,
    default: str = "",
) -> Any:
    """A decimal field. usual: range the trade knows; outside it the value gets a doubt."""
    given: dict[str, Any] = {"default": None} if optional else {}
    if default:
        given = {"default": Decimal(default)}
    return Field(
        title=label,
        description=f"{help or label}{f' [{unit}]' if unit else ''}",
        gt=above,
        ge=least,
        le=most,
        max_digits=18,
        allow_inf_nan=False,
        json_schema_extra={"unit": unit, "usual": list(usual) if usual else None},
        **given,
    )


def whole(label: str, unit: str, *, least: int, most: int, **given: Any) -> Any:
    """A whole number."""
    return Field(
        title=label,
        description=f"{label} [{unit}]",
        ge=least,
        le=most,
        json_schema_extra={"unit": unit},
        **given,
    )


def words(
    label: str, *, longest: int = 200, help: str = "", least: int = 1, unit: str = "", **given: Any
) -> Any:
    """A text field; required unless a default is given."""
    shortest = 0 if "default" in given else least
    return Field(
        title=label,
        description=f"{help or label}{f' [{unit}]' if unit else ''}",
        min_length=shortest,
        max_length=longest,
        json_schema_extra={"unit": unit},
        **given,
    )


def choice(label: str, help: str = "", **given: Any) -> Any:
    """A choice among the values of its type."""
    return Field(title=label, description=help or label, json_schema_extra={"unit": ""}, **given)


def day(label: str, help: str = "", **given: Any) -> Any:
    """A calendar day, written 2026-03-12."""
    return Field(
        title=label,
        description=f"{help or label}, written as 2026-03-12",
        json_schema_extra={"unit": "date"},
        **given,
    )


class Entry(BaseModel):
    """Base of all entries: unknown fields are refused, text is stripped."""

    model_config = ConfigDict(extra="forbid", str_strip_whitespace=True)


@dataclass(frozen=True)
class OneOf:
    """A text that must be one of these values."""

    values: tuple[str, ...]

    def __get_pydantic_core_schema__(self, source: Any, handler: Any) -> CoreSchema:
        """Validate as a literal, so that messages and OpenAPI list the values."""
        return core_schema.literal_schema(list(self.values))


OriginState = Annotated[str, OneOf(tuple(ORIGIN_STATES))]
MaybeCountSystem = Annotated[str, OneOf(("", *COUNT_SYSTEMS))]
CountBasis = Annotated[str, OneOf(tuple(COUNT_BASES))]
MaybeSpinning = Annotated[str, OneOf(("", *SPINNING_SYSTEMS))]
Twist = Annotated[str, OneOf(tuple(TWIST_DIRECTIONS))]
Effect = Annotated[str, OneOf(tuple(EFFECTS))]
CoreKind = Annotated[str, OneOf(tuple(CORES))]
MaybePriceUnit = Annotated[str, OneOf(("", *KG_PER_PRICE_UNIT))]
MaybeTerm = Annotated[str, OneOf(("", *TERMS))]
BreakKind = Annotated[str, OneOf(tuple(BREAK_KINDS))]
Weave = Annotated[str, OneOf(tuple(WEAVES))]
TwillHand = Annotated[str, OneOf(tuple(TWILL_HANDS))]
DyeingRoute = Annotated[str, OneOf(tuple(DYEING_ROUTES))]
State = Annotated[str, OneOf(("loom", "finished"))]
ClothState = Annotated[str, OneOf(PIECE_STATES)]
ChargeKey = Annotated[str, OneOf(tuple(CHARGES))]
AssumptionKey = Annotated[str, OneOf(tuple(KINDS))]
Role = Annotated[str, OneOf(tuple(ROLES))]
AnyRole = Annotated[str, OneOf((ALL_ROLES, *ROLES))]
LimitedProperty = Annotated[str, OneOf(tuple(LIMITED))]
WantedEffect = Annotated[str, OneOf(("any", "plain", "slub", "multi-count"))]
WantedTwist = Annotated[str, OneOf(("any", "Z", "S"))]
WantedSpinning = Annotated[str, OneOf(("any", *SPINNING_SYSTEMS))]
CustomsBase = Annotated[str, OneOf(BASES)]
DutyPreparation = Annotated[str, OneOf((ANY, *PREPARATIONS))]
DutyPly = Annotated[str, OneOf((ANY, *PLIES))]
QuantityRule = Annotated[str, OneOf(("first price", "season", "metres"))]
LoomRule = Annotated[str, OneOf(LOOM_RULES)]
