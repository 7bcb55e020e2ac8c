"""Scenarios: a set of assumptions stored under a new name, and constructions under two sets."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from server.actions.book import current_book
from server.actions.compare import BasisChange, changed_basis, compare_construction
from server.actions.nouns import NOUNS, Refused, read_entry
from server.actions.what_if import used_keys, values_of_set, what_if
from server.core.assumptions import AssumptionSet
from server.core.construction import Basis, Construction
from server.core.errors import BadValue, CreelbookError, shorten
from server.core.own_yarn import OwnCosts, own_costs
from server.core.scenarios import TwoSets, UnderBoth, UnderSet, values_apart
from server.core.what_if import ChangedValue, WhatIf
from server.store import scenarios as store
from server.store.scenarios import NewValue
from server.store.session import Engine, writing

LONGEST_SOURCE, LONGEST_NOTES = 120, 2000  # characters
_LONGEST_STORED = 300  # characters of a stored source


def look_at_what_if(engine: Engine, of: str, typed: Mapping[str, str]) -> WhatIf:
    """What a what-if changes of a stored set. Raises NotFound."""
    return what_if(
        values_of_set(engine, of), used_keys(current_book(engine).assumption_set(of)), typed
    )


def store_scenario(
    engine: Engine,
    person_id: int,
    *,
    of: str,
    name: str,
    on: date,
    typed: Mapping[str, str] | None = None,
    source: str = "",
    notes: str = "",
) -> str:
    """Store a set under a new name, with what was typed changed in it; gives the name.

    source: who says so, of the changed values; “what-if of the day by the person” when empty
    One transaction: the whole set with its audit events, or nothing. Raises NotFound, BadValue.
    """
    used = used_keys(current_book(engine).assumption_set(of))
    sound = _sound_name(name)
    said, about = _text(source, "source", LONGEST_SOURCE), _text(notes, "notes", LONGEST_NOTES)
    with writing(engine, person_id) as session:
        records = NOUNS["assumptions"].keeper.all(session)
        own = [kept for kept in records if kept.values["set_name"] == of]
        asked = what_if(own, used, typed or {})
        asked.refuse_errors()
        said = said or f"what-if of {on.isoformat()} by {store.person_name(session)}"
        store.clone_set(
            session,
            of,
            sound,
            notes="\n".join(filter(None, (f"As “{of}” on {on.isoformat()}.", about))),
            changed={each.row_id: NewValue(each.after, _source(of, each, said))
                     for each in asked.changed},
            on=on,
        )  # fmt: skip
    return sound


def _source(of: str, each: ChangedValue, said: str) -> str:
    return shorten(f"as in {of}, changed from {each.before:f}: {said}", _LONGEST_STORED)


def _sound_name(name: str) -> str:
    """The name as an entry would take it. Raises BadValue."""
    probe = {
        "set_name": " ".join(name.split()), "currency": "USD", "key": "fabric.loom_rpm",
        "value": "600", "source": "probe", "noted_on": "2026-01-01",
    }  # fmt: skip
    try:
        return str(read_entry(NOUNS["assumptions"], probe)["set_name"])
    except Refused as refused:
        raise BadValue(
            "; ".join(error.message for error in refused.errors),
            field="name",
            value=name,
            remedy="Write 1 to 120 characters of plain words.",
        ) from refused


def _text(text: str, field: str, longest: int) -> str:
    plain = text.strip()
    broken = any(ord(sign) < 32 and sign not in "\r\n\t" for sign in plain)
    if len(plain) > longest or broken:
        raise BadValue(
            f"This {field} cannot be stored.",
            field=field,
            value=plain,
            unit="characters",
            remedy=f"Write at most {longest} characters of plain text.",
        )
    return plain


def two_sets(
    engine: Engine, first: str, second: str, change: BasisChange, basis_name: str = ""
) -> TwoSets:
    """Every construction under two sets, compared as the comparison page does. Raises NotFound."""
    book = current_book(engine)
    sets = (book.assumption_set(first), book.assumption_set(second))
    basis = changed_basis(book, basis_name, change) if book.bases else None
    changes = [
        BasisChange({**change.changes, "assumption_set": each.name}, change.errors) for each in sets
    ]
    found = []
    for construction in book.constructions if basis else ():
        under = [
            _under(engine, construction, basis_change, basis_name, basis, assumptions)
            for basis_change, assumptions in zip(changes, sets, strict=True)
        ]
        found.append(UnderBoth(construction, *under))
    return TwoSets(*sets, basis, values_apart(*sets), tuple(found))


def _under(
    engine: Engine,
    construction: Construction,
    change: BasisChange,
    basis_name: str,
    basis: Basis | None,
    assumptions: AssumptionSet,
) -> UnderSet:
    comparison, missing, own = None, "", OwnCosts({}, "there is no basis")
    if basis is not None:
        rates = current_book(engine).rates
        moved = assumptions.in_currency(basis.currency, rates, basis.rates_on)
        own = own_costs(construction, basis, moved)
    try:
        comparison = compare_construction(engine, construction.code, change, basis_name)
        if comparison.leader is None:
            missing = "no possible pair"
    except CreelbookError as absent:
        missing = str(absent)
    return UnderSet(comparison, missing, own)


def usual_sets(engine: Engine, basis_name: str = "") -> tuple[str, str]:
    """The set of the basis and the newest other one; "" where there is none."""
    book = current_book(engine)
    names = [each.name for each in book.assumption_sets]
    if not names:
        return "", ""
    first = book.basis(basis_name).assumption_set if book.bases else names[0]
    others = [name for name in names if name != first]
    return first, others[-1] if others else ""
