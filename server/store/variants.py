"""Variants of a construction: named changes, kept as the change desk's address says them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, select

from server.core.errors import BadValue, NotFound
from server.store.records import Keeper
from server.store.tables import ConstructionRow, Person, VariantRow

MOST_VARIANTS = 100  # of one construction
VARIANTS = Keeper(VariantRow)


@dataclass(frozen=True, slots=True)
class Variant:
    """A named change. promoted_version: what version of the construction it became, or None."""

    id: int
    name: str
    query: str
    notes: str
    owner: str
    changed_at: datetime
    promoted_version: int | None


def variants_of(session: Session, construction_id: int) -> tuple[Variant, ...]:
    """The variants of a construction by name; one statement."""
    rows = session.exec(
        select(VariantRow, Person.name)
        .join(Person, col(Person.id) == col(VariantRow.owner_id))
        .where(VariantRow.construction_id == construction_id)
    ).all()
    found = (
        Variant(
            row.id or 0,
            row.name,
            row.query,
            row.notes,
            owner,
            row.changed_at,
            row.promoted_version,
        )
        for row, owner in rows
    )
    return tuple(sorted(found, key=lambda each: each.name.casefold()))


def keep_variant(
    session: Session, construction_id: int, name: str, query: str, notes: str, *, replace: bool
) -> int:
    """Store a variant; gives its number.

    replace: put it in the place of one of the same name
    Raises BadValue when the name is taken, or the construction has too many.
    """
    rows = session.exec(
        select(VariantRow).where(VariantRow.construction_id == construction_id)
    ).all()
    values = {
        "construction_id": construction_id,
        "name": name,
        "query": query,
        "notes": notes,
        "promoted_version": None,
    }
    same = next((row for row in rows if row.name == name), None)
    if same is not None and not replace:
        raise BadValue(
            f"This construction has a variant “{name}” already.",
            field="name",
            value=name,
            remedy="Choose another name, or tick “in place of the one of this name”.",
        )
    if same is not None:
        return int(VARIANTS.change(session, str(same.id), values, same.row_version))
    if len(rows) >= MOST_VARIANTS:
        raise BadValue(
            f"This construction has {MOST_VARIANTS} variants, the most it can have.",
            field="name",
            value=name,
            remedy="Remove one that is not needed.",
        )
    return int(VARIANTS.add(session, values))


def remove_variant(session: Session, construction_id: int, number: int) -> None:
    """Take a variant away; the audit keeps what it was. Raises NotFound."""
    session.delete(_row(session, construction_id, number))
    session.flush()


def mark_promoted(session: Session, construction_id: int, number: int) -> int:
    """Note that a variant became the present version of its construction; gives the version.

    Raises NotFound.
    """
    row = _row(session, construction_id, number)
    construction = session.get(ConstructionRow, construction_id)
    assert construction is not None
    row.promoted_version = construction.row_version
    session.flush()
    return construction.row_version


def _row(session: Session, construction_id: int, number: int) -> VariantRow:
    row = session.get(VariantRow, number)
    if row is None or row.construction_id != construction_id:
        raise NotFound(
            f"This construction has no variant {number}.",
            field="variant",
            value=number,
            remedy="Open its variants again; somebody may have removed it.",
        )
    return row
