"""Entry classes as form fields and back: what was typed stays, with a message beside each fault."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Annotated, Any, Literal

from fastapi import Depends, Request
from pydantic.fields import FieldInfo
from starlette.datastructures import UploadFile

from server.actions.fields import OneOf
from server.actions.nouns import FieldError, Noun, doubts, holds, unit_of
from server.core.assumptions import KINDS
from server.core.offer import TEST_PROPERTIES
from server.core.rates import CHARGES
from server.request import house_of
from server.web.numbers import entered

Kind = Literal["text", "number", "date", "choice", "textarea", "check", "readonly"]
NOT_SAID = "–"
YES = ("yes", "true", "on", "1")
MOST_FIELDS = 400
_LONG_TEXT = 500

GROUPS: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "offers": {
        "Who and when": ("code", "supplier", "replaces", "quoted_on", "valid_until"),
        "As quoted": ("as_quoted", "description"),
        "Price": ("price", "currency", "price_unit", "tax_inside_percent", "break*"),
        "Terms": (
            "term", "place", "ships_from", "payment", "quoted_regain_percent", "lead_days",
            "moq_tonnes", "capacity_tonnes", "count_tolerance_percent",
        ),
        "Test values": (
            "average_ne", "tenacity", "evenness", "hairiness", "count_cv", "elongation",
            "imperfections", "warp_stops", "filling_stops", "test*",
        ),
        "Yarn": (
            "count*", "ply", "spinning", "preparation", "twist*", "effect", "slub*",
            "pattern", "core*", "fibre_mix",
        ),
    },
    "constructions": {
        "Cloth": (
            "code", "name", "weight_class", "weave", "twill_hand", "dyeing_route", "entered_state",
            "heat_set", "target_oz", "target_state", "calibration",
        ),
        "Loom and greige state": (
            "total_ends", "reed_width_in", "loom_ppi", "tail_in", "greige_width_in",
            "greige_add_on_percent",
        ),
        "Finished state": (
            "finished*", "filling_crimp_percent", "length_shrink_percent", "cuttable_width_in",
            "net_finish_percent",
            "finish_in_parts",
            "warp_retained_percent",
            "scouring_loss_percent",
            "coating_g_per_m2",
            "measured_oz", "measured_state",
        ),
        "Washed state": ("residual*", "wash_mass_change_percent"),
        "Warp": ("warp_*",),
        "Second warp": ("warp2_*",),
        "Filling": ("filling_*",),
        "Second filling": ("filling2_*",),
        "Garment and season": ("season_metres", "garment*"),
    },
}  # fmt: skip
"""Groups of a form with the names of their fields; a star stands for any ending. The first group
that knows a field has it; what none knows stands in a last group."""

_ORDER = {"offers": ("Who and when", "As quoted", "Price", "Terms", "Yarn", "Test values")}
_OPTION_LABELS: Mapping[tuple[str, str], Mapping[str, str]] = {
    ("assumptions", "key"): {
        kind.key: f"{kind.group}: {kind.label}" + (", by count" if kind.by_count else "")
        for kind in KINDS.values()
    },
    ("rates/charges", "key"): {key: label for key, (label, _) in CHARGES.items()},
    ("gate", "property"): {key: label for key, (label, _) in TEST_PROPERTIES.items()}
    | {"count_deviation": "Deviation of the count"},
}


@dataclass(frozen=True, slots=True)
class FieldView:
    """One labelled input. options: (value, label)."""

    name: str
    label: str
    unit: str
    value: str | bool
    error: str
    doubt: str
    help: str
    kind: Kind
    options: tuple[tuple[str, str], ...]
    required: bool


@dataclass(frozen=True, slots=True)
class FieldGroup:
    """Fields that belong together."""

    title: str
    fields: tuple[FieldView, ...]


@dataclass(frozen=True, slots=True)
class FormView:
    """A form. errors: (field, label, message), for the summary above it."""

    groups: tuple[FieldGroup, ...]
    errors: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Sent:
    """What a person sent by a form. names: what the files are called, by their field."""

    fields: Mapping[str, str]
    files: Mapping[str, bytes]
    names: Mapping[str, str] = field(default_factory=dict)


async def read_sent(request: Request) -> Sent:
    """The form of a request; line ends are those of the house. The only place that reads one."""
    limit = house_of(request).settings.max_body_bytes
    fields: dict[str, str] = {}
    files: dict[str, bytes] = {}
    names: dict[str, str] = {}
    async with request.form(max_fields=MOST_FIELDS, max_files=4, max_part_size=limit) as form:
        for name, value in form.multi_items():
            if isinstance(value, UploadFile):
                files[name] = await value.read()
                names[name] = value.filename or ""
            else:
                fields[name] = value.replace("\r\n", "\n")
    return Sent(fields, files, names)


SentForm = Annotated[Sent, Depends(read_sent)]


def form_view(
    noun: Noun,
    typed: Mapping[str, Any],
    *,
    errors: Sequence[FieldError] = (),
    readonly: Collection[str] = (),
    choices: Mapping[str, Iterable[str]] | None = None,
) -> FormView:
    """The form of a noun, holding what was typed or stored.

    readonly: fields that are shown and cannot be changed
    choices: field -> values it may take now, where the house knows them
    """
    told: dict[str, str] = {}
    for error in errors:
        told.setdefault(error.field, error.message)
    unusual = doubts(noun, sound_numbers(noun, typed))
    fields = {
        name: _field_view(
            noun,
            name,
            typed.get(name, None if info.is_required() else info.default),
            error=told.get(name, ""),
            doubt="" if name in told else unusual.get(name, ""),
            readonly=name in readonly,
            choices=tuple((choices or {}).get(name, ())),
        )
        for name, info in noun.fields.items()
    }
    return FormView(
        tuple(
            FieldGroup(title, tuple(fields[name] for name in names))
            for title, names in grouped(noun).items()
        ),
        tuple((error.field, error.label, error.message) for error in errors),
    )


def grouped(noun: Noun) -> dict[str, tuple[str, ...]]:
    """Titles of the groups of a noun's fields, with the names of the fields."""
    known = GROUPS.get(noun.path, {})
    rest = "Notes" if known else noun.one.capitalize()
    titles = [*_ORDER.get(noun.path, tuple(known)), rest]
    found: dict[str, list[str]] = {title: [] for title in titles}
    for name in noun.fields:
        found[next((t for t, names in known.items() if _is_among(name, names)), rest)].append(name)
    return {title: tuple(names) for title, names in found.items() if names}


def _is_among(name: str, names: Iterable[str]) -> bool:
    return any(name.startswith(each[:-1]) if each.endswith("*") else name == each for each in names)


def _field_view(
    noun: Noun,
    name: str,
    value: Any,
    *,
    error: str,
    doubt: str,
    readonly: bool,
    choices: tuple[str, ...],
) -> FieldView:
    info = noun.fields[name]
    kind = _kind(info, bool(choices))
    text = entered(value)
    if kind == "date" and text and not _is_day(text):
        kind = "text"  # a date input would hide what was typed
    unit = unit_of(info)
    options = _options(noun, name, text, choices) if kind == "choice" else ()
    return FieldView(
        name=name,
        label=info.title or name,
        unit="" if unit == "date" or (readonly and not text) else unit,
        value=(text or NOT_SAID) if readonly else is_yes(value) if kind == "check" else text,
        error=error,
        doubt=doubt,
        help=help_of(info),
        kind="readonly" if readonly else kind,
        options=options,
        required=info.is_required() and not readonly,
    )


def _kind(info: FieldInfo, has_choices: bool) -> Kind:
    if holds(info, bool):
        return "check"
    if holds(info, date):
        return "date"
    if holds(info, Decimal) or holds(info, int):
        return "number"
    if has_choices or values_of(info):
        return "choice"
    return "textarea" if (_bound(info, "max_length") or 0) > _LONG_TEXT else "text"


def values_of(info: FieldInfo) -> tuple[str, ...]:
    """The values a field must be one of; none when it is free."""
    return next((each.values for each in info.metadata if isinstance(each, OneOf)), ())


def _options(
    noun: Noun, name: str, text: str, choices: tuple[str, ...]
) -> tuple[tuple[str, str], ...]:
    info = noun.fields[name]
    values = choices or values_of(info)
    labels = _OPTION_LABELS.get((noun.path, name), {})
    options = [(value, labels.get(value, value or "not said")) for value in values]
    if text and text not in values:
        options.insert(0, (text, text))
    return (("", "choose"), *options) if info.is_required() else tuple(options)


def is_yes(value: Any) -> bool:
    """Whether a box was ticked."""
    return value is True or str(value).strip().lower() in YES


def _is_day(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False


def help_of(info: FieldInfo) -> str:
    """What a field means, where its label does not say it."""
    text = (info.description or "").removesuffix(f" [{unit_of(info)}]")
    text = text.removesuffix(", written as 2026-03-12")
    return "" if text == info.title else text


def limits_of(info: FieldInfo) -> str:
    """The hard limits of a field, in words."""
    values = values_of(info)
    if values:
        return f"one of: {', '.join(values)}"
    if holds(info, bool):
        return "true or false"
    said = [
        f"{words} {bound:g}"
        for limit, words in (("gt", "above"), ("ge", "at least"), ("le", "at most"))
        if (bound := _bound(info, limit)) is not None
    ]
    longest = _bound(info, "max_length")
    if longest is not None:
        said.append(f"up to {longest:g} characters")
    if holds(info, date):
        said.append("written as 2026-03-12")
    return ", ".join(said)


def _bound(info: FieldInfo, limit: str) -> float | None:
    found = (getattr(each, limit, None) for each in info.metadata)
    return next((bound for bound in found if bound is not None), None)


def sound_numbers(noun: Noun, typed: Mapping[str, Any]) -> dict[str, Decimal]:
    """The typed values that are numbers of this noun, for a look at what is unusual."""
    numbers = {}
    for name, value in typed.items():
        if name in noun.fields and value is not None and len(str(value)) <= 40:
            try:
                number = Decimal(str(value).strip())
            except InvalidOperation:
                continue
            if number.is_finite():
                numbers[name] = number
    return numbers
