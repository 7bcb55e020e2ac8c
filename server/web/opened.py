"""Figures of a sheet as a table in which each opens to its formula and inputs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Protocol

from server.core.sheet import Sheet
from server.web import addresses
from server.web.numbers import Writer
from server.web.tables import Cell, Column, Row, Table


class Opened(Protocol):
    """Anything with a sheet and its figures: a pair, an offered yarn."""

    @property
    def sheet(self) -> Sheet:
        """The lines."""

    @property
    def figures(self) -> Mapping[str, float]:
        """Their figures."""


@dataclass(frozen=True)
class Links:
    """Addresses of opened figures. kept: the query that every one of them carries."""

    path: str
    kept: Mapping[str, str]

    def to(self, line: str, **asked: str) -> str:
        """The address of an opened figure, with something else asked about it."""
        return addresses.with_query(f"{self.path}/{addresses.part(line)}", {**self.kept, **asked})


def figure_table(
    opened: Opened, caption: str, keys: Iterable[str], writer: Writer, links: Links
) -> Table:
    """Figures of a sheet, one in each row; keys the sheet does not have are left out."""
    lines = [opened.sheet.by_key[key] for key in keys if key in opened.sheet.by_key]
    return Table(
        caption=caption,
        columns=(
            Column("figure", "Figure"),
            Column("value", "Value", numeric=True),
            Column("unit", "Unit"),
        ),
        rows=tuple(
            Row(
                (
                    Cell(line.title),
                    Cell(writer.text(opened.figures[line.key], line.unit), href=links.to(line.key)),
                    Cell(writer.unit(line.unit)),
                ),
                key=line.key,
            )
            for line in lines
        ),
        empty="",
    )


def share_text(share: float, writer: Writer) -> str:
    """A share of mass with two decimals, for elastane is a few per cent."""
    return f"{writer.number(share, 'share'):.2f}"
