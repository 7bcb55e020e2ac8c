"""Statements over the narrow tables of the list of offers: what matches, where, in which order.

`offer_index` leads where a name, a count or a day is sorted by, `offer_price` where a price is;
each has an index for it. Where few offers match, they are found first and then sorted.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from sqlalchemy import Select, and_, case, func, literal, or_, tuple_
from sqlmodel import col, select

from server.core.folding import folded
from server.store.offer_index import sort_key
from server.store.tables import OfferIndexRow, OfferPriceRow, SupplierRow

STATES = ("open", "expired", "unproven", "replaced")
NOT_SAID = "not said"


@dataclass(frozen=True, slots=True)
class Sort:
    """A column the list can be sorted by. kind: of its values; optional: some rows have none."""

    column: Any
    kind: type
    optional: bool = False

    @property
    def priced(self) -> bool:
        """Whether it is a price, which depends on the basis."""
        return self.column.class_ is OfferPriceRow


SORTS: Mapping[str, Sort] = {
    "offer": Sort(col(OfferIndexRow.code), str),
    "supplier": Sort(col(OfferIndexRow.supplier), str),
    "country": Sort(col(OfferIndexRow.country), str),
    "process": Sort(col(OfferIndexRow.process), str),
    "average_ne": Sort(col(OfferIndexRow.average_ne), float, optional=True),
    "quoted_on": Sort(col(OfferIndexRow.quoted_on), date),
    "valid_until": Sort(col(OfferIndexRow.valid_until), date, optional=True),
    "lead_days": Sort(col(OfferIndexRow.lead_days), int, optional=True),
    "goods_price": Sort(col(OfferPriceRow.goods_price), float, optional=True),
    "landed_price": Sort(col(OfferPriceRow.landed_price), float, optional=True),
    "same_basis_price": Sort(col(OfferPriceRow.same_basis_price), float, optional=True),
}


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which offers, and in which order.

    words: each is looked for, without case and accents, in code, supplier, country, process, count
        and the seller's words
    spinning: `not said` finds offers whose seller left it out
    sort: a key of SORTS
    """

    words: tuple[str, ...] = ()
    spinning: str = ""
    effect: str = ""
    supplier: str = ""
    country: str = ""
    state: str = ""
    quoted_from: date | None = None
    quoted_to: date | None = None
    valid_from: date | None = None
    valid_to: date | None = None
    intake: int | None = None
    sort: str = "offer"
    descending: bool = False

    @property
    def filtered(self) -> bool:
        """Whether anything is left out."""
        return self != Wanted(sort=self.sort, descending=self.descending)

    @property
    def by_index(self) -> bool:
        """Whether more is asked than how an offer stands."""
        return replace(self, state="").filtered


@dataclass(frozen=True, slots=True)
class Place:
    """A row's place in a sorted list: the value it is sorted by (None without one), its number."""

    value: Any
    id: int


@dataclass(frozen=True, slots=True)
class Query:
    """The statements on one basis.

    basis_id: list version of the basis; None when there is no basis, then nothing is priced
    meeting: day on which an offer must still be valid
    sqlite: whether it is SQLite that is asked
    """

    basis_id: int | None
    meeting: date | None
    sqlite: bool

    def find(
        self,
        wanted: Wanted,
        *,
        valueless: bool = False,
        start: Place | None = None,
        backwards: bool = False,
        few: bool = False,
    ) -> Select[Any]:
        """Numbers (`id`) and values (`value`) of the rows that match, in order.

        valueless: rows that have no value in the sorted column, else those that have one
        start: the row behind which, or before which, they stand
        few: few match, so that it is quicker to find them before they are sorted
        """
        sort = self.sort(wanted)
        lead = OfferPriceRow if sort.priced else OfferIndexRow
        number: Any = col(lead.id).label("id")
        value = sort.column.label("value")
        if few:
            matching = self._matching(wanted).cte("matching").prefix_with("MATERIALIZED")
            statement: Select[Any] = select(number, value).join(matching, matching.c.id == lead.id)
            if sort.priced:
                statement = statement.where(col(OfferPriceRow.basis_id) == self.basis_id)
        else:
            statement = self._from(lead, wanted, number, value)
        down = wanted.descending != backwards
        keys = [col(lead.id)] if valueless else [sort.column, col(lead.id)]
        if sort.optional:
            empty = sort.column.is_(None)
            statement = statement.where(empty if valueless else sort.column.is_not(None))
        if start is not None:
            there = [start.id] if valueless else [start.value, start.id]
            statement = statement.where(_beyond(keys, there, down=down))
        return statement.order_by(*(key.desc() if down else key for key in keys))

    def count(self, wanted: Wanted) -> Select[Any]:
        """How many match."""
        return self._from(self._counted(wanted), wanted, func.count())

    def count_ahead(self, wanted: Wanted, first: Place) -> Select[Any]:
        """How many of those that match stand before a row."""
        sort = self.sort(wanted)
        lead, down = OfferPriceRow if sort.priced else OfferIndexRow, not wanted.descending
        if first.value is None:
            ahead = or_(sort.column.is_not(None), _beyond([col(lead.id)], [first.id], down=down))
        else:
            ahead = _beyond([sort.column, col(lead.id)], [first.value, first.id], down=down)
        return self._from(lead, wanted, func.count()).where(ahead)

    def _matching(self, wanted: Wanted) -> Select[Any]:
        lead = self._counted(wanted)
        return self._from(lead, wanted, col(lead.id).label("id"))

    def sort(self, wanted: Wanted) -> Sort:
        """The column to sort by; without a basis there are no prices to sort by."""
        sort = SORTS[wanted.sort]
        return SORTS["offer"] if sort.priced and self.basis_id is None else sort

    def _counted(self, wanted: Wanted) -> Any:
        """The table in which matching offers are found soonest."""
        only_standing = wanted.state and not wanted.by_index and self.basis_id is not None
        return OfferPriceRow if only_standing else OfferIndexRow

    def _from(self, lead: Any, wanted: Wanted, *what: Any) -> Select[Any]:
        """Offers that match, from the table that leads and the other where it is asked too."""
        statement: Select[Any] = select(*what).select_from(lead)
        if lead is OfferPriceRow:
            statement = statement.where(col(OfferPriceRow.basis_id) == self.basis_id)
            if wanted.by_index:
                index = OfferIndexRow
                statement = statement.join(index, col(index.id) == col(OfferPriceRow.id))
        if wanted.state:
            statement = statement.where(self._stands(lead, wanted.state))
        return statement.where(*self._conditions(wanted))

    def own_price(self, number: Any) -> Any:
        """That a price is the one of an offer on this basis."""
        return and_(col(OfferPriceRow.basis_id) == self.basis_id, col(OfferPriceRow.id) == number)

    def _conditions(self, wanted: Wanted) -> list[Any]:
        index = OfferIndexRow
        found: list[Any] = [self._holds(folded(word)) for word in wanted.words]
        if wanted.spinning:
            spinning = "" if wanted.spinning == NOT_SAID else wanted.spinning
            found.append(col(index.spinning) == spinning)
        if wanted.effect:
            found.append(col(index.effect) == wanted.effect)
        if wanted.supplier:
            named = select(SupplierRow.id).where(SupplierRow.name == wanted.supplier)
            found.append(col(index.supplier_id) == named.scalar_subquery())
        if wanted.country:
            found.append(col(index.country) == sort_key(wanted.country))
        if wanted.quoted_from:
            found.append(col(index.quoted_on) >= wanted.quoted_from)
        if wanted.quoted_to:
            found.append(col(index.quoted_on) <= wanted.quoted_to)
        if wanted.valid_from:
            found.append(col(index.valid_until) >= wanted.valid_from)
        if wanted.valid_to:
            found.append(col(index.valid_until) <= wanted.valid_to)
        if wanted.intake is not None:
            found.append(col(index.intake_id) == wanted.intake)
        return found

    def _holds(self, word: str) -> Any:
        """Whether the words of an offer hold a folded text."""
        words = col(OfferIndexRow.words)
        return (func.instr(words, word) if self.sqlite else func.strpos(words, word)) > 0

    def _stands(self, lead: Any, state: str) -> Any:
        """Whether an offer is in a state, asked so that the table which leads goes on leading."""
        if self.basis_id is None:
            replaced = col(OfferIndexRow.replaced)
            found = {"replaced": replaced, "unproven": replaced.is_(False)}
            return found.get(state, literal(False))
        standing: Any = col(OfferPriceRow.standing)
        last: Any = col(lead.valid_until)
        if lead is OfferIndexRow:
            own = self.own_price(col(OfferIndexRow.id))
            standing = select(standing).where(own).correlate(OfferIndexRow).scalar_subquery()
        if state in ("replaced", "unproven"):
            return standing == state
        expired = last < self.meeting
        return and_(
            standing == "proven", expired if state == "expired" else or_(last.is_(None), ~expired)
        )

    def state(self) -> Any:
        """The state of each offer, for showing it."""
        if self.basis_id is None:
            return case((col(OfferIndexRow.replaced), "replaced"), else_="unproven")
        standing, last = col(OfferPriceRow.standing), col(OfferPriceRow.valid_until)
        return case(
            (standing != "proven", standing), (last < self.meeting, "expired"), else_="open"
        )


def _beyond(keys: Sequence[Any], there: Sequence[Any], *, down: bool) -> Any:
    """Whether the keys of a row come after those of another in the order."""
    if len(keys) == 1:
        return keys[0] < there[0] if down else keys[0] > there[0]
    row, other = tuple_(*keys), tuple_(*there)
    return row < other if down else row > other
