"""Changing several offers at once: which ones, what would change, storing it, taking it back."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from server.actions import offer_list
from server.actions.compare import sound_basis_change
from server.actions.entries import OfferEntry
from server.actions.nouns import NOUNS, FieldError, Refused
from server.actions.offer_list import matching_codes
from server.actions.some_fields import read_some
from server.core.errors import BadValue, Conflict, NotFound
from server.store.audit import as_text, moment_of
from server.store.bulk import PIECE
from server.store.many_offers import (
    LOT_FIELDS,
    OfferChange,
    OfferSeen,
    change_offers,
    offers_by_code,
    offers_by_id,
)
from server.store.offers import ANSWERED, QUOTED, YARN_FIELDS
from server.store.session import Engine, reading, writing
from server.store.undo import Undone, WholeChange, moment_told, recent_moments, undo_moment

MOST_OFFERS = 20_000
_ONE_BY_ONE = ("code", "as_quoted", "description", "replaces", "supplier", "average_ne")
_OWN = ("valid_until", "lead_days", "moq_tonnes", "capacity_tonnes", "count_tolerance_percent",
        "quoted_regain_percent", "ships_from", "notes")  # fmt: skip
FIELDS = tuple(
    name
    for name in NOUNS["offers"].fields
    if name in (*_OWN, *ANSWERED, *YARN_FIELDS, *LOT_FIELDS)
    and name not in _ONE_BY_ONE
    and (name in ANSWERED or name not in QUOTED)
)
"""Fields that may be changed for several offers at once, in the order of the form."""
CLEARED = tuple(
    name
    for name in FIELDS
    if NOUNS["offers"].fields[name].default in (None, "") and name not in ANSWERED
)
_CHECKED_WITH = ("quoted_on", "valid_until", "core1_denier", "core1_draft", "core2_denier",
                 "core2_draft")  # fmt: skip
_BARE = OfferEntry.model_construct()
_UNDOABLE = {("offer", "change"), ("yarn", "add"), ("test_value", "change"),
             ("question", "change")}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Line:
    """One field of one offer: from which value to which, or why not."""

    code: str
    field: str
    before: Any
    after: Any
    refused: str = ""


@dataclass(slots=True)
class Preview:
    """What a change would do. seen: (id, version) of every offer that would change.

    lines: those of the page asked for; offers, changes, refused, unchanged: of all
    """

    lines: list[Line] = field(default_factory=list)
    seen: list[tuple[int, int]] = field(default_factory=list)
    offers: int = 0
    changes: int = 0
    refused: int = 0
    unchanged: int = 0


@dataclass(frozen=True, slots=True)
class Stored:
    """A change that was stored, with what is needed to take it back."""

    at: datetime
    person_id: int
    offers: int
    changes: int


def selected_codes(
    engine: Engine, codes: Sequence[str], asked: Mapping[str, str]
) -> tuple[str, ...]:
    """Codes of the offers meant: those named, or with `all=yes` those the list's filters leave.

    asked: the query of the list of offers. Raises BadValue for more than MOST_OFFERS.
    """
    found = tuple(dict.fromkeys(codes))
    if asked.get("all") == "yes":
        found = matching_codes(
            engine, offer_list.read_wanted(asked), sound_basis_change(asked), asked.get("basis", "")
        )
    if len(found) > MOST_OFFERS:
        raise BadValue(
            f"{len(found)} offers are too many to change at once; at most {MOST_OFFERS} are.",
            field="offer",
            value=len(found),
            remedy="Narrow the filter of the list.",
        )
    return found


def read_wanted(asked: Mapping[str, str]) -> dict[str, Any]:
    """Fields to change with their new values: `to_FIELD` filled in, or `clear_FIELD`.

    Raises Refused.
    """
    typed = {name: asked.get(f"to_{name}", "") for name in FIELDS}
    given = {name: text for name, text in typed.items() if text.strip()}
    emptied = [name for name in CLEARED if asked.get(f"clear_{name}") and name not in given]
    both = [name for name in given if name in CLEARED and asked.get(f"clear_{name}")]
    if both:
        label = NOUNS["offers"].fields[both[0]].title or both[0]
        told = "is filled in and also to be emptied; do one of the two"
        raise Refused([FieldError(both[0], label, told, given[both[0]])])
    return read_some("offers", {**given, **dict.fromkeys(emptied, "")})


def preview(
    engine: Engine,
    codes: Sequence[str],
    wanted: Mapping[str, Any],
    *,
    first: int = 0,
    count: int = 100,
    only_refused: bool = False,
) -> Preview:
    """What changing these offers would do; nothing is stored. Raises NotFound.

    first, count: which lines to give; only_refused: count and give lines refused alone
    """
    told, place = Preview(), 0
    for seen, lines in _each(engine, codes, wanted):
        told.offers += 1
        good = [line for line in lines if not line.refused]
        told.changes += len(good)
        told.refused += len(lines) - len(good)
        told.unchanged += 0 if lines else 1
        if good:
            told.seen.append((seen.id, seen.version))
        for line in lines:
            if line.refused or not only_refused:
                if first <= place < first + count:
                    told.lines.append(line)
                place += 1
    return told


def every_line(engine: Engine, codes: Sequence[str], wanted: Mapping[str, Any]) -> Iterator[Line]:
    """Every line of the preview, for a file."""
    for _, lines in _each(engine, codes, wanted):
        yield from lines


def store_change(
    engine: Engine, wanted: Mapping[str, Any], seen: Sequence[tuple[int, int]], person_id: int
) -> Stored:
    """Store what the preview showed, all of it or nothing, as one moment of the history.

    seen: (id, version) of each offer, from the preview. Raises Conflict, naming an offer that
    somebody changed since.
    """
    versions = dict(seen)
    if not versions or not wanted:
        raise BadValue(
            "There is nothing to change.", field="to", remedy="Choose offers and new values."
        )
    offers = changes = 0
    with writing(engine, person_id) as session:
        for piece in offers_by_id(session, list(versions), _fields(wanted)):
            decided = [
                (each, [line for line in _lines(each, wanted) if not line.refused])
                for each in piece
            ]
            _refuse_changed(decided, versions)
            changes += sum(len(lines) for _, lines in decided)
            offers += change_offers(
                session,
                [
                    OfferChange(
                        each.id, versions[each.id], {line.field: line.after for line in lines}
                    )
                    for each, lines in decided
                ],
            )
        if offers < len(versions):
            raise Conflict(
                f"{len(versions) - offers} of the offers are gone or hold the new values by now; "
                "nothing was stored.",
                field="offer",
                remedy="Look at the preview again.",
            )
        at = moment_of(session)
    return Stored(at, person_id, offers, changes)


def _refuse_changed(
    decided: Sequence[tuple[OfferSeen, Sequence[Line]]], versions: Mapping[int, int]
) -> None:
    for each, _ in decided:
        if each.version != versions[each.id]:
            raise Conflict(
                f"Somebody else changed offer {each.code} since the preview (version "
                f"{versions[each.id]}, now {each.version}); nothing was stored.",
                field="offer",
                value=each.code,
                remedy="Look at the preview again, and repeat the change.",
            )


def change_told(engine: Engine, at: datetime, person_id: int) -> WholeChange:
    """What a stored change did. Raises NotFound, and BadValue for a moment of another kind."""
    with reading(engine) as session:
        moment = moment_told(session, at, person_id)
    if not set(moment.counts) <= _UNDOABLE:
        raise BadValue(
            "This moment is not a change of several offers.",
            field="moment",
            value=at.isoformat(),
            remedy="Open the history of the record to see what was done.",
        )
    return moment


def undo_change(engine: Engine, at: datetime, person_id: int, by: int) -> Undone:
    """Take a change of several offers back as a whole. Raises CannotUndo with the reasons.

    person_id: who made it; by: who takes it back
    """
    change_told(engine, at, person_id)
    with writing(engine, by) as session:
        return undo_moment(session, at, person_id)


def recent_changes_of_many(engine: Engine) -> tuple[WholeChange, ...]:
    """The newest changes of several offers at once."""
    with reading(engine) as session:
        return tuple(
            each for each in recent_moments(session, "offer") if set(each.counts) <= _UNDOABLE
        )


def seen_as_text(seen: Sequence[tuple[int, int]]) -> str:
    """Ids and versions as a short text: `3-17.1 20.4`, a run of ids at one version each."""
    runs: list[list[int]] = []
    for row_id, version in sorted(seen):
        if runs and runs[-1][1] == row_id - 1 and runs[-1][2] == version:
            runs[-1][1] = row_id
        else:
            runs.append([row_id, row_id, version])
    return " ".join(
        f"{first}.{version}" if first == last else f"{first}-{last}.{version}"
        for first, last, version in runs
    )


def read_seen(text: str) -> list[tuple[int, int]]:
    """Ids and versions back from `seen_as_text`. Raises BadValue."""
    seen: list[tuple[int, int]] = []
    for run in text.split():
        ids, _, version = run.partition(".")
        first, _, last = ids.partition("-")
        numbers = (first, last or first, version)
        if not all(e.isascii() and e.isdecimal() and len(e) < 10 for e in numbers):
            raise _unreadable(run)
        if not 0 <= int(numbers[1]) - int(first) <= MOST_OFFERS - len(seen) - 1:
            raise _unreadable(run)
        seen += ((row_id, int(version)) for row_id in range(int(first), int(numbers[1]) + 1))
    return seen


def _unreadable(run: str) -> BadValue:
    return BadValue(
        "The form does not say which offers, at which version, the preview showed.",
        field="seen",
        value=run,
        remedy="Open the preview again, and store from there.",
    )


def _fields(wanted: Mapping[str, Any]) -> tuple[str, ...]:
    return tuple(dict.fromkeys((*wanted, *_CHECKED_WITH)))


def _each(
    engine: Engine, codes: Sequence[str], wanted: Mapping[str, Any]
) -> Iterator[tuple[OfferSeen, list[Line]]]:
    with reading(engine) as session:
        for start in range(0, len(codes), PIECE):
            part = codes[start : start + PIECE]
            sound = [code for code in part if "\0" not in code]
            found = [
                seen for piece in offers_by_code(session, sound, _fields(wanted)) for seen in piece
            ]
            known = {seen.code for seen in found}
            for code in part:
                if code not in known:
                    raise NotFound(
                        f"There is no offer “{code[:60]}”.",
                        field="offer",
                        value=code,
                        remedy="Choose the offers on their list again.",
                    )
            for seen in found:
                yield seen, _lines(seen, wanted)


def _lines(seen: OfferSeen, wanted: Mapping[str, Any]) -> list[Line]:
    """What the change does to one offer; a field that holds the value already has no line."""
    refused = {}
    for name in wanted:
        before = seen.values.get(name)
        if name in LOT_FIELDS and not seen.tests:
            refused[name] = "the offer has no test value"
        elif name in ANSWERED and before not in ("", "unknown"):
            refused[name] = "kept as quoted; record a re-quote"
    kept = {name: value for name, value in wanted.items() if name not in refused}
    while kept and (fault := _misfit({**seen.values, **kept})):
        name, message = fault
        for each in [name] if name in kept else list(kept):
            refused[each] = message
            del kept[each]
    return [
        Line(seen.code, name, seen.values.get(name), value, refused.get(name, ""))
        for name, value in wanted.items()
        if as_text(seen.values.get(name)) != as_text(value)
    ]


def _misfit(values: Mapping[str, Any]) -> tuple[str, str] | None:
    """The field that does not fit the others, with why; None when all fit together."""
    known = {name: values[name] for name in _CHECKED_WITH}
    try:
        _BARE.model_copy(update=known).fits_together()  # type: ignore[operator]
    except ValueError as wrong:
        name, _, message = str(wrong).partition(": ")
        return name, message
    return None
