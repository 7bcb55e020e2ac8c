"""Offers with their yarn, price breaks and test values as one flat entry."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from sqlmodel import Session, col, select

from server.core.errors import BadValue
from server.core.offer import TEST_PROPERTIES
from server.store.offer_tests import newest_lot, write_newest_lot
from server.store.records import Keeper, Kept, Told, Values, named, replace_parts
from server.store.tables import (
    AttachmentRow,
    GateOverrideRow,
    OfferRow,
    PriceBreakRow,
    QuestionRow,
    Record,
    SlotRow,
    SupplierRow,
    TestValueRow,
    YarnRow,
)

YARN_FIELDS = tuple(
    name for name in YarnRow.model_fields if name not in {*Record.model_fields, "supplier_id"}
)
_SHEET = "supplier's sheet"
_LINKS = ("supplier_id", "yarn_id", "replaces_id", "intake_id", "intake_line")
BREAKS = (1, 2, 3)
QUOTED = (
    "as_quoted",
    "supplier",
    "price",
    "currency",
    "price_unit",
    "tax_inside_percent",
    "term",
    "place",
    "payment",
    "count",
    "count_system",
    "break_kind",
    "quoted_on",
    *(f"break{place}_{part}" for place in BREAKS for part in ("from_tonnes", "price")),
)

ANSWERED = ("currency", "price_unit", "term", "place", "payment", "count_system", "break_kind")
"""Quoted fields that may be filled in once when the seller left them out."""


class OfferKeeper(Keeper):
    """Keeps offers. What the seller said is written once; a re-quote is a new offer.

    What the seller left out may be filled in later, once.
    """

    parts = (
        (PriceBreakRow, "offer_id"),
        (TestValueRow, "offer_id"),
        (AttachmentRow, "offer_id"),
        (GateOverrideRow, "offer_id"),
    )

    def __init__(self) -> None:
        super().__init__(OfferRow, "code")
        self.fields = tuple(name for name in self.fields if name not in _LINKS)

    def change(self, session: Session, key: str, values: Mapping[str, Any], version: int) -> str:
        """Change what is not quoted. Raises BadValue for a quoted figure that would differ."""
        kept = self.one(session, key)
        stored = kept.values
        for name in QUOTED:
            before = stored.get(name)
            may_be_said = name in ANSWERED and before in ("", "unknown")
            if name in values and not may_be_said and not _same(values[name], before):
                raise BadValue(
                    f"{name.replace('_', ' ').capitalize()} is kept as quoted and cannot change "
                    f"(“{stored.get(name)}”).",
                    field=name,
                    value=values[name],
                    remedy="Record a new offer that replaces this one.",
                )
        code = super().change(session, key, {**values, "id": kept.id}, version)
        for slot in session.exec(select(SlotRow).where(SlotRow.pinned_offer == key)).all():
            slot.pinned_offer = code  # a construction that asks for this offer still finds it
        self._answered(session, kept, values)
        session.flush()
        return code

    def fill(self, session: Session, kept: Kept, values: Mapping[str, Any]) -> None:
        """Store an offer with an answer in it; the caller saw to it that nothing said changes."""
        super().change(session, kept.key, {**values, "id": kept.id}, kept.version)

    def _answered(self, session: Session, kept: Kept, values: Mapping[str, Any]) -> None:
        """A question is closed when its field was filled in on the form."""
        statement = select(QuestionRow).where(QuestionRow.offer_id == kept.id)
        for question in session.exec(statement.where(QuestionRow.answer == "")).all():
            said = values.get(question.field)
            filled = said not in (None, "", "unknown")
            if filled and not _same(said, kept.values.get(question.field)):
                question.answer = str(said)[:200]

    def row_values(self, session: Session, values: Mapping[str, Any]) -> Values:
        """The offer's own columns, with supplier, yarn and replaced offer found or made."""
        supplier = session.exec(
            select(SupplierRow).where(SupplierRow.name == values["supplier"])
        ).first()
        if supplier is None or supplier.id is None:
            raise BadValue(
                f"There is no supplier “{values['supplier']}”.",
                field="supplier",
                value=values["supplier"],
                remedy="Add the supplier first.",
            )
        row = super().row_values(session, values)
        row["supplier_id"] = supplier.id
        row["yarn_id"] = _yarn_id(session, supplier.id, values)
        row["replaces_id"] = _replaced_id(session, values)
        return row

    def write_parts(self, session: Session, row: OfferRow, values: Mapping[str, Any]) -> None:
        """Price breaks and the test values of the newest lot."""
        breaks = [
            {
                "from_tonnes": values[f"break{place}_from_tonnes"],
                "price": values[f"break{place}_price"],
            }
            for place in BREAKS
            if values.get(f"break{place}_from_tonnes") is not None
        ]
        replace_parts(session, PriceBreakRow, {"offer_id": row.id}, breaks, ("from_tonnes",))
        tests = [
            {
                "property": name,
                "value": values[name],
                "method": values.get("test_method") or _SHEET,
                "lot": values.get("test_lot") or "",
                "tested_on": values.get("tested_on"),
            }
            for name in TEST_PROPERTIES
            if values.get(name) is not None
        ]
        write_newest_lot(session, row.id or 0, tests)

    def in_words(self, session: Session, field: str, before: str | None, after: str | None) -> Told:
        """Supplier and replaced offer by name; another yarn by what differs in it."""
        if field == "supplier_id":
            names = [named(session, SupplierRow, each, "name") for each in (before, after)]
            return {"supplier": (names[0], names[1])}
        if field == "replaces_id":
            codes = [named(session, OfferRow, each, "code") for each in (before, after)]
            return {"replaces": (codes[0], codes[1])}
        if field == "yarn_id":
            old, new = (_described(session, each) for each in (before, after))
            return {name: (old[name], new[name]) for name in YARN_FIELDS if old[name] != new[name]}
        return super().in_words(session, field, before, after)

    def part_field(
        self, part: type[Record], action: str, held: Mapping[str, str | None], field: str
    ) -> str:
        """A break by its tonnes, a test value by its property."""
        if part is AttachmentRow:
            return "file" if field == "name" else ""
        if part is PriceBreakRow:
            return f"Price from {held.get('from_tonnes')} t" if field == "price" else ""
        if part is GateOverrideRow:
            accepted = f"Accepted {held.get('about')}, {held.get('role')}"
            return accepted if field == "reason" else ""
        if field == "value":
            return held.get("property") or ""
        said = {"method": "test_method", "lot": "test_lot", "tested_on": "tested_on"}
        return said.get(field, "") if action == "change" else ""

    def entries(self, session: Session, rows: Sequence[Any]) -> list[Values]:
        """Flat entries, with five statements for any number of offers."""
        suppliers = dict(session.exec(select(SupplierRow.id, SupplierRow.name)).all())
        yarns = {
            yarn.id: yarn
            for yarn in _belonging(session, YarnRow, "id", [row.yarn_id for row in rows])
        }
        replaced = {row.replaces_id for row in rows if row.replaces_id}
        codes = {row.id: row.code for row in _belonging(session, OfferRow, "id", list(replaced))}
        breaks, tests = defaultdict(list), defaultdict(list)
        ids = [row.id for row in rows]
        for part in _belonging(session, PriceBreakRow, "offer_id", ids):
            breaks[part.offer_id].append(part)
        for test in _belonging(session, TestValueRow, "offer_id", ids):
            tests[test.offer_id].append(test)
        return [
            {
                **{name: getattr(row, name) for name in self.fields},
                "supplier": suppliers.get(row.supplier_id, ""),
                **{name: getattr(yarns[row.yarn_id], name) for name in YARN_FIELDS},
                "replaces": codes.get(row.replaces_id, "") if row.replaces_id else "",
                **_flat_breaks(breaks[row.id]),
                **_flat_tests(tests[row.id]),
            }
            for row in rows
        ]


def _described(session: Session, yarn_id: str | None) -> dict[str, str | None]:
    yarn = session.get(YarnRow, int(yarn_id)) if yarn_id else None
    values = {name: getattr(yarn, name, None) for name in YARN_FIELDS}
    return {name: None if value in (None, "") else str(value) for name, value in values.items()}


def _same(new: Any, stored: Any) -> bool:
    if isinstance(new, Decimal) and isinstance(stored, Decimal):
        return str(new) == str(stored)
    return (new or None) == (stored or None)


def _belonging(session: Session, table: Any, column: str, ids: Sequence[int]) -> Sequence[Any]:
    if len(ids) > 1000:  # a list this long reads the whole table faster than it names its rows
        found: Sequence[Any] = session.exec(select(table).order_by(table.id)).all()
        return found
    matching: Sequence[Any] = session.exec(
        select(table).where(col(getattr(table, column)).in_(ids)).order_by(table.id)
    ).all()
    return matching


def _flat_breaks(parts: Sequence[Any]) -> Values:
    ordered = sorted(parts, key=lambda part: part.from_tonnes)
    return {
        f"break{place}_{name}": getattr(ordered[place - 1], name) if place <= len(ordered) else None
        for place in BREAKS
        for name in ("from_tonnes", "price")
    }


def _flat_tests(parts: Sequence[Any]) -> Values:
    """The newest lot; what older lots say stands beside the offer."""
    values: Values = dict.fromkeys(TEST_PROPERTIES)
    lot = newest_lot(parts)
    values |= {part.property: part.value for part in lot}
    first = lot[0] if lot else None
    return values | {
        "test_method": first.method if first else _SHEET,
        "test_lot": first.lot if first else "",
        "tested_on": first.tested_on if first else None,
    }


def _yarn_id(session: Session, supplier_id: int, values: Mapping[str, Any]) -> int:
    """The supplier's yarn of exactly this description, made when there is none."""
    described = {name: values[name] for name in YARN_FIELDS if name in values}
    statement = select(YarnRow).where(YarnRow.supplier_id == supplier_id)
    for name, value in described.items():
        statement = statement.where(getattr(YarnRow, name) == value)
    yarn = session.exec(statement).first()
    if yarn is None:
        yarn = YarnRow(owner_id=session.info["person_id"], supplier_id=supplier_id, **described)
        session.add(yarn)
        session.flush()
    return yarn.id or 0


def _replaced_id(session: Session, values: Mapping[str, Any]) -> int | None:
    code = values.get("replaces")
    if not code:
        return None
    replaced = session.exec(select(OfferRow).where(OfferRow.code == code)).first()
    if replaced is None:
        raise BadValue(
            f"There is no offer “{code}” to replace.",
            field="replaces",
            value=code,
            remedy="Check the code, or leave the field empty.",
        )
    again = session.exec(select(OfferRow).where(OfferRow.replaces_id == replaced.id)).first()
    if again is not None and again.id != values.get("id"):
        raise BadValue(
            f"Offer {code} is already replaced by {again.code}.",
            field="replaces",
            value=code,
            remedy=f"Replace {again.code} instead.",
        )
    earlier: OfferRow | None = replaced
    while earlier is not None:
        if earlier.id == values.get("id"):
            raise BadValue(
                f"Offer {code} cannot be replaced by itself or by an offer it took the place of.",
                field="replaces",
                value=code,
                remedy="Name an earlier offer, or leave the field empty.",
            )
        earlier = session.get(OfferRow, earlier.replaces_id) if earlier.replaces_id else None
    return replaced.id
