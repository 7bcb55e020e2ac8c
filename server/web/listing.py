"""Long tables whose sorting and page live in the address."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from server.export.columns import Column as ExportColumn
from server.web import addresses
from server.web.numbers import Writer
from server.web.tables import Column, Pager

Item = TypeVar("Item")


@dataclass(frozen=True)
class Listing:
    """One table at one address. anchor: where on the page it stands, such as `#pairs`."""

    path: str
    query: Mapping[str, str]
    rows_a_page: int
    anchor: str = ""

    @property
    def sort(self) -> str:
        """Key of the sorted column, with a minus in front when descending."""
        return self.query.get("sort", "")

    def address(self, **changed: str) -> str:
        """This list with a part of its query changed, on its first page."""
        kept = {name: value for name, value in self.query.items() if name != "page"}
        return addresses.with_query(self.path, {**kept, **changed}) + self.anchor

    def columns(self, columns: Iterable[ExportColumn[Any]], writer: Writer) -> tuple[Column, ...]:
        """Headings that sort: ascending at first, descending when pressed again."""
        return tuple(
            Column(
                column.key,
                column.heading,
                writer.unit(column.unit),
                numeric=bool(column.unit),
                sort_href=self.address(
                    sort=f"-{column.key}" if self.sort == column.key else column.key
                ),
                sorted={column.key: "ascending", f"-{column.key}": "descending"}.get(self.sort),  # type: ignore[arg-type]
            )
            for column in columns
        )

    def page_of(self, count: int) -> int:
        """Number of the page asked for, within the pages there are."""
        asked = self.query.get("page", "")
        number = int(asked) if asked.isdecimal() and len(asked) < 7 else 1
        return min(max(1, number), self._last(count))

    def part(self, rows: Sequence[Item]) -> Sequence[Item]:
        """The rows of the page asked for."""
        start = (self.page_of(len(rows)) - 1) * self.rows_a_page
        return rows[start : start + self.rows_a_page]

    def pager(self, count: int) -> Pager | None:
        """The way to the other pages; None when there is one page."""
        last, number = self._last(count), self.page_of(count)
        if last == 1:
            return None
        start = (number - 1) * self.rows_a_page
        return Pager(
            f"{start + 1} to {min(start + self.rows_a_page, count)} of {count}",
            self.address(page=str(number - 1)) if number > 1 else None,
            self.address(page=str(number + 1)) if number < last else None,
        )

    def _last(self, count: int) -> int:
        return max(1, -(-count // self.rows_a_page))
