"""Bases of comparison with their house regains as one flat entry."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlmodel import Session, col, select

from server.core.errors import BadValue
from server.store.records import Keeper, Told, Values, named, replace_parts
from server.store.tables import AssumptionSetRow, BasisRow, HouseRegainRow, Record

REGAINS = (1, 2, 3, 4)


class BasisKeeper(Keeper):
    """Keeps bases."""

    parts = ((HouseRegainRow, "basis_id"),)

    def __init__(self) -> None:
        super().__init__(BasisRow, "name")
        self.fields = tuple(name for name in self.fields if name != "assumption_set_id")

    def row_values(self, session: Session, values: Mapping[str, Any]) -> Values:
        """The columns, with the assumption set found."""
        found = session.exec(
            select(AssumptionSetRow).where(AssumptionSetRow.name == values["assumption_set"])
        ).first()
        if found is None:
            raise BadValue(
                f"There is no assumption set “{values['assumption_set']}”.",
                field="assumption_set",
                value=values["assumption_set"],
                remedy="Enter its values on the Assumptions page first.",
            )
        return {**super().row_values(session, values), "assumption_set_id": found.id}

    def write_parts(self, session: Session, row: Any, values: Mapping[str, Any]) -> None:
        """The house regain of each fibre mix."""
        wanted = [
            {
                "fibre_mix": values[f"mix{place}"],
                "regain_percent": values[f"mix{place}_regain_percent"],
            }
            for place in REGAINS
            if values.get(f"mix{place}")
        ]
        replace_parts(session, HouseRegainRow, {"basis_id": row.id}, wanted, ("fibre_mix",))

    def in_words(self, session: Session, field: str, before: str | None, after: str | None) -> Told:
        """The assumption set by its name."""
        if field == "assumption_set_id":
            names = [named(session, AssumptionSetRow, each, "name") for each in (before, after)]
            return {"assumption_set": (names[0], names[1])}
        return super().in_words(session, field, before, after)

    def part_field(
        self, part: type[Record], action: str, held: Mapping[str, str | None], field: str
    ) -> str:
        """A regain by its fibre mix."""
        return f"House regain, {held.get('fibre_mix')}" if field == "regain_percent" else ""

    def entries(self, session: Session, rows: Sequence[Any]) -> list[Values]:
        """Flat entries."""
        names = dict(session.exec(select(AssumptionSetRow.id, AssumptionSetRow.name)).all())
        regains: dict[int, list[HouseRegainRow]] = {}
        for regain in session.exec(select(HouseRegainRow).order_by(col(HouseRegainRow.id))):
            regains.setdefault(regain.basis_id, []).append(regain)
        return [
            {
                **{name: getattr(row, name) for name in self.fields},
                "assumption_set": names.get(row.assumption_set_id, ""),
                **_flat(regains.get(row.id, [])),
            }
            for row in rows
        ]


def _flat(regains: Sequence[HouseRegainRow]) -> Values:
    values: Values = {}
    for place in REGAINS:
        regain = regains[place - 1] if place <= len(regains) else None
        values[f"mix{place}"] = regain.fibre_mix if regain else ""
        values[f"mix{place}_regain_percent"] = regain.regain_percent if regain else None
    return values
