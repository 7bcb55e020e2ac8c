"""The fields that may be changed for several offers at once, as a form that is empty at first."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from server.actions import bulk
from server.actions.nouns import NOUNS, FieldError
from server.web.forms import FieldView, form_view

OFFERS = NOUNS["offers"]


@dataclass(frozen=True, slots=True)
class Choice:
    """A field that may be changed, with the name of the box that empties it, or ""."""

    field: FieldView
    clear: str
    cleared: bool


ChoiceGroups = tuple[tuple[str, tuple[Choice, ...]], ...]


def choice_groups(query: Mapping[str, str], errors: Sequence[FieldError]) -> ChoiceGroups:
    """Titles of the groups of the form with their fields, holding what the address names."""
    typed = {name: query.get(f"to_{name}", "") for name in OFFERS.fields}
    form = form_view(OFFERS, typed, errors=errors)
    groups = []
    for group in form.groups:
        choices = tuple(
            Choice(
                _field(field),
                f"clear_{field.name}" if field.name in bulk.CLEARED else "",
                bool(query.get(f"clear_{field.name}")),
            )
            for field in group.fields
            if field.name in bulk.FIELDS
        )
        if choices:
            groups.append((group.title, choices))
    return tuple(groups)


def _field(field: FieldView) -> FieldView:
    """The field of the form of one offer, where empty means that nothing changes."""
    said = tuple((value, label) for value, label in field.options if value)
    return replace(
        field,
        name=f"to_{field.name}",
        required=False,
        options=(("", "no change"), *said) if field.kind == "choice" else (),
    )
