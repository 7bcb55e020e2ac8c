"""Constructions with the yarns of each direction as one flat entry."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlmodel import Session, col, select

from server.core.construction import DIRECTIONS
from server.store.records import Keeper, Values, replace_parts
from server.store.tables import ConstructionRow, Record, SlotRow

POSITIONS = (1, 2)
SLOT_FIELDS = tuple(
    name
    for name in SlotRow.model_fields
    if name not in {*Record.model_fields, "construction_id", "direction", "position"}
)
WARP_ONLY = ("crimp_percent", "take_up_percent")  # a pick is as long as the reed is wide


def slot_prefix(direction: str, position: int) -> str:
    """Prefix of a slot's fields in the flat entry: `warp_` or `warp2_`."""
    return f"{direction}_" if position == 1 else f"{direction}{position}_"


def _unsaid(name: str) -> str | None:
    """What the entry says of a yarn that is not there: any effect, no core, no count."""
    default = SlotRow.model_fields[name].default
    return default if isinstance(default, str) else None


def wanted_yarns(values: Mapping[str, Any]) -> list[Values]:
    """The yarns of a flat entry, as columns of their rows."""
    wanted = []
    for direction in DIRECTIONS:
        for position in POSITIONS:
            prefix = slot_prefix(direction, position)
            slot = {
                name: values.get(f"{prefix}{name}")
                for name in SLOT_FIELDS
                if direction == "warp" or name not in WARP_ONLY
            }
            if slot["ne"] is not None:
                given = {
                    name: value
                    for name, value in slot.items()
                    if value is not None or name in WARP_ONLY  # a crimp can be taken back
                }
                wanted.append({"direction": direction, "position": position, **given})
    return wanted


class ConstructionKeeper(Keeper):
    """Keeps constructions."""

    parts = ((SlotRow, "construction_id"),)

    def __init__(self) -> None:
        super().__init__(ConstructionRow, "code")

    def write_parts(self, session: Session, row: Any, values: Mapping[str, Any]) -> None:
        """The yarns wanted in each direction; a second yarn takes its share from the first."""
        replace_parts(
            session,
            SlotRow,
            {"construction_id": row.id},
            wanted_yarns(values),
            ("direction", "position"),
        )

    def part_field(
        self, part: type[Record], action: str, held: Mapping[str, str | None], field: str
    ) -> str:
        """A yarn's figure under the name of its place."""
        direction, position = held.get("direction") or "", int(held.get("position") or 1)
        if field not in SLOT_FIELDS or (direction == "filling" and field in WARP_ONLY):
            return ""
        return f"{slot_prefix(direction, position)}{field}"

    def entries(self, session: Session, rows: Sequence[Any]) -> list[Values]:
        """Flat entries, two statements for any number."""
        slots = {
            (slot.construction_id, slot.direction, slot.position): slot
            for slot in session.exec(
                select(SlotRow).where(col(SlotRow.construction_id).in_([row.id for row in rows]))
            )
        }
        return [
            {
                **{
                    f"{slot_prefix(direction, position)}{name}": getattr(
                        slots.get((row.id, direction, position)), name, _unsaid(name)
                    )
                    for direction in DIRECTIONS
                    for position in POSITIONS
                    for name in SLOT_FIELDS
                    if direction == "warp" or name not in WARP_ONLY
                },
                **{name: getattr(row, name) for name in self.fields},
            }
            for row in rows
        ]
