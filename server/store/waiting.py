"""What waits for somebody: intakes whose lines were read and not stored yet."""

from __future__ import annotations

from sqlmodel import Session, col, func, select

from server.store.tables import IntakeRow


def waiting_intakes(session: Session) -> int:
    """How many pastes and files were read and neither stored nor undone."""
    statement = select(func.count()).where(col(IntakeRow.state) == "read")
    return int(session.exec(statement).one())
