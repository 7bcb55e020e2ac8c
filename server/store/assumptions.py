"""Process assumptions: each value names its set; a set is made when its first value comes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlmodel import Session, select

from server.core.errors import BadValue
from server.store.records import Keeper, Values
from server.store.tables import AssumptionRow, AssumptionSetRow


class AssumptionKeeper(Keeper):
    """Keeps assumption values."""

    def __init__(self) -> None:
        super().__init__(AssumptionRow)
        self.fields = tuple(name for name in self.fields if name != "set_id")

    def row_values(self, session: Session, values: Mapping[str, Any]) -> Values:
        """The columns, with the set found or made."""
        found = session.exec(
            select(AssumptionSetRow).where(AssumptionSetRow.name == values["set_name"])
        ).first()
        if found is None:
            found = AssumptionSetRow(owner_id=session.info["person_id"], name=values["set_name"])
            session.add(found)
            session.flush()
        return {**super().row_values(session, values), "set_id": found.id}

    def add(self, session: Session, values: Mapping[str, Any]) -> str:
        """Store a new value of a set. Raises BadValue when it has one for the key and count."""
        twin = session.exec(
            select(AssumptionRow)
            .join(AssumptionSetRow)
            .where(AssumptionSetRow.name == values["set_name"], AssumptionRow.key == values["key"])
            .where(AssumptionRow.at_ne == values.get("at_ne"))
        ).first()
        if twin is not None:
            raise BadValue(
                f"“{values['set_name']}” already has a value for {values['key']}.",
                field="key",
                value=values["key"],
                remedy="Change that value instead.",
            )
        return super().add(session, values)

    def entries(self, session: Session, rows: Sequence[Any]) -> list[Values]:
        """Flat entries."""
        names = dict(session.exec(select(AssumptionSetRow.id, AssumptionSetRow.name)).all())
        return [
            {
                "set_name": names.get(row.set_id, ""),
                **{name: getattr(row, name) for name in self.fields},
            }
            for row in rows
        ]
