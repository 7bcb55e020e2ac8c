"""All tables. Figures stand as people enter them (percent, inches, the seller's unit); the store
functions turn them into core values.

Every editable row carries a version (a stale edit is refused), an owner, and leaves an audit event.
"""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import JSON, Index, LargeBinary, MetaData, Text, UniqueConstraint
from sqlalchemy.orm import declared_attr
from sqlmodel import Field, SQLModel

from server.store.exact import Exact, Folded, Moment

SQLModel.metadata.naming_convention = MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
).naming_convention


def _now() -> datetime:
    return datetime.now(UTC)


class Person(SQLModel, table=True):
    """Who enters and decides. role: owner, editor or viewer."""

    __tablename__ = "person"
    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=200, unique=True)
    email: str = Field(default="", max_length=200)
    role: str = Field(default="editor", max_length=20)
    created_at: datetime = Field(default_factory=_now, sa_type=Moment)


class AuditEvent(SQLModel, table=True):
    """One change of one row. Append-only: nothing in the program updates or deletes it.

    changes: field -> [value before, value after], as text
    """

    __tablename__ = "audit_event"
    id: int | None = Field(default=None, primary_key=True)
    at: datetime = Field(default_factory=_now, sa_type=Moment, index=True)
    person_id: int = Field(foreign_key="person.id")
    table_name: str = Field(max_length=40, index=True)
    row_id: int = Field(index=True)
    action: str = Field(max_length=10)
    changes: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)


class Record(SQLModel):
    """What every editable row has."""

    id: int | None = Field(default=None, primary_key=True)
    row_version: int = Field(default=1, nullable=False)
    owner_id: int = Field(foreign_key="person.id", index=True)
    changed_at: datetime = Field(default_factory=_now, sa_type=Moment)

    @declared_attr.directive
    def __mapper_args__(cls) -> dict[str, Any]:
        return {"version_id_col": cls.__table__.c.row_version}  # type: ignore[attr-defined]


class SupplierRow(Record, table=True):
    """A yarn supplier."""

    __tablename__ = "supplier"
    name: str = Field(max_length=200, unique=True)
    country: str = Field(max_length=80)
    makes: str = Field(default="", max_length=300)
    origin_state: str = Field(default="missing", max_length=40)
    origin_on: date | None = None
    origin_owner: str = Field(default="", max_length=200)
    contacts: str = Field(default="", max_length=2000)
    notes: str = Field(default="", max_length=4000)


class YarnRow(Record, table=True):
    """A yarn as a supplier describes it; several offers over time may be for the same yarn."""

    __tablename__ = "yarn"
    supplier_id: int = Field(foreign_key="supplier.id", index=True)
    count: Decimal = Field(sa_type=Exact)
    count_system: str = Field(max_length=10)
    count_basis: str = Field(max_length=20)
    ply: int = 1
    spinning: str = Field(max_length=20)
    preparation: str = Field(default="", max_length=80)
    twist: str = Field(default="unknown", max_length=10)
    twist_multiplier: Decimal | None = Field(default=None, sa_type=Exact)
    effect: str = Field(default="plain", max_length=30)
    slub_added_mass_percent: Decimal | None = Field(default=None, sa_type=Exact)
    core: str = Field(default="none", max_length=20)
    core1_denier: Decimal | None = Field(default=None, sa_type=Exact)
    core1_draft: Decimal | None = Field(default=None, sa_type=Exact)
    core2_denier: Decimal | None = Field(default=None, sa_type=Exact)
    core2_draft: Decimal | None = Field(default=None, sa_type=Exact)
    fibre_mix: str = Field(default="cotton", max_length=80)
    description: str = Field(default="", max_length=300)
    pattern: str = Field(default="", max_length=500)


class OfferRow(Record, table=True):
    """An offer; what was quoted is never overwritten, a re-quote replaces the row by a new one.

    What the seller did not say is "" or null, and a question stands until it is answered.
    intake_id, intake_line: the paste or file the offer came in with, and its line there
    """

    __tablename__ = "offer"
    __table_args__ = (
        Index("ix_offer_quoted_on_id", "quoted_on", "id"),
        Index("ix_offer_valid_until_id", "valid_until", "id"),
        Index("ix_offer_supplier_id_code", "supplier_id", "code"),
    )
    code: str = Field(max_length=40, unique=True)
    supplier_id: int = Field(foreign_key="supplier.id", index=True)
    yarn_id: int = Field(foreign_key="yarn.id", index=True)
    as_quoted: str = Field(max_length=2000)
    price: Decimal = Field(sa_type=Exact)
    currency: str = Field(default="", max_length=3)
    price_unit: str = Field(default="", max_length=20)
    tax_inside_percent: Decimal = Field(default=Decimal(0), sa_type=Exact)
    term: str = Field(default="", max_length=3)
    place: str = Field(default="", max_length=120)
    payment: str = Field(default="", max_length=40)
    quoted_regain_percent: Decimal | None = Field(default=None, sa_type=Exact)
    break_kind: str = Field(default="all units", max_length=20)
    moq_tonnes: Decimal | None = Field(default=None, sa_type=Exact)
    capacity_tonnes: Decimal | None = Field(default=None, sa_type=Exact)
    count_tolerance_percent: Decimal | None = Field(default=None, sa_type=Exact)
    lead_days: int | None = None
    quoted_on: date
    valid_until: date | None = None
    ships_from: str = Field(default="", max_length=80)
    notes: str = Field(default="", max_length=4000)
    replaces_id: int | None = Field(default=None, foreign_key="offer.id", unique=True)
    intake_id: int | None = Field(default=None, foreign_key="intake.id", index=True)
    intake_line: int | None = None


class QuestionRow(Record, table=True):
    """A question put to the seller when an offer came in: its words could be read two ways.

    choices: [value, what it means] each; answer: the value chosen, "" while it is open
    """

    __tablename__ = "question"
    __table_args__ = (UniqueConstraint("offer_id", "field"),)
    offer_id: int = Field(foreign_key="offer.id", index=True)
    field: str = Field(max_length=40)
    sentence: str = Field(max_length=500)
    choices: list[list[str]] = Field(default_factory=list, sa_type=JSON)
    unit: str = Field(default="", max_length=20)
    answer: str = Field(default="", max_length=200)


class StoredFile(SQLModel, table=True):
    """The bytes of a file as it was received, never changed. sha256: digest of the content."""

    __tablename__ = "stored_file"
    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(max_length=200)
    size: int
    sha256: str = Field(max_length=64, index=True)
    content: bytes = Field(sa_type=LargeBinary)


class IntakeRow(Record, table=True):
    """One paste or one file of offers, from its arrival to the offers it became.

    supplier_id: null when each line names its own supplier
    state: new (not read yet), read (its lines can be looked at), stored, or undone
    sheet, encoding, separator, heading_line, columns: how a file is read; columns gives for the
        number of a column, from 0, the field it holds
    date_order, decimal_mark: how days and numbers are written in it; "" when each tells for itself
    answers: field -> value that holds for every line which does not say it
    """

    __tablename__ = "intake"
    supplier_id: int | None = Field(default=None, foreign_key="supplier.id", index=True)
    file_id: int = Field(foreign_key="stored_file.id", index=True)
    kind: str = Field(max_length=10)
    received_on: date
    state: str = Field(default="new", max_length=10)
    sheet: str = Field(default="", max_length=120)
    encoding: str = Field(default="", max_length=40)
    separator: str = Field(default="", max_length=1)
    heading_line: int = 0
    columns: dict[str, str] = Field(default_factory=dict, sa_type=JSON)
    date_order: str = Field(default="", max_length=3)
    decimal_mark: str = Field(default="", max_length=1)
    answers: dict[str, str] = Field(default_factory=dict, sa_type=JSON)


class IntakeLine(SQLModel, table=True):
    """One line of an intake as it was read; kept with the offer it became.

    text: the line as received; values: entry field -> text; pieces: [start, end, field, taken for]
    questions: [field, sentence, choices, unit]; faults, doubts: [field, label, message]
    outcome: good, asked, doubtful or faulty; earlier: code of the offer it seems to repeat
    decision: new, replace, keep or skip
    """

    __tablename__ = "intake_line"
    __table_args__ = (
        Index("ix_intake_line_intake_id_line", "intake_id", "line"),
        Index("ix_intake_line_intake_id_outcome_line", "intake_id", "outcome", "line"),
    )
    id: int | None = Field(default=None, primary_key=True)
    intake_id: int = Field(foreign_key="intake.id")
    line: int
    text: str = Field(max_length=4000)
    values: dict[str, str] = Field(default_factory=dict, sa_type=JSON)
    pieces: list[list[Any]] = Field(default_factory=list, sa_type=JSON)
    questions: list[list[Any]] = Field(default_factory=list, sa_type=JSON)
    faults: list[list[str]] = Field(default_factory=list, sa_type=JSON)
    doubts: list[list[str]] = Field(default_factory=list, sa_type=JSON)
    outcome: str = Field(max_length=10)
    earlier: str = Field(default="", max_length=40)
    likeness: str = Field(default="", max_length=20)
    decision: str = Field(default="new", max_length=10)
    offer_id: int | None = None


class LayoutRow(Record, table=True):
    """How the sheets of one supplier are laid out, remembered from the last one.

    headings: the headings as they stand, joined; the next sheet with the same ones is read alike
    """

    __tablename__ = "layout"
    __table_args__ = (UniqueConstraint("supplier_id", "headings"),)
    supplier_id: int = Field(foreign_key="supplier.id", index=True)
    headings: str = Field(max_length=2000)
    columns: dict[str, str] = Field(default_factory=dict, sa_type=JSON)
    date_order: str = Field(default="", max_length=3)
    decimal_mark: str = Field(default="", max_length=1)


class PriceBreakRow(Record, table=True):
    """A price from a quantity on."""

    __tablename__ = "price_break"
    offer_id: int = Field(foreign_key="offer.id", index=True)
    from_tonnes: Decimal = Field(sa_type=Exact)
    price: Decimal = Field(sa_type=Exact)


class AttachmentRow(Record, table=True):
    """A file that belongs to an offer, such as a data sheet. name: as it was received."""

    __tablename__ = "attachment"
    offer_id: int = Field(foreign_key="offer.id", index=True)
    file_id: int = Field(foreign_key="stored_file.id", index=True)
    name: str = Field(max_length=200)
    kind: str = Field(default="other", max_length=20)
    note: str = Field(default="", max_length=500)


class TestValueRow(Record, table=True):
    """One measured property of an offered yarn, with method, lot and day.

    A property may have several lots; `store/offer_tests.py` says which one counts.
    attachment_id: the file the value was read in
    """

    __tablename__ = "test_value"
    __table_args__ = (UniqueConstraint("offer_id", "property", "method", "lot", "tested_on"),)
    offer_id: int = Field(foreign_key="offer.id", index=True)
    property: str = Field(max_length=40)
    value: Decimal = Field(sa_type=Exact)
    method: str = Field(default="supplier's sheet", max_length=120)
    lot: str = Field(default="", max_length=80)
    tested_on: date | None = None
    attachment_id: int | None = Field(default=None, foreign_key="attachment.id", index=True)


class ExchangeRateRow(Record, table=True):
    """1 base = rate quote, from a day on."""

    __tablename__ = "exchange_rate"
    base: str = Field(max_length=3)
    quote: str = Field(max_length=3)
    rate: Decimal = Field(sa_type=Exact)
    valid_from: date
    source: str = Field(max_length=300)


class FreightLaneRow(Record, table=True):
    """The way from a country to the mill, from a day on."""

    __tablename__ = "freight_lane"
    country: str = Field(max_length=80, index=True)
    route: str = Field(max_length=120)
    currency: str = Field(max_length=3)
    freight: Decimal = Field(sa_type=Exact)
    load_mass_kg: Decimal = Field(sa_type=Exact)
    inland: Decimal = Field(sa_type=Exact)
    transit_days: int
    domestic: bool = False
    valid_from: date
    source: str = Field(max_length=300)


class DutyRateRow(Record, table=True):
    """Import duty for goods of an origin, from a day on; for all yarn or for one tariff line.

    dtex_from, dtex_below: count of the single yarn, from the one up to under the other
    preparation, ply, fibre_mix: "any" where the line does not ask
    """

    __tablename__ = "duty_rate"
    country: str = Field(max_length=80, index=True)
    rate_percent: Decimal = Field(sa_type=Exact)
    base: str = Field(default="CIF", max_length=3)
    valid_from: date
    source: str = Field(max_length=300)
    tariff_line: str = Field(default="", max_length=40)
    dtex_from: Decimal | None = Field(default=None, sa_type=Exact)
    dtex_below: Decimal | None = Field(default=None, sa_type=Exact)
    preparation: str = Field(default="any", max_length=10)
    ply: str = Field(default="any", max_length=10)
    fibre_mix: str = Field(default="any", max_length=80)


class ChargeRow(Record, table=True):
    """A dated charge or convention of the landed price; shares stand in percent."""

    __tablename__ = "charge"
    key: str = Field(max_length=40, index=True)
    value: Decimal = Field(sa_type=Exact)
    currency: str = Field(default="", max_length=3)
    valid_from: date
    source: str = Field(max_length=300)


class AssumptionSetRow(Record, table=True):
    """A named set of process assumptions."""

    __tablename__ = "assumption_set"
    name: str = Field(max_length=120, unique=True)
    currency: str = Field(max_length=3)
    notes: str = Field(default="", max_length=4000)


class AssumptionRow(Record, table=True):
    """One assumed value with its range; shares stand in percent."""

    __tablename__ = "assumption"
    set_id: int = Field(foreign_key="assumption_set.id", index=True)
    key: str = Field(max_length=60)
    at_ne: Decimal | None = Field(default=None, sa_type=Exact)
    value: Decimal = Field(sa_type=Exact)
    low: Decimal | None = Field(default=None, sa_type=Exact)
    high: Decimal | None = Field(default=None, sa_type=Exact)
    source: str = Field(max_length=300)
    noted_on: date


class ConstructionRow(Record, table=True):
    """A fabric construction; loom figures are the primary record."""

    __tablename__ = "construction"
    code: str = Field(max_length=40, unique=True)
    name: str = Field(max_length=120)
    weight_class: str = Field(default="", max_length=120)
    weave: str = Field(max_length=30)
    twill_hand: str = Field(default="none", max_length=10)
    dyeing_route: str = Field(default="rope", max_length=10)
    entered_state: str = Field(default="loom", max_length=10)
    total_ends: Decimal | None = Field(default=None, sa_type=Exact)
    reed_width_in: Decimal | None = Field(default=None, sa_type=Exact)
    loom_ppi: Decimal | None = Field(default=None, sa_type=Exact)
    finished_epi: Decimal | None = Field(default=None, sa_type=Exact)
    finished_ppi: Decimal | None = Field(default=None, sa_type=Exact)
    filling_crimp_percent: Decimal | None = Field(default=None, sa_type=Exact)
    tail_in: Decimal = Field(default=Decimal(0), sa_type=Exact)
    length_shrink_percent: Decimal = Field(sa_type=Exact)
    finished_width_in: Decimal = Field(sa_type=Exact)
    cuttable_width_in: Decimal = Field(sa_type=Exact)
    net_finish_percent: Decimal = Field(sa_type=Exact)
    finish_in_parts: bool = False
    warp_retained_percent: Decimal = Field(default=Decimal(0), sa_type=Exact)
    scouring_loss_percent: Decimal = Field(default=Decimal(0), sa_type=Exact)
    coating_g_per_m2: Decimal = Field(default=Decimal(0), sa_type=Exact)
    measured_oz: Decimal | None = Field(default=None, sa_type=Exact)
    measured_state: str = Field(default="finished", max_length=10)
    target_oz: Decimal | None = Field(default=None, sa_type=Exact)
    target_state: str = Field(default="finished", max_length=10)
    greige_width_in: Decimal | None = Field(default=None, sa_type=Exact)
    greige_add_on_percent: Decimal | None = Field(default=None, sa_type=Exact)
    residual_length_percent: Decimal | None = Field(default=None, sa_type=Exact)
    residual_width_percent: Decimal | None = Field(default=None, sa_type=Exact)
    wash_mass_change_percent: Decimal | None = Field(default=None, sa_type=Exact)
    calibration: str = Field(default="", max_length=300)
    season_metres: Decimal | None = Field(default=None, sa_type=Exact)
    heat_set: bool = False
    garment_metres: Decimal | None = Field(default=None, sa_type=Exact)
    garment_width_in: Decimal | None = Field(default=None, sa_type=Exact)
    notes: str = Field(default="", max_length=4000)


class SlotRow(Record, table=True):
    """One yarn wanted in one direction of a construction."""

    __tablename__ = "slot"
    __table_args__ = (UniqueConstraint("construction_id", "direction", "position"),)
    construction_id: int = Field(foreign_key="construction.id", index=True)
    direction: str = Field(max_length=10)
    position: int = 1
    ne: Decimal = Field(sa_type=Exact)
    share_of_threads_percent: Decimal = Field(default=Decimal(100), sa_type=Exact)
    crimp_percent: Decimal | None = Field(default=None, sa_type=Exact)
    take_up_percent: Decimal | None = Field(default=None, sa_type=Exact)
    waste_percent: Decimal = Field(sa_type=Exact)
    effect: str = Field(default="any", max_length=30)
    core: str = Field(default="none", max_length=20)
    twist: str = Field(default="any", max_length=10)
    spinning: str = Field(default="any", max_length=20)
    fibre_mix: str = Field(default="any", max_length=80)
    pinned_offer: str = Field(default="", max_length=40)


class MeasuredPieceRow(Record, table=True):
    """What a laboratory or a loom found on one real piece of a construction.

    loom_metres, finished_metres: lengths of the same piece before and after finishing
    left_out: seen, and not used to calibrate
    """

    __tablename__ = "measured_piece"
    __table_args__ = (UniqueConstraint("construction_id", "label"),)
    construction_id: int = Field(foreign_key="construction.id", index=True)
    label: str = Field(max_length=80)
    measured_on: date
    source: str = Field(max_length=300)
    state: str = Field(default="finished", max_length=10)
    ounces: Decimal | None = Field(default=None, sa_type=Exact)
    width_in: Decimal | None = Field(default=None, sa_type=Exact)
    epi: Decimal | None = Field(default=None, sa_type=Exact)
    ppi: Decimal | None = Field(default=None, sa_type=Exact)
    warp_crimp_percent: Decimal | None = Field(default=None, sa_type=Exact)
    filling_crimp_percent: Decimal | None = Field(default=None, sa_type=Exact)
    loom_metres: Decimal | None = Field(default=None, sa_type=Exact)
    finished_metres: Decimal | None = Field(default=None, sa_type=Exact)
    left_out: bool = False
    notes: str = Field(default="", max_length=2000)


class VariantRow(Record, table=True):
    """A named change of a construction, kept as the address of the change desk says it.

    promoted_version: version of the construction that the variant became, when it was promoted
    """

    __tablename__ = "variant"
    __table_args__ = (UniqueConstraint("construction_id", "name"),)
    construction_id: int = Field(foreign_key="construction.id", index=True)
    name: str = Field(max_length=80)
    query: str = Field(max_length=2000)
    notes: str = Field(default="", max_length=2000)
    promoted_version: int | None = None


class GateLimitRow(Record, table=True):
    """A limit an offer is held to in a role; count deviation stands in percent."""

    __tablename__ = "gate_limit"
    __table_args__ = (UniqueConstraint("role", "property"),)
    role: str = Field(max_length=40)
    property: str = Field(max_length=40)
    value: Decimal = Field(sa_type=Exact)
    source: str = Field(max_length=300)


class GateOverrideRow(Record, table=True):
    """A finding of the gate accepted for one offer, by the owner of the row, with a reason.

    role: one of the gate's, or "all roles"; about: the finding, such as "tenacity"
    until: last as-of day on which it holds
    """

    __tablename__ = "gate_override"
    __table_args__ = (UniqueConstraint("offer_id", "role", "about"),)
    offer_id: int = Field(foreign_key="offer.id", index=True)
    role: str = Field(max_length=40)
    about: str = Field(max_length=40)
    reason: str = Field(max_length=500)
    until: date | None = None


class BasisRow(Record, table=True):
    """On what offers are compared."""

    __tablename__ = "basis"
    name: str = Field(max_length=120, unique=True)
    currency: str = Field(max_length=3)
    rates_on: date
    delivery_point: str = Field(max_length=120)
    as_of: date
    meeting: date
    need_by: date
    quantity: str = Field(default="first price", max_length=20)
    metres: Decimal | None = Field(default=None, sa_type=Exact)
    assumption_set_id: int = Field(foreign_key="assumption_set.id")
    count_threshold_percent: Decimal = Field(default=Decimal("0.3"), sa_type=Exact)
    loom_rule: str = Field(default="as assumed", max_length=20)


class HouseRegainRow(Record, table=True):
    """The regain the house compares a fibre mix at."""

    __tablename__ = "house_regain"
    __table_args__ = (UniqueConstraint("basis_id", "fibre_mix"),)
    basis_id: int = Field(foreign_key="basis.id", index=True)
    fibre_mix: str = Field(max_length=80)
    regain_percent: Decimal = Field(sa_type=Exact)


class OfferIndexRow(SQLModel, table=True):
    """What the list of offers is sorted, searched and counted by. Derived, so it has no history.

    id: the offer's; code, supplier, country, process, words: folded; words: what a search looks in
    questions, asks: how many stand open, and the first of them
    replaced: whether a later offer takes its place
    """

    __tablename__ = "offer_index"
    __table_args__ = (
        *(
            Index(f"ix_offer_index_{name}_id", name, "id")
            for name in ("code", "supplier", "country", "process", "average_ne", "quoted_on",
                         "valid_until", "lead_days", "supplier_id", "intake_id")
        ),
    )  # fmt: skip
    id: int = Field(
        foreign_key="offer.id",
        ondelete="CASCADE",
        primary_key=True,
        sa_column_kwargs={"autoincrement": False},
    )
    code: str = Field(sa_type=Folded)
    supplier: str = Field(sa_type=Folded)
    country: str = Field(sa_type=Folded)
    process: str = Field(sa_type=Folded)
    supplier_id: int
    spinning: str = Field(max_length=20)
    effect: str = Field(max_length=30)
    average_ne: float | None = None
    quoted_on: date
    valid_until: date | None = None
    lead_days: int | None = None
    intake_id: int | None = None
    questions: int = 0
    asks: str = Field(default="", max_length=500)
    replaced: bool = False
    words: str = Field(sa_type=Folded)


class ListVersionRow(SQLModel, table=True):
    """Up to which audit event a derived list is true.

    what: `offers` for the index of offers, or the basis that prices stand on; unique
    used_at: when it was last brought up to date; the prices longest not used make room for others
    """

    __tablename__ = "list_version"
    id: int | None = Field(default=None, primary_key=True)
    what: str = Field(max_length=120, unique=True)
    version: int = 0
    used_at: datetime = Field(default_factory=_now, sa_type=Moment)


class OfferPriceRow(SQLModel, table=True):
    """What an offer costs on one basis [¤/kg], or why that cannot be said. Derived, no history.

    basis_id: the list version of the basis; id: the offer's
    standing: replaced, unproven (not priced, or a question is open) or proven
    """

    __tablename__ = "offer_price"
    __table_args__ = (
        *(
            Index(f"ix_offer_price_basis_id_{name}_id", "basis_id", name, "id")
            for name in ("goods_price", "landed_price", "same_basis_price")
        ),
        Index("ix_offer_price_standing", "basis_id", "standing", "valid_until", "id"),
    )
    basis_id: int = Field(
        foreign_key="list_version.id",
        primary_key=True,
        sa_column_kwargs={"autoincrement": False},
    )
    id: int = Field(
        foreign_key="offer.id",
        ondelete="CASCADE",
        primary_key=True,
        index=True,
        sa_column_kwargs={"autoincrement": False},
    )
    goods_price: float | None = None
    landed_price: float | None = None
    same_basis_price: float | None = None
    missing: str = Field(default="", max_length=1000)
    standing: str = Field(max_length=10)
    valid_until: date | None = None


class SavedViewRow(Record, table=True):
    """A named address of a list. query: what stands behind the question mark, its page left out."""

    __tablename__ = "saved_view"
    __table_args__ = (UniqueConstraint("page", "name"),)
    page: str = Field(max_length=40)
    name: str = Field(max_length=80)
    query: str = Field(default="", max_length=2000)


class ColumnChoiceRow(Record, table=True):
    """The columns its owner wants to see of a list, when the address does not say."""

    __tablename__ = "column_choice"
    __table_args__ = (UniqueConstraint("owner_id", "page"),)
    page: str = Field(max_length=40)
    columns: str = Field(max_length=400)


class MeetingPackRow(Record, table=True):
    """A meeting pack: a draft, which is worked out anew, or frozen, which never changes.

    reference: its address for ever
    basis_name, basis_changes: the basis of a draft, and what is changed on it
    shown: keys of what a buyer may see; words: written for the buyer
    superseded_by: reference of the frozen pack that took its place, or ""
    """

    __tablename__ = "meeting_pack"
    reference: str = Field(max_length=60, unique=True)
    title: str = Field(max_length=200)
    buyer: str = Field(default="", max_length=200)
    meeting: date
    notes: str = Field(default="", max_length=4000)
    words: str = Field(default="", max_length=4000)
    state: str = Field(default="draft", max_length=20)
    basis_name: str = Field(default="", max_length=120)
    basis_changes: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    shown: list[str] = Field(default_factory=list, sa_type=JSON)
    follows: str = Field(default="", max_length=60)
    superseded_by: str = Field(default="", max_length=60)
    frozen_at: datetime | None = Field(default=None, sa_type=Moment)
    engine: str = Field(default="", max_length=20)
    digest: str = Field(default="", max_length=64)


class PackClothRow(Record, table=True):
    """A construction, or a variant of one, in a draft. pairs: keys of those chosen."""

    __tablename__ = "pack_cloth"
    pack_id: int = Field(foreign_key="meeting_pack.id", index=True)
    position: int
    code: str = Field(max_length=60)
    variant: str = Field(default="", max_length=80)
    pairs: list[str] = Field(default_factory=list, sa_type=JSON)


class PackContent(SQLModel, table=True):
    """What a frozen pack holds, as text, so that every database gives back the same digits.

    Written once, with the freezing; nothing in the program changes or removes it.
    """

    __tablename__ = "pack_content"
    id: int | None = Field(default=None, primary_key=True)
    pack_id: int = Field(foreign_key="meeting_pack.id", unique=True)
    pack: str = Field(sa_type=Text)
    given: str = Field(sa_type=Text)


class PackShareRow(Record, table=True):
    """A link by which somebody outside sees the buyer's view of a frozen pack.

    token_digest: SHA-256 of the secret part of the link; the secret itself is never stored
    shown: what that view holds, as chosen when the link was made
    """

    __tablename__ = "pack_share"
    pack_id: int = Field(foreign_key="meeting_pack.id", index=True)
    token_digest: str = Field(max_length=64, unique=True)
    whom: str = Field(default="", max_length=200)
    shown: list[str] = Field(default_factory=list, sa_type=JSON)
    made_at: datetime = Field(default_factory=_now, sa_type=Moment)
    expires_at: datetime = Field(sa_type=Moment)
    revoked_at: datetime | None = Field(default=None, sa_type=Moment)
