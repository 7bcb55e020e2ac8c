"""The list of offers, read a page at a time by key: filters, sorting and counting in the database.

A page begins behind a row or ends before one; the row is named by the value it is sorted by and its
number, so that rows added meanwhile move nothing. Rows without a value stand last in both
directions. Only the rows of the page are joined to the offers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import Select, func, literal, union_all
from sqlmodel import Session, col, select

from server.core.offer import Yarn
from server.store.book import yarn_value
from server.store.offer_index import sort_key
from server.store.offer_query import Place, Query, Wanted
from server.store.overrides import decisions_about
from server.store.tables import OfferIndexRow, OfferPriceRow, OfferRow, SupplierRow, YarnRow

FEW = 500  # so many or fewer are found first and sorted then


@dataclass(frozen=True, slots=True)
class ListedOffer:
    """One row of the list. Prices in the reporting currency [¤/kg].

    missing: why there is no price; asks: the first open question; questions: how many are open
    place: where it stands in the order asked for
    decisions: what somebody accepted about it, in words
    """

    id: int
    code: str
    supplier: str
    country: str
    yarn: Yarn
    price: Decimal
    currency: str
    price_unit: str
    term: str
    place_name: str
    payment: str
    quoted_on: date
    valid_until: date | None
    lead_days: int | None
    intake_id: int | None
    average_ne: float | None
    goods_price: float | None
    landed_price: float | None
    same_basis_price: float | None
    missing: str
    questions: int
    asks: str
    state: str
    place: Place
    decisions: str

    @property
    def price_text(self) -> str:
        """The price as quoted, digit for digit."""
        return f"{self.price} {self.currency or '?'}/{self.price_unit or '?'}"

    @property
    def note(self) -> str:
        """Why it is unproven: the first open question, else why there is no price."""
        return (self.asks or self.missing) if self.state == "unproven" else ""


@dataclass(frozen=True, slots=True)
class Part:
    """Some rows of the list. before: how many stand before them; count: how many there are."""

    rows: tuple[ListedOffer, ...]
    before: int
    count: int

    @property
    def further(self) -> bool:
        """Whether rows stand behind these."""
        return self.before + len(self.rows) < self.count


class OfferList:
    """The offers on one basis as a session sees them.

    basis_id: list version of the basis; None when there is no basis, then nothing is priced
    meeting: day on which an offer must still be valid
    """

    def __init__(self, session: Session, basis_id: int | None, meeting: date | None) -> None:
        self.session = session
        sqlite = session.get_bind().dialect.name == "sqlite"
        self.query = Query(basis_id, meeting, sqlite)

    def page(
        self, wanted: Wanted, rows: int, *, after: Place | None = None, before: Place | None = None
    ) -> Part:
        """So many rows behind a place, or before one, or the first, with the counts."""
        count = self.count(wanted)
        if count == 0:
            return Part((), 0, 0)
        few = wanted.filtered and count <= FEW
        found = self.rows(wanted, rows, after=after, before=before, few=few)
        if before is not None and len(found) < min(rows, count):  # the first page, then
            return Part(self.rows(wanted, rows, few=few), 0, count)
        if not found:
            return Part((), count, count)
        if after is None and before is None:
            return Part(found, 0, count)
        ahead = self.query.count_ahead(wanted, found[0].place)
        return Part(found, self.session.execute(ahead).scalar_one(), count)

    def count(self, wanted: Wanted) -> int:
        """How many match."""
        return int(self.session.execute(self.query.count(wanted)).scalar_one())

    def rows(
        self,
        wanted: Wanted,
        rows: int,
        *,
        after: Place | None = None,
        before: Place | None = None,
        few: bool = False,
    ) -> tuple[ListedOffer, ...]:
        """So many rows behind a place, or before one, or the first; nothing is counted."""
        found: list[Any] = []
        optional, backwards = self.query.sort(wanted).optional, before is not None
        phases = [False, True] if optional else [False]  # rows without a value come last
        start = before if backwards else after
        for valueless in reversed(phases) if backwards else phases:
            if start is not None and optional and (start.value is None) != valueless:
                continue
            statement = self.query.find(
                wanted, valueless=valueless, start=start, backwards=backwards, few=few
            )
            down = wanted.descending != backwards
            found += self._shown(statement.limit(rows - len(found)), down=down)
            start = None
            if len(found) == rows:
                break
        decisions = decisions_about(self.session, [row[0].id for row in found])
        listed = tuple(_listed(row, decisions.get(row[0].id, "")) for row in found)
        return listed[::-1] if backwards else listed

    def codes(self, wanted: Wanted) -> tuple[str, ...]:
        """Codes of all that match, in the order asked for."""
        found: list[str] = []
        for valueless in (False, True) if self.query.sort(wanted).optional else (False,):
            rows = self.query.find(wanted, valueless=valueless).subquery()
            keys = (rows.c.value, rows.c.id)
            statement = select(OfferRow.code).join(rows, rows.c.id == OfferRow.id)
            found += self.session.exec(
                statement.order_by(*(key.desc() if wanted.descending else key for key in keys))
            ).all()
        return tuple(found)

    def _shown(self, found: Select[Any], *, down: bool) -> Sequence[Any]:
        """The rows that a statement finds, with what the list shows of each, in its order."""
        rows = found.subquery()
        index, offer = OfferIndexRow, OfferRow
        prices: Sequence[Any] = (literal(None), literal(None), literal(None), literal(""))
        if self.query.basis_id is not None:
            names = ("goods_price", "landed_price", "same_basis_price", "missing")
            prices = [col(getattr(OfferPriceRow, name)) for name in names]
        statement: Any = (
            select(OfferRow, YarnRow, SupplierRow.name, SupplierRow.country)
            .add_columns(col(index.average_ne), col(index.questions), col(index.asks))
            .add_columns(self.query.state(), *prices, rows.c.value)
            .select_from(rows)
            .outerjoin(index, col(index.id) == rows.c.id)  # outer, so that the found rows lead
            .outerjoin(offer, col(offer.id) == rows.c.id)
            .outerjoin(YarnRow, col(YarnRow.id) == col(offer.yarn_id))
            .outerjoin(SupplierRow, col(SupplierRow.id) == col(offer.supplier_id))
        )
        if self.query.basis_id is not None:
            statement = statement.outerjoin(OfferPriceRow, self.query.own_price(rows.c.id))
        keys = (rows.c.value, rows.c.id)
        statement = statement.order_by(*(key.desc() if down else key for key in keys))
        return self.session.execute(statement).all()


def choices(session: Session) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Names of all suppliers, and the countries goods are offered from, sorted; one statement.

    The countries are found from one to the next in the index, not by looking at every offer.
    """
    index = OfferIndexRow
    step = select(func.min(col(index.country)).label("country")).cte("step", recursive=True)
    following = select(func.min(col(index.country))).where(col(index.country) > step.c.country)
    step = step.union_all(select(following.scalar_subquery()).where(step.c.country.is_not(None)))
    one = select(func.min(col(index.id))).where(col(index.country) == step.c.country)
    country = func.coalesce(func.nullif(col(OfferRow.ships_from), ""), col(SupplierRow.country))
    statement: Any = union_all(
        select(literal("supplier"), col(SupplierRow.name)),
        select(literal("country"), country)
        .select_from(step)
        .join(OfferRow, col(OfferRow.id) == one.scalar_subquery())
        .join(SupplierRow, col(SupplierRow.id) == col(OfferRow.supplier_id)),
    )
    found: dict[str, list[str]] = {"supplier": [], "country": []}
    for kind, name in session.execute(statement).all():
        found[kind].append(name)
    suppliers, countries = (sorted(names, key=sort_key) for names in found.values())
    return tuple(suppliers), tuple(countries)


def _listed(row: Any, decisions: str) -> ListedOffer:
    offer, yarn, supplier, country, average, questions, asks, state, *prices, value = row
    goods, landed, same, missing = prices
    return ListedOffer(
        id=offer.id,
        code=offer.code,
        supplier=supplier,
        country=offer.ships_from or country,
        yarn=yarn_value(yarn),
        price=offer.price,
        currency=offer.currency,
        price_unit=offer.price_unit,
        term=offer.term,
        place_name=offer.place,
        payment=offer.payment,
        quoted_on=offer.quoted_on,
        valid_until=offer.valid_until,
        lead_days=offer.lead_days,
        intake_id=offer.intake_id,
        average_ne=average,
        goods_price=goods,
        landed_price=landed,
        same_basis_price=same,
        missing=missing,
        questions=questions,
        asks=asks,
        state=state,
        place=Place(value, offer.id),
        decisions=decisions,
    )
