"""Measured pieces of constructions: one row for each real piece, named by its construction."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlmodel import Session, col, select

from server.core.calibration import Piece
from server.core.errors import BadValue, NotFound
from server.store import audit
from server.store.audit import Change
from server.store.records import Keeper, Told, Values, named
from server.store.tables import ConstructionRow, MeasuredPieceRow


class PieceKeeper(Keeper):
    """Keeps measured pieces."""

    def __init__(self) -> None:
        super().__init__(MeasuredPieceRow)
        self.fields = tuple(name for name in self.fields if name != "construction_id")

    def row_values(self, session: Session, values: Mapping[str, Any]) -> Values:
        """The columns, with the construction found. Raises BadValue when there is none."""
        found = session.exec(
            select(ConstructionRow.id).where(ConstructionRow.code == values["construction"])
        ).first()
        if found is None:
            raise BadValue(
                f"There is no construction “{values['construction']}”.",
                field="construction",
                value=values["construction"],
                remedy="Enter the code of a stored construction.",
            )
        return {**super().row_values(session, values), "construction_id": found}

    def _refuse_taken(self, session: Session, values: Mapping[str, Any], own: int | None) -> None:
        """A construction has one piece of a label."""
        same = session.exec(
            select(MeasuredPieceRow.id)
            .join(ConstructionRow, col(ConstructionRow.id) == MeasuredPieceRow.construction_id)
            .where(
                ConstructionRow.code == values["construction"],
                MeasuredPieceRow.label == values["label"],
            )
        ).first()
        if same is not None and same != own:
            raise BadValue(
                f"{values['construction']} has a piece “{values['label']}” already.",
                field="label",
                value=values["label"],
                remedy="Change that piece, or give this one another label.",
            )

    def in_words(self, session: Session, field: str, before: str | None, after: str | None) -> Told:
        """The construction by its code."""
        if field == "construction_id":
            codes = [named(session, ConstructionRow, each, "code") for each in (before, after)]
            return {"construction": (codes[0], codes[1])}
        return super().in_words(session, field, before, after)

    def entries(self, session: Session, rows: Sequence[Any]) -> list[Values]:
        """Flat entries."""
        wanted = {row.construction_id for row in rows}
        codes = dict(
            session.exec(
                select(ConstructionRow.id, ConstructionRow.code).where(
                    col(ConstructionRow.id).in_(wanted)
                )
            ).all()
        )
        return [
            {
                "construction": codes[row.construction_id],
                **{name: getattr(row, name) for name in self.fields},
            }
            for row in rows
        ]


def pieces_of(session: Session, construction_id: int | None = None) -> dict[int, list[Piece]]:
    """Measured pieces by construction, in the order measured; one statement."""
    statement = select(MeasuredPieceRow).order_by(
        col(MeasuredPieceRow.measured_on), col(MeasuredPieceRow.id)
    )
    if construction_id is not None:
        statement = statement.where(MeasuredPieceRow.construction_id == construction_id)
    found: dict[int, list[Piece]] = {}
    for row in session.exec(statement):
        found.setdefault(row.construction_id, []).append(_piece(row))
    return found


def remove_piece(session: Session, construction_id: int, number: int) -> None:
    """Take a piece away; the audit keeps what it was. Raises NotFound."""
    row = session.get(MeasuredPieceRow, number)
    if row is None or row.construction_id != construction_id:
        raise NotFound(
            f"This construction has no measured piece {number}.",
            field="piece",
            value=number,
            remedy="Open its pieces again; somebody may have removed it.",
        )
    session.delete(row)
    session.flush()


def history_of_pieces(session: Session, construction_id: int) -> list[tuple[str, Change]]:
    """What was done to the pieces of a construction, removed ones too, the newest first."""
    told = audit.part_changes(session, MeasuredPieceRow, "construction_id", construction_id)
    return [(held.get("label") or "", change) for change, held in reversed(told)]


def _piece(row: MeasuredPieceRow) -> Piece:
    def figure(name: str) -> float | None:
        value = getattr(row, name)
        return None if value is None else float(value)

    def share(name: str) -> float | None:
        value = figure(name)
        return None if value is None else value / 100

    return Piece(
        id=row.id or 0,
        label=row.label,
        on=row.measured_on,
        source=row.source,
        state=row.state,
        ounces=figure("ounces"),
        width_in=figure("width_in"),
        epi=figure("epi"),
        ppi=figure("ppi"),
        warp_crimp=share("warp_crimp_percent"),
        filling_crimp=share("filling_crimp_percent"),
        loom_metres=figure("loom_metres"),
        finished_metres=figure("finished_metres"),
        left_out=row.left_out,
        notes=row.notes,
    )
