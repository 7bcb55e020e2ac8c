"""Scenarios: a set of assumptions copied under a new name, with some values changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from sqlmodel import Session, col, select

from server.core.errors import BadValue, NotFound
from server.store.bulk import add_rows
from server.store.tables import AssumptionRow, AssumptionSetRow, Person

MOST_SETS = 100  # of one house


@dataclass(frozen=True, slots=True)
class NewValue:
    """What a copied value becomes. source: who says so"""

    value: Decimal
    source: str


def clone_set(
    session: Session,
    of: str,
    name: str,
    *,
    notes: str,
    changed: Mapping[int, NewValue],
    on: date,
) -> int:
    """Copy a set under a new name; gives the number of the new one.

    changed: id of a value of the old set -> what it is in the new one, noted on the day `on`; a
        bound of its range that does not hold it any more is left out
    All other values keep source, range and day. Raises NotFound, and BadValue when the name is
    taken, whatever its capitals, or there are too many sets.
    """
    old = session.exec(select(AssumptionSetRow).where(AssumptionSetRow.name == of)).first()
    if old is None:
        raise NotFound(
            f"There is no assumption set “{of[:60]}”.",
            field="of",
            value=of,
            remedy="Choose one from the Assumptions page.",
        )
    _refuse_taken(session, name)
    new = AssumptionSetRow(
        owner_id=session.info["person_id"], name=name, currency=old.currency, notes=notes
    )
    session.add(new)
    session.flush()
    rows = session.exec(
        select(AssumptionRow).where(AssumptionRow.set_id == old.id).order_by(col(AssumptionRow.id))
    ).all()
    add_rows(
        session,
        AssumptionRow,
        [{"set_id": new.id, **_copied(row, changed.get(row.id or 0), on)} for row in rows],
    )
    return new.id or 0


def _copied(row: AssumptionRow, new: NewValue | None, on: date) -> dict[str, object]:
    same: dict[str, object] = {
        "key": row.key,
        "at_ne": row.at_ne,
        "value": row.value,
        "low": row.low,
        "high": row.high,
        "source": row.source,
        "noted_on": row.noted_on,
    }
    if new is None:
        return same
    low, high = row.low, row.high
    return {
        **same,
        "value": new.value,
        "low": low if low is None or low <= new.value else None,
        "high": high if high is None or high >= new.value else None,
        "source": new.source,
        "noted_on": on,
    }


def _refuse_taken(session: Session, name: str) -> None:
    names = session.exec(select(AssumptionSetRow.name)).all()
    for taken in names:
        if taken.casefold() == name.casefold():
            raise BadValue(
                f"There is an assumption set “{taken}” already.",
                field="name",
                value=name,
                remedy="Choose another name.",
            )
    if len(names) >= MOST_SETS:
        raise BadValue(
            f"The house has {MOST_SETS} assumption sets, the most it can have.",
            field="name",
            value=name,
            remedy="Change the values of one that is not needed.",
        )


def person_name(session: Session) -> str:
    """Who writes in this transaction."""
    person = session.get(Person, session.info["person_id"])
    return person.name if person else ""
