"""Process assumptions: each value names its set; a set is made when its first value comes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlmodel import Session, select

from server.core.errors import BadValue
from server.store.records import Keeper, Told, Values, named
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
            found = AssumptionSetRow(
                owner_id=session.info["person_id"],
                name=values["set_name"],
                currency=values["currency"],
            )
            session.add(found)
            session.flush()
        if found.currency != values["currency"]:
            raise BadValue(
                f"The money of “{found.name}” is in {found.currency}.",
                field="currency",
                value=values["currency"],
                remedy=f"Enter {found.currency}, or start another set.",
            )
        return {**super().row_values(session, values), "set_id": found.id}

    def _refuse_taken(self, session: Session, values: Mapping[str, Any], own: int | None) -> None:
        """A set has one value for a key and count; 7 and 7.0 are the same count."""
        known = session.exec(
            select(AssumptionRow)
            .join(AssumptionSetRow)
            .where(AssumptionSetRow.name == values["set_name"], AssumptionRow.key == values["key"])
        )
        if any(row.at_ne == values.get("at_ne") and row.id != own for row in known):
            raise BadValue(
                f"“{values['set_name']}” already has a value for {values['key']}.",
                field="key",
                value=values["key"],
                remedy="Change that value instead.",
            )

    def in_words(self, session: Session, field: str, before: str | None, after: str | None) -> Told:
        """The set by its name."""
        if field == "set_id":
            names = [named(session, AssumptionSetRow, each, "name") for each in (before, after)]
            return {"set_name": (names[0], names[1])}
        return super().in_words(session, field, before, after)

    def entries(self, session: Session, rows: Sequence[Any]) -> list[Values]:
        """Flat entries."""
        sets = {each.id: each for each in session.exec(select(AssumptionSetRow))}
        return [
            {
                "set_name": sets[row.set_id].name,
                "currency": sets[row.set_id].currency,
                **{name: getattr(row, name) for name in self.fields},
            }
            for row in rows
        ]
