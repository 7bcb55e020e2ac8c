"""Everything a comparison can need, read once and given as core values."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import cached_property
from typing import Any, TypeVar

from sqlmodel import Session, col, select

from server.core.assumptions import KINDS, AssumptionSet
from server.core.cloth_states import (
    CALIBRATED,
    CRIMP_NOTED,
    STARTING_VALUE,
    calibrated_on,
    starting_crimp,
)
from server.core.construction import Basis, Construction, Slot
from server.core.errors import NotFound
from server.core.fabric import (
    crimp_from_take_up,
    loom_ppi_from_finished,
    reed_width_from_finished,
    total_ends_from_finished,
)
from server.core.gate import Limit
from server.core.offer import Core, Offer, PriceBreak, Supplier, Yarn
from server.core.overrides import Override
from server.core.patterns import read_pattern
from server.core.questions import Question
from server.core.rates import RateBook
from server.core.sheet import Input
from server.store.constructions import wanted_yarns
from server.store.offer_tests import by_age
from server.store.overrides import override_value
from server.store.rates import load_rates
from server.store.tables import (
    AssumptionRow,
    AssumptionSetRow,
    BasisRow,
    ConstructionRow,
    GateLimitRow,
    GateOverrideRow,
    HouseRegainRow,
    OfferRow,
    Person,
    PriceBreakRow,
    QuestionRow,
    SlotRow,
    SupplierRow,
    TestValueRow,
    YarnRow,
)


@dataclass(frozen=True, slots=True)
class Bases:
    """Every stored basis, in the order entered."""

    bases: tuple[Basis, ...]

    def basis(self, name: str = "") -> Basis:
        """A basis by its name, or the first. Raises NotFound."""
        if not name and self.bases:
            return self.bases[0]
        return _named(self.bases, "name", name or "(none)", "basis")


@dataclass(frozen=True)
class Book:
    """The whole of the house's knowledge at one data version.

    offers: all of them; `current_offers` leaves out those replaced by a later one
    """

    version: int
    suppliers: tuple[Supplier, ...]
    offers: tuple[Offer, ...]
    replaced: Mapping[str, str]
    constructions: tuple[Construction, ...]
    rates: RateBook
    assumption_sets: tuple[AssumptionSet, ...]
    limits: tuple[Limit, ...]
    bases: tuple[Basis, ...]

    @cached_property
    def current_offers(self) -> tuple[Offer, ...]:
        """Offers that no later one replaces."""
        return tuple(offer for offer in self.offers if offer.code not in self.replaced)

    def construction(self, code: str) -> Construction:
        """A construction by its code. Raises NotFound."""
        return _named(self.constructions, "code", code, "construction")

    def offer(self, code: str) -> Offer:
        """An offer by its code. Raises NotFound."""
        return _named(self.offers, "code", code, "offer")

    def basis(self, name: str = "") -> Basis:
        """A basis by its name, or the first. Raises NotFound."""
        return Bases(self.bases).basis(name)

    def assumption_set(self, name: str) -> AssumptionSet:
        """An assumption set by its name. Raises NotFound."""
        return _named(self.assumption_sets, "name", name, "assumption set")


Thing = TypeVar("Thing")


def _named(things: tuple[Thing, ...], attribute: str, wanted: str, what: str) -> Thing:
    for thing in things:
        if getattr(thing, attribute) == wanted:
            return thing
    raise NotFound(
        f"There is no {what} “{wanted[:60]}”.",
        field=what,
        value=wanted,
        remedy=f"Choose one from the list of {what}s.",
    )


def load_book(session: Session, version: int) -> Book:
    """Read everything; about fifteen statements, however many rows there are."""
    owners = dict(session.exec(select(Person.id, Person.name)).all())
    suppliers = {row.id: _supplier(row) for row in _rows(session, SupplierRow)}
    offer_rows = _rows(session, OfferRow)
    codes = {row.id: row.code for row in offer_rows}
    return Book(
        version=version,
        suppliers=tuple(suppliers.values()),
        offers=_offers(session, offer_rows, suppliers, owners),
        replaced={codes[row.replaces_id]: row.code for row in offer_rows if row.replaces_id},
        constructions=_constructions(session),
        rates=load_rates(session),
        assumption_sets=_assumption_sets(session, owners),
        limits=tuple(
            Limit(
                row.id,
                row.role,
                row.property,
                _limit_value(row),
                "share" if row.property == "count_deviation" else "",
                row.source,
                owners.get(row.owner_id, ""),
            )
            for row in _rows(session, GateLimitRow)
        ),
        bases=_bases(session, owners),
    )


def read_offers(session: Session, ids: Sequence[int]) -> tuple[Offer, ...]:
    """Some offers by their numbers, in that order, with eight statements."""
    rows = {row.id: row for row in _rows(session, OfferRow, "id", ids)}
    wanted = [rows[each] for each in ids if each in rows]
    sellers = {row.supplier_id for row in wanted}
    suppliers = {row.id: _supplier(row) for row in _rows(session, SupplierRow, "id", sellers)}
    owners = dict(session.exec(select(Person.id, Person.name)).all())
    return _offers(session, wanted, suppliers, owners, only=ids)


def read_bases(session: Session) -> Bases:
    """The bases alone, with two statements; who owns them is left out."""
    return Bases(_bases(session, {}))


def _rows(
    session: Session, table: Any, column: str = "", among: Collection[Any] | None = None
) -> list[Any]:
    """Rows of a table in the order entered; only those whose column is among some values."""
    statement = select(table).order_by(col(table.id))
    if among is not None:
        statement = statement.where(col(getattr(table, column)).in_(among))
    return list(session.exec(statement).all())


def share(percent: Decimal | None) -> float:
    """A percentage as entered, as the share the engine uses."""
    return 0.0 if percent is None else float(percent / 100)


def _optional(number: Decimal | None) -> float | None:
    return None if number is None else float(number)


def _limit_value(row: GateLimitRow) -> float:
    return share(row.value) if row.property == "count_deviation" else float(row.value)


def _supplier(row: SupplierRow) -> Supplier:
    return Supplier(row.id or 0, row.name, row.country, row.makes, row.origin_state)


def yarn_value(row: YarnRow) -> Yarn:
    """A stored yarn as a core value."""
    cores = tuple(
        Core(float(denier), float(draft))
        for denier, draft in (
            (row.core1_denier, row.core1_draft),
            (row.core2_denier, row.core2_draft),
        )
        if denier is not None and draft is not None
    )
    added = row.slub_added_mass_percent
    return Yarn(
        id=row.id or 0,
        count=row.count,
        count_system=row.count_system,
        count_basis=row.count_basis,
        spinning=row.spinning,
        ply=row.ply,
        preparation=row.preparation,
        twist=row.twist,
        effect=row.effect,
        slub_added_mass=None if added is None else share(added),
        core=row.core,
        cores=cores,
        fibre_mix=row.fibre_mix,
        description=row.description,
        pattern=read_pattern(row.pattern) if row.pattern else None,
    )


def _offers(
    session: Session,
    rows: list[OfferRow],
    suppliers: Mapping[int | None, Supplier],
    owners: Mapping[int | None, str],
    only: Collection[int] | None = None,
) -> tuple[Offer, ...]:
    spun = None if only is None else {row.yarn_id for row in rows}
    yarns = {row.id: yarn_value(row) for row in _rows(session, YarnRow, "id", spun)}
    breaks: dict[int, list[PriceBreak]] = defaultdict(list)
    for part in _rows(session, PriceBreakRow, "offer_id", only):
        breaks[part.offer_id].append(PriceBreak(part.from_tonnes, part.price))
    tests: dict[int, dict[str, float]] = defaultdict(dict)
    sources: dict[int, dict[str, tuple[str, date | None]]] = defaultdict(dict)
    measured = _rows(session, TestValueRow, "offer_id", only)
    for test in sorted(measured, key=by_age):  # the one that counts is last
        tests[test.offer_id][test.property] = float(test.value)
        lot = f", lot {test.lot}" if test.lot else ""
        sources[test.offer_id][test.property] = (f"{test.method}{lot}", test.tested_on)
    asked: dict[int, list[Question]] = defaultdict(list)
    for put in _rows(session, QuestionRow, "offer_id", only):
        if not put.answer:
            choices = tuple((value, meaning) for value, meaning in put.choices)
            asked[put.offer_id].append(Question(put.field, put.sentence, choices, put.unit))
    overrides: dict[int, list[Override]] = defaultdict(list)
    for made in _rows(session, GateOverrideRow, "offer_id", only):
        overrides[made.offer_id].append(override_value(made, owners.get(made.owner_id, "")))
    return tuple(
        Offer(
            id=row.id or 0,
            code=row.code,
            supplier=suppliers[row.supplier_id],
            yarn=yarns[row.yarn_id],
            as_quoted=row.as_quoted,
            price=row.price,
            currency=row.currency,
            price_unit=row.price_unit,
            term=row.term,
            place=row.place,
            payment=row.payment,
            lead_days=row.lead_days,
            quoted_on=row.quoted_on,
            valid_until=row.valid_until,
            tax_inside=share(row.tax_inside_percent),
            quoted_regain=None
            if row.quoted_regain_percent is None
            else share(row.quoted_regain_percent),
            breaks=tuple(sorted(breaks[row.id or 0], key=lambda each: each.from_tonnes)),
            break_kind=row.break_kind,
            moq_tonnes=_optional(row.moq_tonnes),
            capacity_tonnes=_optional(row.capacity_tonnes),
            count_tolerance=None
            if row.count_tolerance_percent is None
            else share(row.count_tolerance_percent),
            ships_from=row.ships_from,
            notes=row.notes,
            tests=tests[row.id or 0],
            test_sources=sources[row.id or 0],
            asked=tuple(asked[row.id or 0]),
            intake_id=row.intake_id,
            intake_line=row.intake_line,
            overrides=tuple(overrides[row.id or 0]),
        )
        for row in rows
    )


def construction_of(values: Mapping[str, Any], construction_id: int) -> Construction:
    """A construction from the values of a valid entry, stored or not."""
    row = ConstructionRow(
        id=construction_id,
        owner_id=0,
        **{name: values[name] for name in ConstructionRow.model_fields if name in values},
    )
    yarns = wanted_yarns(values)
    return _construction(
        row, [_slot(SlotRow(construction_id=construction_id, owner_id=0, **it)) for it in yarns]
    )


def _slot(row: SlotRow) -> Slot:
    return Slot(
        direction=row.direction,
        position=row.position,
        ne=float(row.ne),
        share_of_threads=share(row.share_of_threads_percent),
        **_crimp(row),
        waste=share(row.waste_percent),
        effect=row.effect,
        core=row.core,
        twist=row.twist,
        spinning=row.spinning,
        fibre_mix=row.fibre_mix,
        pinned_offer=row.pinned_offer,
    )


def _constructions(session: Session) -> tuple[Construction, ...]:
    slots: dict[int, list[Slot]] = defaultdict(list)
    for row in _rows(session, SlotRow):
        slots[row.construction_id].append(_slot(row))
    return tuple(_construction(row, slots[row.id]) for row in _rows(session, ConstructionRow))


def _construction(row: ConstructionRow, slots: list[Slot]) -> Construction:
    shrink, width = share(row.length_shrink_percent), float(row.finished_width_in)
    loom = _loom_figures(row, shrink, width)
    return Construction(
        id=row.id or 0,
        code=row.code,
        name=row.name,
        weave=row.weave,
        twill_hand=row.twill_hand,
        dyeing_route=row.dyeing_route,
        **loom,
        length_shrink=shrink,
        finished_width_in=width,
        cuttable_width_in=float(row.cuttable_width_in),
        net_finish=share(row.net_finish_percent),
        finish_in_parts=row.finish_in_parts,
        warp_retained=share(row.warp_retained_percent),
        scouring_loss=share(row.scouring_loss_percent),
        coating_g_per_m2=float(row.coating_g_per_m2),
        measured_oz=_optional(row.measured_oz),
        slots=_with_crimp_origin(row, loom["loom_ppi"], slots),
        measured_state=row.measured_state,
        target_state=row.target_state,
        greige_width_in=_optional(row.greige_width_in),
        greige_add_on=_optional_share(row.greige_add_on_percent),
        residual_length=_optional_share(row.residual_length_percent),
        residual_width=_optional_share(row.residual_width_percent),
        wash_mass_change=share(row.wash_mass_change_percent),
        calibration=row.calibration,
        tail_in=float(row.tail_in),
        target_oz=_optional(row.target_oz),
        season_metres=_optional(row.season_metres),
        heat_set=row.heat_set,
        garment_metres=_optional(row.garment_metres),
        garment_width_in=_optional(row.garment_width_in),
        entered_state=row.entered_state,
        finished_epi=_optional(row.finished_epi),
        finished_ppi=_optional(row.finished_ppi),
        filling_crimp=None
        if row.filling_crimp_percent is None
        else share(row.filling_crimp_percent),
        notes=row.notes,
        weight_class=row.weight_class,
    )


def _crimp(row: SlotRow) -> dict[str, Any]:
    """Crimp on cloth length and what it rests on; the starting value comes with the cloth."""
    if row.take_up_percent is not None:
        crimp = float(crimp_from_take_up(take_up=share(row.take_up_percent)))
        return {"crimp": crimp, "crimp_from": "take-up"}
    if row.crimp_percent is None and row.direction == "warp":
        return {"crimp": 0.0, "crimp_from": STARTING_VALUE}
    return {"crimp": share(row.crimp_percent), "crimp_from": "crimp"}


def _with_crimp_origin(
    row: ConstructionRow, loom_ppi: float, slots: list[Slot]
) -> tuple[Slot, ...]:
    """The yarns with a starting crimp where nothing is measured; a calibrated one says so."""
    filling_ne = next((each.ne for each in slots if each.direction == "filling"), None)

    def origin(slot: Slot) -> Slot:
        if slot.crimp_from == STARTING_VALUE and filling_ne:
            starting = starting_crimp(weave=row.weave, loom_ppi=loom_ppi, filling_ne=filling_ne)
            return replace(slot, crimp=starting)
        if slot.direction == "warp" and calibrated_on(row.calibration, CRIMP_NOTED, slot.crimp):
            return replace(slot, crimp_from=CALIBRATED)
        return slot

    return tuple(origin(slot) for slot in slots)


def _optional_share(percent: Decimal | None) -> float | None:
    return None if percent is None else share(percent)


def _loom_figures(row: ConstructionRow, shrink: float, width: float) -> dict[str, float]:
    """Loom figures as entered, or derived from the finished state when that was entered."""
    if row.entered_state == "loom":
        return {
            "total_ends": float(row.total_ends or 0),
            "reed_width_in": float(row.reed_width_in or 0),
            "loom_ppi": float(row.loom_ppi or 0),
        }
    return {
        "total_ends": total_ends_from_finished(
            finished_epi=float(row.finished_epi or 0), finished_width_in=width
        ),
        "reed_width_in": reed_width_from_finished(
            finished_width_in=width, filling_crimp=share(row.filling_crimp_percent)
        ),
        "loom_ppi": loom_ppi_from_finished(
            finished_ppi=float(row.finished_ppi or 0), length_shrink=shrink
        ),
    }


def _assumption_sets(
    session: Session, owners: Mapping[int | None, str]
) -> tuple[AssumptionSet, ...]:
    values: dict[int, dict[str, list[tuple[float | None, Input]]]] = defaultdict(
        lambda: defaultdict(list)
    )
    for row in _rows(session, AssumptionRow):
        kind = KINDS[row.key]
        in_percent = kind.unit.startswith("share")
        owner = owners.get(row.owner_id, "")
        entry = Input(
            share(row.value) if in_percent else float(row.value),
            kind.label,
            kind.unit,
            f"{row.source} ({owner})" if owner else row.source,
            row.noted_on,
            f"{row.value} %" if in_percent else "",
            f"/assumptions/{row.id}",
        )
        values[row.set_id][row.key].append((_optional(row.at_ne), entry))
    return tuple(
        AssumptionSet(
            row.id,
            row.name,
            {
                key: tuple(sorted(points, key=lambda point: point[0] or 0.0))
                for key, points in values[row.id].items()
            },
            row.notes,
            row.currency,
        )
        for row in _rows(session, AssumptionSetRow)
    )


def _bases(session: Session, owners: Mapping[int | None, str]) -> tuple[Basis, ...]:
    statement = (
        select(BasisRow, AssumptionSetRow.name)
        .join(AssumptionSetRow, col(AssumptionSetRow.id) == col(BasisRow.assumption_set_id))
        .order_by(col(BasisRow.id))
    )
    regains: dict[int, dict[str, float]] = defaultdict(dict)
    for row in _rows(session, HouseRegainRow):
        regains[row.basis_id][row.fibre_mix] = share(row.regain_percent)
    return tuple(
        Basis(
            id=row.id or 0,
            name=row.name,
            currency=row.currency,
            rates_on=row.rates_on,
            delivery_point=row.delivery_point,
            as_of=row.as_of,
            meeting=row.meeting,
            need_by=row.need_by,
            quantity=row.quantity,
            metres=_optional(row.metres),
            assumption_set=assumption_set,
            house_regain=regains[row.id or 0],
            count_threshold=share(row.count_threshold_percent),
            owner=owners.get(row.owner_id, ""),
            loom_rule=row.loom_rule,
        )
        for row, assumption_set in session.exec(statement)
    )
