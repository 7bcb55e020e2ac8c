"""The derived lists behind the list of offers, kept true from the audit log.

`offer_index` holds what offers are sorted and searched by, `offer_price` what each costs on a
basis. A list version says up to which audit event a list is true. What came after it says what to
work out anew: the offers that changed, or, for prices, all of them when a rate did.

Every piece of work is computed outside the lock of the writers and stored in a short transaction,
if by then nothing has changed that it rests on; else it is computed again. A row therefore never
goes back to an older state, whatever number of processes work at the same list, and a list version
is set only when all its pieces are stored.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from threading import Lock
from typing import Any
from weakref import WeakKeyDictionary

from sqlalchemy import Engine, delete, insert, text, update
from sqlmodel import Session, col, select

from server.core.construction import Basis
from server.core.landing_many import ManyLandings, Priced
from server.core.offer import Offer
from server.store import audit
from server.store.book import read_offers
from server.store.failures import StoreUnavailable, speaking_plainly
from server.store.offer_changes import any_rate_since, changed_since
from server.store.offer_index import index_row
from server.store.rates import load_rates
from server.store.session import reading
from server.store.tables import (
    ListVersionRow,
    OfferIndexRow,
    OfferPriceRow,
    OfferRow,
)

PIECE = 1_000  # offers worked out and stored together
MOST_BASES = 8  # whose prices are kept
INDEX = "offers"
_TRIES = 3
_DROPPED = "dropped "


class _Gone(Exception):
    """The prices of this basis made room for others while they were worked out."""


@dataclass(frozen=True, slots=True)
class UpToDate:
    """A moment of the database in which the lists are true.

    basis_id: whose prices in `offer_price`; None without a basis
    behind: whether changes of the last moments are not in the lists yet, because the database was
        too busy to take them
    """

    session: Session
    basis_id: int | None
    behind: bool = False


def price_key(basis: Basis) -> str:
    """What prices depend on of a basis: currency, day of the rates, house regains."""
    regains = ";".join(f"{mix}={share!r}" for mix, share in sorted(basis.house_regain.items()))
    mark = hashlib.sha256(regains.encode()).hexdigest()[:16]
    return f"{basis.currency} {basis.rates_on.isoformat()} {mark}"


@contextmanager
def up_to_date(engine: Engine, basis: Basis | None) -> Iterator[UpToDate]:
    """A session that reads lists which hold at least what was stored before this call.

    basis: whose prices are needed; None for the index alone
    """
    wanted, tired = 0, False
    for _ in range(_TRIES + 1):
        with reading(engine) as session:
            newest, versions = _versions(session, _lists(basis))
            wanted = wanted or newest
            oldest = min((row.version for row in versions.values()), default=0)
            complete = len(versions) == len(_lists(basis)) and oldest > 0
            if (complete and (oldest >= wanted or tired)) or newest == 0:
                row = versions.get(price_key(basis)) if basis else None
                yield UpToDate(session, row.id if row else None, behind=oldest < wanted)
                return
        try:
            refresh(engine, basis)
        except StoreUnavailable:
            if not complete:
                raise
            tired = True
    raise StoreUnavailable(
        "The list of offers could not be brought up to date.", remedy="Try again in a moment."
    )


def refresh(engine: Engine, basis: Basis | None) -> None:
    """Bring the index, and the prices of a basis, up to what is stored now."""
    with _lock_of(engine):  # one refresh in a process at a time; others find it done
        for _ in range(_TRIES):
            try:
                return _refresh(engine, basis)
            except _Gone:
                continue


def _refresh(engine: Engine, basis: Basis | None) -> None:
    lists = _lists(basis)
    _make_room(engine, lists)
    with reading(engine) as session:
        newest, versions = _versions(session, lists)
        stale = {what: row for what, row in versions.items() if row.version < newest}
        if not stale:
            return
        ids = {
            what: changed_since(session, row.version, prices=what != INDEX)
            for what, row in stale.items()
        }
    work = _Work(engine, basis, {what: row.id or 0 for what, row in versions.items()})
    for piece in _pieces(engine, ids.values()):
        work.store(
            piece,
            [what for what, some in ids.items() if some is None or not some.isdisjoint(piece)],
        )
    with _brief(engine) as session:
        if None in ids.values() and engine.dialect.name == "postgresql":
            session.execute(text("ANALYZE offer_index, offer_price"))  # else it plans in the dark
        session.execute(
            update(ListVersionRow)
            .where(col(ListVersionRow.what).in_(stale), col(ListVersionRow.version) < newest)
            .values(version=newest, used_at=datetime.now(UTC))
        )


class _Work:
    """Works out and stores pieces of the lists. numbers: the id of each list's version."""

    def __init__(self, engine: Engine, basis: Basis | None, numbers: dict[str, int]) -> None:
        self.engine, self.basis, self.numbers = engine, basis, numbers
        self._landings: ManyLandings | None = None
        self._rates_at = 0

    def store(self, ids: Sequence[int], lists: Collection[str]) -> None:
        """Work out some offers anew and store them in these lists."""
        for _ in range(_TRIES):
            with reading(self.engine) as session:
                version, rows = self._rows(session, ids, lists)
            with _brief(self.engine) as session:
                if self._still_true(session, version, ids, lists):
                    self._replace(session, ids, rows)
                    return
        with _brief(self.engine) as session:  # much is being written: nobody writes in between now
            _, rows = self._rows(session, ids, lists)
            self._replace(session, ids, rows)

    def _rows(
        self, session: Session, ids: Sequence[int], lists: Collection[str]
    ) -> tuple[int, dict[Any, list[dict[str, Any]]]]:
        """The newest audit event, and the rows of each table that hold at it."""
        version = newest_event(session)
        offers = read_offers(session, ids)
        replaced = _replaced(session, ids)
        rows: dict[Any, list[dict[str, Any]]] = {}
        if INDEX in lists:
            rows[OfferIndexRow] = _index_rows(session, offers, replaced)
        for what in lists:
            if what != INDEX:
                prices = self._prices(session, version).prices(offers)
                number = self.numbers[what]
                rows[OfferPriceRow] = [
                    _price_row(number, offer, priced, replaced=offer.id in replaced)
                    for offer, priced in zip(offers, prices, strict=True)
                ]
        return version, rows

    def _prices(self, session: Session, version: int) -> ManyLandings:
        """What prices offers at an audit event; read again only when a rate was changed."""
        assert self.basis is not None
        if self._landings is None or any_rate_since(session, self._rates_at):
            self._landings = ManyLandings(self.basis, load_rates(session))
        self._rates_at = version
        return self._landings

    def _still_true(
        self, session: Session, version: int, ids: Sequence[int], lists: Collection[str]
    ) -> bool:
        if newest_event(session) == version:
            return True
        since = changed_since(session, version, prices=any(what != INDEX for what in lists))
        return since is not None and since.isdisjoint(ids)

    def _replace(
        self, session: Session, ids: Sequence[int], rows: dict[Any, list[dict[str, Any]]]
    ) -> None:
        known = session.exec(select(ListVersionRow.id, ListVersionRow.what)).all()
        if not {(number, what) for what, number in self.numbers.items()} <= set(known):
            raise _Gone
        for table, new in rows.items():
            gone = delete(table).where(col(table.id).in_(ids))
            if table is OfferPriceRow:
                number = next(n for what, n in self.numbers.items() if what != INDEX)
                gone = gone.where(col(OfferPriceRow.basis_id) == number)
            session.execute(gone)
            if new:
                session.execute(insert(table.__table__), new)


def newest_event(session: Session) -> int:
    """Number of the newest audit event; 0 in a house where nothing was entered."""
    return session.exec(select(audit.newest())).one() or 0


def _lists(basis: Basis | None) -> tuple[str, ...]:
    return (INDEX,) if basis is None else (INDEX, price_key(basis))


def _versions(session: Session, lists: Collection[str]) -> tuple[int, dict[str, ListVersionRow]]:
    """The newest audit event, and the versions there are of some lists; one statement."""
    one = select(audit.newest().label("number")).subquery()
    statement = (
        select(one.c.number, ListVersionRow)
        .select_from(one)
        .join(ListVersionRow, col(ListVersionRow.what).in_(lists), isouter=True)
    )
    rows = session.exec(statement).all()
    return rows[0][0] or 0, {row.what: row for _, row in rows if row is not None}


def _numbers(wanted: Any, column: Any, among: Collection[int]) -> Any:
    return select(wanted).where(col(column).in_(among))


def _pieces(engine: Engine, ids: Collection[set[int] | None]) -> Iterator[list[int]]:
    """The offers to work out, a piece at a time, in the order entered."""
    if all(some is not None for some in ids):
        named = sorted(set().union(*(some for some in ids if some is not None)))
        for start in range(0, len(named), PIECE):
            yield named[start : start + PIECE]
        return
    last = 0
    while True:
        with reading(engine) as session:
            statement = select(OfferRow.id).where(col(OfferRow.id) > last)
            piece = session.exec(statement.order_by(col(OfferRow.id)).limit(PIECE)).all()
        if not piece:
            return
        yield [each for each in piece if each]
        last = piece[-1] or 0


def _replaced(session: Session, ids: Collection[int]) -> Collection[int]:
    """Those of some offers that a later one takes the place of."""
    found = session.exec(_numbers(OfferRow.replaces_id, OfferRow.replaces_id, ids)).all()
    return frozenset(found)


def _index_rows(
    session: Session, offers: Sequence[Offer], replaced: Collection[int]
) -> list[dict[str, Any]]:
    among = col(OfferRow.id).in_([offer.id for offer in offers])
    came = dict(session.exec(select(OfferRow.id, OfferRow.intake_id).where(among)).all())
    return [
        index_row(offer, replaced=offer.id in replaced, intake_id=came[offer.id])
        for offer in offers
    ]


def _price_row(basis_id: int, offer: Offer, priced: Priced, *, replaced: bool) -> dict[str, Any]:
    unproven = priced.missing or offer.open_questions
    return {
        "basis_id": basis_id,
        "id": offer.id,
        "goods_price": priced.goods_price,
        "landed_price": priced.landed_price,
        "same_basis_price": priced.same_basis_price,
        "missing": priced.missing[:1000],
        "standing": "replaced" if replaced else "unproven" if unproven else "proven",
        "valid_until": offer.valid_until,
    }


def _make_room(engine: Engine, lists: Sequence[str]) -> None:
    """Begin the versions that are not there yet; the prices longest not used make room."""
    with reading(engine) as session:
        if len(_known(session, lists)) == len(lists):
            return
    with _brief(engine) as session:
        known = _known(session, lists)
        for what in lists:
            if what not in known:
                session.execute(
                    insert(ListVersionRow).values(what=what, version=0, used_at=datetime.now(UTC))
                )
        kept = session.exec(
            select(ListVersionRow.id)
            .where(col(ListVersionRow.what) != INDEX, _is_dropped().is_(False))
            .order_by(col(ListVersionRow.used_at).desc(), col(ListVersionRow.id).desc())
        ).all()
        for number in kept[MOST_BASES:]:
            session.execute(
                update(ListVersionRow)
                .where(col(ListVersionRow.id) == number)
                .values(what=f"{_DROPPED}{number}")
            )
    _sweep(engine)


def _sweep(engine: Engine) -> None:
    """Take away the prices of dropped bases, a piece at a time."""
    with reading(engine) as session:
        dropped = session.exec(select(ListVersionRow.id).where(_is_dropped())).all()
    for number in dropped:
        of_it = col(OfferPriceRow.basis_id) == number
        left = 1
        while left:
            with _brief(engine) as session:
                some = select(OfferPriceRow.id).where(of_it).limit(PIECE)
                left = session.execute(
                    delete(OfferPriceRow).where(of_it, col(OfferPriceRow.id).in_(some))
                ).rowcount  # type: ignore[attr-defined]
                if not left:
                    session.execute(delete(ListVersionRow).where(col(ListVersionRow.id) == number))


def _is_dropped() -> Any:
    return col(ListVersionRow.what).startswith(_DROPPED, autoescape=True)


def _known(session: Session, lists: Collection[str]) -> set[str]:
    return set(
        session.exec(select(ListVersionRow.what).where(col(ListVersionRow.what).in_(lists))).all()
    )


@contextmanager
def _brief(engine: Engine) -> Iterator[Session]:
    """A short transaction among the writers, for rows that have no history."""
    with speaking_plainly(), Session(engine.execution_options(writes=True)) as session:
        yield session
        session.commit()


_locks: WeakKeyDictionary[Engine, Lock] = WeakKeyDictionary()
_locks_lock = Lock()


def _lock_of(engine: Engine) -> Lock:
    with _locks_lock:
        return _locks.setdefault(engine, Lock())
