"""The files people take away of a pack, each with the function that writes it and its kind."""

from __future__ import annotations

from collections.abc import Callable
from typing import BinaryIO

from server.core.pack import Pack
from server.export.handout_pdf import write_handout
from server.export.workbook import write_workbook

WORKBOOK, HANDOUT = "workbook.xlsx", "handout.pdf"


def _handout(pack: Pack, file: BinaryIO, told: Callable[[int], object]) -> None:
    write_handout(pack, file)
    told(len(pack.cloths))


FILES: dict[str, tuple[Callable[..., None], str]] = {
    WORKBOOK: (
        write_workbook,
        "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ),
    HANDOUT: (_handout, "application/pdf"),
}
"""Name of the file -> (function of a pack, an open file and a progress teller; media type)."""
