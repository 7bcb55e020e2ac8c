"""Variants of a construction: a change kept by name, looked at again, promoted to a version."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from urllib.parse import parse_qsl, urlencode

from server.actions.asked_change import AskedChange, following_requotes, read_change
from server.actions.book import current_book
from server.actions.change import Desk, changed_values, work_out
from server.actions.compare import BasisChange
from server.actions.nouns import NOUNS
from server.core.change import Changed
from server.core.errors import BadValue, Conflict, CreelbookError, NotFound
from server.store import variants as store
from server.store.session import Engine, reading, writing
from server.store.variants import Variant

__all__ = ["Variant"]

LONGEST_NAME, LONGEST_NOTES, LONGEST_QUERY = 80, 2000, 2000  # characters


@dataclass(frozen=True, eq=False)
class LookedAt:
    """A variant worked out today, or the reason why it cannot be."""

    variant: Variant
    asked: AskedChange
    desk: Desk | None
    missing: str

    @property
    def changed(self) -> Changed | None:
        """The change worked out, or None."""
        return self.desk.changed if self.desk else None


def variants_of(engine: Engine, code: str) -> tuple[Variant, ...]:
    """The variants of a construction by name. Raises NotFound."""
    construction = current_book(engine).construction(code)
    with reading(engine) as session:
        return store.variants_of(session, construction.id)


def variant_named(engine: Engine, code: str, name: str) -> Variant:
    """One variant. Raises NotFound."""
    for variant in variants_of(engine, code):
        if variant.name == name:
            return variant
    raise NotFound(
        f"{code} has no variant “{name[:40]}”.",
        field="variant",
        value=name,
        remedy="Choose one from its variants.",
    )


def asked_by(variant: Variant) -> AskedChange:
    """What a variant changes."""
    return read_change(dict(parse_qsl(variant.query)))


def look_at(
    engine: Engine, code: str, basis_change: BasisChange, basis_name: str = ""
) -> tuple[LookedAt, ...]:
    """Every variant of a construction, worked out with today's offers and rates."""
    found, replaced = [], current_book(engine).replaced
    for variant in variants_of(engine, code):
        asked = following_requotes(asked_by(variant), replaced)
        try:
            desk = work_out(engine, code, asked, basis_change, basis_name)
            wrong = "; ".join(f"{name}: {text}" for name, text in desk.errors.items())
            found.append(LookedAt(variant, asked, desk, wrong))
        except CreelbookError as missing:
            found.append(LookedAt(variant, asked, None, str(missing)))
    return tuple(found)


def save_variant(
    engine: Engine,
    code: str,
    asked: AskedChange,
    person_id: int,
    *,
    name: str,
    notes: str = "",
    replace: bool = False,
) -> int:
    """Keep a change by name; gives its number. Raises BadValue, NotFound.

    Only a change that works out without a fault is kept. The pair it starts from is kept with it.
    """
    desk = work_out(engine, code, asked, BasisChange({}, {}))
    desk.refuse_errors()
    if asked.is_empty:
        raise BadValue(
            "Nothing is changed, so there is nothing to keep.",
            field="change",
            remedy="Change a figure on the change desk first.",
        )
    pair = asked.pair or desk.before.key
    query = urlencode({"pair": pair, **{k: v for k, v in asked.query.items() if k != "pair"}})
    if len(query) > LONGEST_QUERY:
        raise BadValue(
            "This change holds too many figures to be kept.",
            field="change",
            value=f"{len(query)}",
            unit="characters",
            remedy="Keep the assumptions of it as a scenario instead.",
        )
    sound_name, sound_notes = _plain(name, "name", LONGEST_NAME), _notes(notes)
    with writing(engine, person_id) as session:
        return store.keep_variant(
            session,
            desk.before.construction.id,
            sound_name,
            query,
            sound_notes,
            replace=replace,
        )


def remove_variant(engine: Engine, code: str, number: int, person_id: int) -> None:
    """Remove a variant. Raises NotFound."""
    construction = current_book(engine).construction(code)
    with writing(engine, person_id) as session:
        store.remove_variant(session, construction.id, number)


def promote(engine: Engine, code: str, number: int, person_id: int, *, version: int) -> int:
    """Make a variant the next version of its construction; gives that version.

    version: of the construction as it was looked at
    The cloth and the yarns wanted are stored, in loom state; offers and assumptions of the variant
    are no part of a construction and stay with the variant. Raises Conflict, BadValue, NotFound.
    """
    variant = next((each for each in variants_of(engine, code) if each.id == number), None)
    if variant is None:
        raise NotFound(
            f"{code} has no variant {number}.",
            field="variant",
            value=number,
            remedy="Open its variants again; somebody may have removed it.",
        )
    asked = asked_by(variant)
    construction = current_book(engine).construction(code)
    values = _next_values(engine, code, asked)
    keeper = NOUNS["constructions"].keeper
    with writing(engine, person_id) as session:
        keeper.change(session, code, values, version)
        return store.mark_promoted(session, construction.id, number)


def _next_values(engine: Engine, code: str, asked: AskedChange) -> dict[str, Any]:
    if not asked.fields:
        raise BadValue(
            "This variant changes offers or assumptions only; a construction holds neither.",
            field="variant",
            remedy="Pin the offer on the construction, or keep the assumptions as a scenario.",
        )
    book = current_book(engine)
    values, errors = changed_values(engine, book, book.construction(code), asked.fields)
    for name, wrong in errors.items():
        raise BadValue(f"{name.replace('_', ' ')}: {wrong}", field=name)
    return values


def _plain(text: str, field: str, longest: int) -> str:
    name = " ".join(text.split())
    if not name or len(name) > longest or any(sign in "<>" or ord(sign) < 32 for sign in name):
        raise BadValue(
            "A variant needs a name of plain words.",
            field=field,
            value=text,
            unit="characters",
            remedy=f"Write 1 to {longest} characters, without < and >.",
        )
    return name


def _notes(text: str) -> str:
    notes = text.strip()
    if len(notes) > LONGEST_NOTES or any(ord(sign) < 32 and sign not in "\r\n\t" for sign in notes):
        raise BadValue(
            "These notes cannot be kept.",
            field="notes",
            value=notes,
            unit="characters",
            remedy=f"Write at most {LONGEST_NOTES} characters of plain text.",
        )
    return notes


def refuse_stale(version: str) -> int:
    """The version a form carries. Raises Conflict when it carries none."""
    if version.isdecimal() and version.isascii() and len(version) < 10:
        return int(version)
    raise Conflict(
        "The form did not say which version of the construction it was filled from.",
        field="version",
        value=version,
        remedy="Open the variants again and repeat.",
    )
