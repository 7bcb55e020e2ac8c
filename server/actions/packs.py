"""Meeting packs: put together as a draft, frozen, shown, computed again, taken elsewhere."""

from __future__ import annotations

import re
import secrets
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from typing import Any

from server.actions.asked_change import following_requotes
from server.actions.book import current_book
from server.actions.change import work_out
from server.actions.change_words import change_words
from server.actions.compare import (
    BasisChange,
    break_evens,
    changed_basis,
    compare_construction,
    refuse_unknown_parts,
    sound_basis_change,
)
from server.actions.memory import Memory, question
from server.actions.variants import asked_by, variant_named
from server.core.again import Again, compute_again
from server.core.buyer_view import for_buyer, sound_choice
from server.core.compare import Comparison
from server.core.errors import BadValue, Conflict, CreelbookError, Missing
from server.core.freeze import Heading, Pool, assemble, freeze_comparison, freeze_variant
from server.core.given import Frozen, given_for
from server.core.pack import Cloth, Pack
from server.store import packs as store
from server.store.audit import Change
from server.store.book import Book
from server.store.packs import DRAFT, FROZEN, SUPERSEDED, ClothAsked, StoredPack
from server.store.session import Engine, reading, writing
from server.version import VERSION

__all__ = ["DRAFT", "FROZEN", "SUPERSEDED", "ClothAsked", "StoredPack"]

LONGEST = {"title": 200, "buyer": 200, "notes": 4000, "words": 4000}  # characters


@dataclass(frozen=True)
class WorkedOut:
    """A draft as it would be frozen now.

    problems: what cannot be frozen, each with its reason
    """

    frozen: Frozen | None
    pack: Pack
    problems: tuple[tuple[ClothAsked, str], ...]


_frozen: Memory[Frozen] = Memory(16)
_drafts: Memory[WorkedOut] = Memory(16)


def packs(engine: Engine) -> tuple[StoredPack, ...]:
    """Every pack, the latest meeting first."""
    with reading(engine) as session:
        return store.every_pack(session)


def stored_pack(engine: Engine, reference: str) -> StoredPack:
    """A pack without its content. Raises NotFound."""
    with reading(engine) as session:
        return store.pack_of(session, reference)


def history_of_pack(engine: Engine, reference: str) -> tuple[Change, ...]:
    """Who changed what of a pack's own record, the newest first. Raises NotFound."""
    with reading(engine) as session:
        return store.history_of_pack(session, reference)


def new_pack(
    engine: Engine,
    person_id: int,
    typed: Mapping[str, str],
    cloths: Iterable[ClothAsked] = (),
    basis_changes: Mapping[str, str] | None = None,
    basis_name: str = "",
    follows: str = "",
) -> str:
    """Store a new draft and give its reference.

    typed: title, buyer, meeting, notes, words, as people enter them
    basis_changes: what is changed on the stored basis, as in an address
    Raises BadValue.
    """
    values, cloths = _read(typed), _distinct(cloths)
    if not follows:
        _refuse_unknown(engine, cloths)
    changes = {name: text for name, text in (basis_changes or {}).items() if text}
    refuse_unknown_parts(changes)
    changed_basis(current_book(engine), basis_name, sound_basis_change(changes))
    values |= {
        "reference": new_reference(values["meeting"], values["buyer"] or values["title"]),
        "basis_name": basis_name,
        "basis_changes": changes,
        "follows": follows,
    }
    with writing(engine, person_id) as session:
        return store.add_draft(session, values, cloths)


def edit_pack(
    engine: Engine,
    reference: str,
    person_id: int,
    typed: Mapping[str, str],
    cloths: Sequence[ClothAsked],
    version: int,
) -> None:
    """Change the words and the cloths of a draft. Raises BadValue, NotFound, Conflict."""
    values = _read(typed)
    known = {(each.code, each.variant) for each in stored_pack(engine, reference).cloths}
    _refuse_unknown(engine, [each for each in cloths if (each.code, each.variant) not in known])
    with writing(engine, person_id) as session:
        store.change_draft(session, reference, values, version, _distinct(cloths))


def put_into(engine: Engine, reference: str, person_id: int, cloths: Iterable[ClothAsked]) -> None:
    """Add constructions to a draft; one that is in it already takes the newly chosen pairs.

    Raises NotFound, Conflict when the pack is frozen.
    """
    cloths = tuple(cloths)
    _refuse_unknown(engine, cloths)
    with writing(engine, person_id) as session:
        now = store.pack_of(session, reference)
        together = (*now.cloths, *cloths)
        store.change_draft(session, reference, {}, now.version, _distinct(together))


def _refuse_unknown(engine: Engine, cloths: Iterable[ClothAsked]) -> None:
    """Raises NotFound for a construction or a variant that is not there."""
    book = current_book(engine)
    for each in cloths:
        book.construction(each.code)
        if each.variant:
            variant_named(engine, each.code, each.variant)


def remove_draft(engine: Engine, reference: str, person_id: int) -> None:
    """Remove a draft. Raises NotFound, Conflict."""
    with writing(engine, person_id) as session:
        store.remove_draft(session, reference)


def follow_up(engine: Engine, reference: str, person_id: int) -> str:
    """A new draft of the same cloths that supersedes a frozen pack once it is frozen itself."""
    was = stored_pack(engine, reference)
    if was.state == DRAFT:
        raise Conflict(
            f"Pack {reference} is a draft still; it can be changed itself.",
            field="pack",
            value=reference,
            remedy="Open it and change it.",
        )
    made = new_pack(
        engine, person_id, was.typed, was.cloths, was.basis_changes, was.basis_name, reference
    )
    choose_shown(engine, made, person_id, was.shown, stored_pack(engine, made).version)
    return made


def work_out_pack(engine: Engine, stored: StoredPack, made_at: datetime | None = None) -> WorkedOut:
    """A draft as it would be frozen now; what cannot be compared is named and left out."""
    book = current_book(engine)
    change = sound_basis_change(stored.basis_changes)

    def build() -> WorkedOut:
        return _build(engine, book, stored, change, made_at)

    if made_at is not None:
        return build()
    return _drafts.recall(
        question(engine, book, change.changes, stored.reference, str(stored.version)), build
    )


def _build(
    engine: Engine,
    book: Book,
    stored: StoredPack,
    change: BasisChange,
    made_at: datetime | None,
) -> WorkedOut:
    pool = Pool()
    cloths: list[Cloth] = []
    comparisons: list[Comparison] = []
    problems: list[tuple[ClothAsked, str]] = []
    for asked in stored.cloths:
        try:
            comparison = compare_construction(engine, asked.code, change, stored.basis_name)
            if asked.variant:
                cloths.append(_variant(engine, asked, stored, change, pool))
            else:
                ties = break_evens(comparison)
                cloth = freeze_comparison(comparison, pool, chosen=asked.pairs, ties=ties)
                cloths.append(cloth)
                gone = [key for key in asked.pairs if cloth.pair(key) is None]
                if gone:
                    problems.append((asked, f"{', '.join(gone)[:200]} is no pair of it now."))
            comparisons.append(comparison)
        except CreelbookError as wrong:
            problems.append((asked, str(wrong)))
    basis = changed_basis(book, stored.basis_name, change)
    heading = Heading(stored.reference, stored.title, stored.buyer, stored.meeting, stored.notes)
    pack = assemble(heading, basis, cloths, pool, engine=VERSION, made_at=made_at)
    frozen = None
    if comparisons:
        assumptions = book.assumption_set(basis.assumption_set)
        given = given_for(comparisons, assumptions, book.limits, book.replaced)
        frozen = Frozen(pack, given)
    return WorkedOut(frozen, pack, tuple(problems))


def _variant(
    engine: Engine, asked: ClothAsked, stored: StoredPack, change: BasisChange, pool: Pool
) -> Cloth:
    variant = variant_named(engine, asked.code, asked.variant)
    wanted = following_requotes(asked_by(variant), current_book(engine).replaced)
    desk = work_out(engine, asked.code, wanted, change, stored.basis_name)
    desk.refuse_errors()
    return freeze_variant(asked.variant, "; ".join(change_words(desk, wanted)), desk.changed, pool)


def freeze(engine: Engine, reference: str, person_id: int, version: int) -> None:
    """Freeze a draft: from now on it never changes.

    version: of the draft as it was looked at
    Raises NotFound, Conflict, and BadValue when something of it cannot be compared.
    """
    stored = stored_pack(engine, reference)
    store.refuse_older(stored.version, version, reference)
    if stored.state != DRAFT:
        raise Conflict(
            f"Pack {reference} is {stored.state} already.",
            field="pack",
            value=reference,
            remedy="Open it; make a new draft that follows it for a change.",
        )
    moment = datetime.now(UTC).replace(microsecond=0)
    worked_out = work_out_pack(engine, stored, moment)
    if worked_out.problems:
        asked, why = worked_out.problems[0]
        raise BadValue(
            f"{asked.code} cannot be frozen: {why}",
            field="cloths",
            value=asked.code,
            remedy="Put it right, or take it out of the pack.",
        )
    if worked_out.frozen is None:
        raise BadValue(
            "There is nothing in this pack yet.",
            field="cloths",
            remedy="Put a construction into it, from its comparison.",
        )
    content = store.content_of(worked_out.frozen)
    store.read_content(content)  # what could not be read back is not frozen
    with writing(engine, person_id) as session:
        store.freeze_draft(session, reference, content, version)


def frozen_of(engine: Engine, reference: str) -> Frozen:
    """A frozen pack with the records behind it. Raises NotFound, also for a draft, Conflict."""
    with reading(engine) as session:
        stored = store.pack_of(session, reference)
        if stored.digest and (known := _frozen.known((id(engine), stored.digest))):
            return known
        content = store.content_of_pack(session, reference)
    return _frozen.recall((id(engine), stored.digest), lambda: store.read_content(content))


def frozen_today(engine: Engine, frozen: Frozen) -> Frozen:
    """The cloths of a frozen pack compared with what the house knows today, on its stored basis.

    A cloth that cannot be compared any more is left out. Raises Missing when none can.
    """
    worked_out = work_out_pack(engine, stored_pack(engine, frozen.pack.reference))
    if worked_out.frozen is None:
        why = worked_out.problems[0][1] if worked_out.problems else "It holds no construction."
        raise Missing(
            f"Nothing of pack {frozen.pack.reference} can be compared today: {why}",
            field="pack",
            value=frozen.pack.reference,
            remedy="Put right what is missing, or hold it against another pack.",
        )
    return worked_out.frozen


def shown_pack(
    engine: Engine, stored: StoredPack
) -> tuple[Pack, tuple[tuple[ClothAsked, str], ...]]:
    """What a page shows of a pack in the internal view: frozen, or worked out now."""
    if stored.state == DRAFT:
        worked_out = work_out_pack(engine, stored)
        return worked_out.pack, worked_out.problems
    return frozen_of(engine, stored.reference).pack, ()


def buyer_pack(engine: Engine, stored: StoredPack) -> Pack:
    """What a buyer would get of a pack, as chosen now. Raises BadValue."""
    pack, _ = shown_pack(engine, stored)
    return for_buyer(pack, stored.shown, words=stored.words)


def computed_again(engine: Engine, reference: str) -> Again:
    """A frozen pack computed again by the engine of today. Raises NotFound."""
    return compute_again(frozen_of(engine, reference))


def choose_shown(
    engine: Engine, reference: str, person_id: int, shown: Sequence[str], version: int
) -> None:
    """Choose what a buyer may see; words and figures stay. Raises BadValue, NotFound, Conflict."""
    sound = sound_choice(shown)
    with writing(engine, person_id) as session:
        store.choose_shown(session, reference, sound, version)


def new_reference(meeting: date, name: str) -> str:
    """`2026-03-12-tarn-fell-3fa9`: an address that says what it is and stays free."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    slug = "-".join(re.findall(r"[a-z0-9]+", plain))[:24].strip("-")
    return "-".join(part for part in (meeting.isoformat(), slug, secrets.token_hex(2)) if part)


def _distinct(cloths: Iterable[ClothAsked]) -> tuple[ClothAsked, ...]:
    """Each construction and each variant once; the pairs of its last mention."""
    found: dict[tuple[str, str], ClothAsked] = {}
    for each in cloths:
        pairs = tuple(dict.fromkeys(each.pairs))
        found[each.code, each.variant] = replace(each, pairs=pairs)
    return tuple(found.values())


def _read(typed: Mapping[str, str]) -> dict[str, Any]:
    """The words over a pack as typed. Raises BadValue."""
    meeting = typed.get("meeting", "").strip()
    try:
        day = date.fromisoformat(meeting)
    except ValueError:
        raise BadValue(
            f"“{meeting[:20]}” is not a date." if meeting else "A pack needs the meeting’s day.",
            field="meeting",
            value=meeting,
            remedy="Write it as 2026-03-12.",
        ) from None
    return {
        "title": plain_line(typed.get("title", ""), "title", LONGEST["title"]),
        "buyer": plain_line(typed.get("buyer", ""), "buyer", LONGEST["buyer"], empty=True),
        "meeting": day,
        "notes": plain_text(typed.get("notes", ""), "notes"),
        "words": plain_text(typed.get("words", ""), "words"),
    }


def plain_line(text: str, field: str, longest: int, *, empty: bool = False) -> str:
    """A line of plain words. Raises BadValue."""
    line = " ".join(text.split())
    if (not line and not empty) or len(line) > longest or not line.isprintable():
        raise BadValue(
            f"The {field} of a pack cannot be “{line[:40]}”.",
            field=field,
            value=line[:200],
            unit="characters",
            remedy=f"Write {0 if empty else 1} to {longest} characters of plain text.",
        )
    return line


def plain_text(text: str, field: str) -> str:
    """Several lines of plain words. Raises BadValue."""
    words = text.strip().replace("\r\n", "\n")
    if len(words) > LONGEST[field] or any(ord(sign) < 32 and sign not in "\n\t" for sign in words):
        raise BadValue(
            f"These {field} cannot be kept.",
            field=field,
            value=words[:200],
            unit="characters",
            remedy=f"Write at most {LONGEST[field]} characters of plain text.",
        )
    return words
