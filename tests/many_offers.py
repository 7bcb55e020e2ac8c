"""Many invented offers, written straight into the tables with their audit events.

For benchmarks and for tests that need more offers than the demonstration holds. The same seed gives
the same offers. About three in a hundred leave something out, two carry a question, one comes from
a country without a freight lane, four replace an earlier offer, and one in twenty has price breaks.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

from sqlalchemy import Connection, Engine, func, insert, select
from sqlmodel import SQLModel

from server.store.people import add_person, first_person

Row = dict[str, Any]
PIECE = 2_000  # offers in one transaction
NO_LANE = "Farland"
FIRST_QUOTE = date(2025, 9, 1)
COUNTRIES = (
    "India", "Pakistan", "Türkiye", "Viet Nam", "Indonesia", "China", "Mexico", "Uzbekistan",
    "Egypt", "Italy", "Brazil", "Bangladesh", "Guatemala", "United States",
)  # fmt: skip
_FIRST = ("Ostrel", "Vandimar", "Quelpo", "Brennick", "Tisamara", "Ulvane", "Corrowen", "Peldrake")
_SECOND = ("moor", "gate", "wick", "vale", "holt", "mere", "stead", "ford", "lund", "bury")
_THIRD = ("Spinning", "Yarn", "Cotton Spinners", "Ring Yarn", "Fine Count Spinners and Twisters")
_PRICES = (  # currency, unit, usual price of a plain Ne 7 yarn, tax inside the price [%]
    ("USD", "kg", "2.40", 0), ("USc", "lb", "112", 0), ("EUR", "kg", "2.20", 0),
    ("MXN", "kg", "44.0", 0), ("CNY", "t", "15900", 13), ("PKR", "10 lb", "2310", 0),
    ("INR", "kg", "205", 5), ("BRL", "kg", "11.4", 0), ("USD", "bale (400 lb)", "432", 0),
)  # fmt: skip
_TERMS = (
    ("EXW", "mill"), ("FCA", "mill dock"), ("FOB", "the port"), ("CFR", "Manzanillo"),
    ("CIF", "Veracruz"), ("DAP", "mill"),
)  # fmt: skip
_PAYMENTS = ("LC sight", "LC 60", "LC 90", "CAD", "OA 30", "OA 60", "TT advance", "TT 30/70")
_PLAIN = ("plain", "none")
_KINDS = (_PLAIN, _PLAIN, _PLAIN, ("slub", "none"), ("multi-count slub", "none"),
          ("plain", "elastane"))  # fmt: skip
_LEFT_OUT = ("currency", "price_unit", "term", "payment", "quoted_regain_percent", "lead_days",
             "valid_until")  # fmt: skip


def add_many(engine: Engine, count: int, seed: int = 1) -> list[str]:
    """Store `count` more offers with their suppliers, yarns, breaks, tests and questions.

    Gives their codes in the order entered: M and the id of the offer, in five digits or more.
    The suppliers there are may be offered from too. Rates are not touched.
    """
    chance = random.Random(seed)
    person = first_person(engine) or add_person(engine, name="Rosalía Quintero", role="owner")
    written: list[str] = []
    for start in range(0, count, PIECE):
        with engine.execution_options(writes=True).begin() as connection:
            maker = _Maker(connection, chance, person, count, seed)
            written += maker.write(min(PIECE, count - start))
    return written


class _Maker:
    """Makes and writes the rows of one piece."""

    def __init__(
        self, connection: Connection, chance: random.Random, person: int, count: int, seed: int
    ) -> None:
        self.connection, self.chance, self.seed = connection, chance, seed
        self.moment = datetime.now(UTC)
        self.record = {"owner_id": person, "row_version": 1, "changed_at": self.moment}
        self.audit: list[Row] = []
        self.suppliers = self._suppliers(max(4, count // 200))

    def write(self, count: int) -> list[str]:
        """Write so many offers; gives their codes."""
        first, first_yarn = self._next_id("offer"), self._next_id("yarn")
        yarns = [self._yarn(first_yarn + number) for number in range(max(1, count // 4))]
        earlier = self._replaceable()
        offers = []
        for number in range(count):
            offers.append(self._offer(first + number, self.chance.choice(yarns), earlier))
            earlier.insert(self.chance.randint(0, len(earlier)), first + number)
        self._store("yarn", yarns)
        self._store("offer", offers)
        self._store("price_break", list(self._breaks(offers)))
        self._store("test_value", list(self._tests(offers)))
        self._store("question", list(self._questions(offers)))
        self._numbers_go_on("supplier", "yarn", "offer")
        self.connection.execute(insert(_table("audit_event")), self.audit)
        return [each["code"] for each in offers]

    def _replaceable(self) -> list[int]:
        """Offers written here before that nobody replaces yet, in any order."""
        offer = _table("offer")
        taken = select(offer.c.replaces_id).where(offer.c.replaces_id.is_not(None))
        stored = select(offer.c.id).where(offer.c.code.like("M%"), offer.c.id.not_in(taken))
        known = list(self.connection.execute(stored.order_by(offer.c.id)).scalars())
        self.chance.shuffle(known)
        return known

    def _suppliers(self, wanted: int) -> Sequence[Row]:
        supplier = _table("supplier")
        known = self.connection.execute(select(supplier.c.id, supplier.c.name)).mappings().all()
        made: list[Row] = []
        names = {each["name"] for each in known}
        for number in range(wanted):
            name = (
                f"{_FIRST[number % 8]}{_SECOND[number // 8 % 10]} {_THIRD[number % 5]}"
                f"{f' {number // 80 + 1}' if number >= 80 else ''}"
            )
            if name not in names:
                made.append(
                    {
                        "id": self._next_id("supplier") + len(made), **self.record, "name": name,
                        "country": COUNTRIES[number % len(COUNTRIES)], "makes": "", "contacts": "",
                        "notes": "", "origin_state": "complete", "origin_owner": "",
                    }
                )  # fmt: skip
        self._store("supplier", made)
        return [*({"id": each["id"]} for each in known), *({"id": each["id"]} for each in made)]

    def _yarn(self, row_id: int) -> Row:
        pick = self.chance.choice
        effect, core = pick(_KINDS)
        system = pick(("Ne", "Ne", "Ne", "Nm", "tex"))
        ne = pick(("6", "6.5", "7", "8", "8.50", "10", "12", "14.0", "16", "20"))
        figure = {"Ne": ne, "Nm": str(round(float(ne) * 1.693, 1))}.get(
            system, str(round(590.5 / float(ne), 1))
        )
        base = effect != "plain" and self.chance.random() < 0.3
        return {
            "id": row_id, **self.record, "supplier_id": pick(self.suppliers)["id"],
            "count": Decimal(figure), "count_system": system,
            "count_basis": "base" if base else "sheath" if core != "none" else "average", "ply": 1,
            "spinning": pick(("ring", "ring", "OE", "OE", "air-jet", "compact ring")),
            "preparation": pick(("carded", "combed", "")), "twist": pick(("Z", "Z", "S")),
            "twist_multiplier": None, "effect": effect,
            "slub_added_mass_percent": Decimal("7.6") if base else None, "core": core,
            "core1_denier": Decimal(70) if core != "none" else None,
            "core1_draft": Decimal("3.5") if core != "none" else None,
            "core2_denier": None, "core2_draft": None,
            "fibre_mix": pick(("cotton",) * 8 + ("50/50 polyester/cotton",)),
            "description": pick(("", "warp slub", "soft twist for filling")),
        }  # fmt: skip

    def _offer(self, row_id: int, yarn: Row, earlier: list[int]) -> Row:
        chance, pick = self.chance, self.chance.choice
        currency, unit, usual, tax = pick(_PRICES)
        term, place = pick(_TERMS)
        price = (Decimal(usual) * Decimal(chance.randint(800, 1400)) / 1000).quantize(
            Decimal(1) if float(usual) > 400 else Decimal("0.01")
        )
        quoted_on = FIRST_QUOTE + timedelta(days=chance.randrange(190))
        offer: Row = {
            "id": row_id, **self.record, "code": f"M{row_id:05d}",
            "supplier_id": yarn["supplier_id"], "yarn_id": yarn["id"],
            "as_quoted": f"{yarn['spinning']}, {yarn['count_system']} {yarn['count']}; {price} "
            f"{currency}/{unit} {term} {place}",
            "price": price, "currency": currency, "price_unit": unit,
            "tax_inside_percent": Decimal(tax), "term": term, "place": place,
            "payment": pick(_PAYMENTS), "quoted_regain_percent": Decimal(pick(("8.5", "7.0"))),
            "break_kind": "all units", "moq_tonnes": Decimal(20), "capacity_tonnes": None,
            "count_tolerance_percent": Decimal("1.5"), "lead_days": chance.randrange(10, 75),
            "quoted_on": quoted_on,
            "valid_until": quoted_on + timedelta(days=chance.randrange(200)),
            "ships_from": NO_LANE if chance.random() < 0.01 else "", "notes": "",
            "replaces_id": earlier.pop() if earlier and chance.random() < 0.04 else None,
            "intake_id": None, "intake_line": None,
        }  # fmt: skip
        if chance.random() < 0.03:
            left_out = pick(_LEFT_OUT)
            offer[left_out] = "" if isinstance(offer[left_out], str) else None
        return offer

    def _breaks(self, offers: Sequence[Row]) -> Iterator[Row]:
        for offer in offers:
            if self.chance.random() < 0.05:
                for tonnes, share in ((40, "0.98"), (100, "0.96")):
                    price = (offer["price"] * Decimal(share)).quantize(Decimal("0.01"))
                    yield {**self.record, "offer_id": offer["id"],
                           "from_tonnes": Decimal(tonnes), "price": price}  # fmt: skip

    def _tests(self, offers: Sequence[Row]) -> Iterator[Row]:
        for offer in offers:
            if self.chance.random() < 0.3:
                for name, low, high in (("tenacity", 100, 190), ("evenness", 120, 220)):
                    yield {**self.record, "offer_id": offer["id"], "property": name,
                           "value": Decimal(self.chance.randint(low, high)) / 10,
                           "method": "supplier's sheet", "lot": "", "tested_on": None}  # fmt: skip

    def _questions(self, offers: Sequence[Row]) -> Iterator[Row]:
        for offer in offers:
            if self.chance.random() < 0.02:
                yield {**self.record, "offer_id": offer["id"], "field": "count_basis",
                       "sentence": "Ask: is the count that of the yarn with its slubs?",
                       "choices": [["average", "with the slubs"], ["base", "between them"]],
                       "unit": "", "answer": self.chance.choice(("", "", "average"))}  # fmt: skip

    def _store(self, name: str, rows: list[Row]) -> None:
        """Write rows of one table and note their audit events."""
        if not rows:
            return
        first = rows[0].get("id") or self._next_id(name)
        for number, row in enumerate(rows):
            row.setdefault("id", first + number)
        self.connection.execute(insert(_table(name)), rows)
        kept = ("code", "name", "price", "supplier_id", "offer_id", "property", "field")
        for row in rows:
            changes = {key: [None, str(row[key])] for key in kept if key in row}
            self.audit.append(
                {"at": self.moment, "person_id": row["owner_id"], "table_name": name,
                 "row_id": row["id"], "action": "add", "changes": changes}
            )  # fmt: skip
        self._numbers_go_on(name)

    def _next_id(self, name: str) -> int:
        table = _table(name)
        return (self.connection.execute(select(func.max(table.c.id))).scalar() or 0) + 1

    def _numbers_go_on(self, *names: str) -> None:
        """PostgreSQL counts ids by itself: it goes on behind those given here."""
        if self.connection.dialect.name == "postgresql":
            for name in names:
                newest = select(func.max(_table(name).c.id)).scalar_subquery()
                counter = func.pg_get_serial_sequence(name, "id")
                self.connection.execute(select(func.setval(counter, newest)))


def _table(name: str) -> Any:
    return SQLModel.metadata.tables[name]
