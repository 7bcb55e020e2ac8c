"""The change desk: a stored construction and its pair, some figures changed, every alternative."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from server.actions.asked_change import SLOTS, AskedChange
from server.actions.book import current_book
from server.actions.compare import BasisChange, compare_construction, landings_on
from server.actions.memory import Memory, question
from server.actions.nouns import NOUNS, Refused, read_entry
from server.actions.records import one_record
from server.actions.what_if import (
    CHANGED_HERE,
    laid_over,
    used_keys,
    values_of_set,
    what_if,
)
from server.core.assumptions import KINDS, AssumptionSet
from server.core.candidates import Candidate, Direction, direction_of
from server.core.change import Changed, change, offers_lost
from server.core.compare import Comparison
from server.core.construction import DIRECTIONS, Construction, Slot
from server.core.costing import OWN, OWN_YARNS, ChosenYarn, Costing, bought, own_spun, price_held
from server.core.errors import BadValue, CreelbookError, Missing, NotFound
from server.core.gate import POSSIBLE
from server.core.sheet import Explanation, Input
from server.core.what_if import WhatIf
from server.store.book import Book, construction_of
from server.store.session import Engine

_directions: Memory[Direction] = Memory(8)
_stored: Memory[dict[str, Any]] = Memory(64)


@dataclass(frozen=True, eq=False)
class Desk:
    """A change worked out.

    stored: the entry as it stands, in loom state
    directions: candidates after the change
    errors, doubts: name -> sentence; what is in error is left out, what is doubtful is not
    """

    comparison: Comparison
    stored: Mapping[str, Any]
    asked: AskedChange
    errors: Mapping[str, str]
    directions: Mapping[str, Direction]
    changed: Changed
    doubts: Mapping[str, str]

    @property
    def before(self) -> Costing:
        """The construction as it stands."""
        return self.changed.before

    @property
    def after(self) -> Construction:
        """The construction of the plain swap."""
        return self.changed.swap.construction

    def refuse_errors(self) -> None:
        """Where a fault cannot be shown beside its field. Raises BadValue with the first."""
        for name, wrong in self.errors.items():
            raise BadValue(f"{name.replace('_', ' ')}: {wrong}", field=name)

    def costing_of(self, column: str) -> Costing:
        """A column by its key. Raises NotFound, also when it could not be reached."""
        if column == "before":
            return self.before
        for alternative, costing in self.changed.reached:
            if alternative.key == column:
                return costing
        raise NotFound(
            f"This change has no column “{column[:40]}”.",
            field="column",
            value=column,
            remedy="Open a figure from the change desk.",
        )

    def label_of(self, column: str) -> str:
        """What a column is called."""
        labels = {each.key: each.label for each in self.changed.alternatives}
        return labels.get(column, "as it stands")


def _of(comparison: Comparison) -> dict[str, Direction]:
    return {"warp": comparison.warp, "filling": comparison.filling}


def work_out(
    engine: Engine,
    code: str,
    asked: AskedChange,
    basis_change: BasisChange,
    basis_name: str = "",
) -> Desk:
    """The change of a construction on a basis. Faulty parts are named and left out.

    Raises NotFound, and Missing when there is no pair to start from.
    """
    book = current_book(engine)
    comparison = compare_construction(engine, code, basis_change, basis_name)
    stored = stored_values(engine, book, comparison.construction)
    values, errors = changed_values(engine, book, comparison.construction, asked.fields)
    stored_set = book.assumption_set(comparison.basis.assumption_set)
    assumed = _assumed(engine, stored_set, asked.assumptions)
    errors |= assumed.errors
    construction = construction_of(values, comparison.construction.id)
    assumptions = laid_over(stored_set, assumed.changed).in_currency(
        comparison.basis.currency, book.rates, comparison.basis.rates_on
    )
    directions = {
        name: _direction(engine, book, comparison, construction, basis_change, basis_name, name)
        for name in DIRECTIONS
    }
    before = _before(comparison, asked.pair, errors)
    bare = Costing(construction, comparison.basis, assumptions, ())
    swap = _with_yarns(bare, before, directions, asked.yarns, errors)
    as_was = _of(comparison)
    changed = replace(
        change(before, swap, book.rates),
        fallen=offers_lost(as_was, directions),
        joined=offers_lost(directions, as_was),
    )
    return Desk(comparison, stored, asked, errors, directions, changed, assumed.doubts)


def _assumed(engine: Engine, stored: AssumptionSet, typed: Mapping[str, str]) -> WhatIf:
    """Assumptions changed: those of the fabric, and of every route yarn may be spun by here."""
    if not typed:
        return WhatIf({}, (), {}, {})
    fabric = tuple(key for key, kind in KINDS.items() if kind.group == "fabric" and stored.has(key))
    used = {"fabric": fabric, **used_keys(stored)}
    return what_if(values_of_set(engine, stored.name), used, typed)


def _with_yarns(
    bare: Costing,
    before: Costing,
    directions: Mapping[str, Direction],
    wanted: Mapping[str, str],
    errors: dict[str, str],
) -> Costing:
    """The changed construction with the yarns asked for, or those that follow from before."""
    stood = {yarn.slot.name: yarn for yarn in before.yarns}
    return replace(
        bare,
        yarns=tuple(
            _yarn(
                directions[slot.direction],
                slot,
                wanted.get(f"{slot.name}_yarn", ""),
                stood.get(slot.name),
                bare,
                errors,
            )
            for slot in bare.construction.slots
        ),
    )


def stored_values(engine: Engine, book: Book, construction: Construction) -> dict[str, Any]:
    """The entry of a construction with its loom state filled in; derived figures when finished."""

    def read() -> dict[str, Any]:
        values = dict(one_record(engine, NOUNS["constructions"], construction.code).values)
        if construction.entered_state == "finished":
            loom = ("total_ends", "reed_width_in", "loom_ppi")
            values |= {name: Decimal(repr(float(getattr(construction, name)))) for name in loom}
            values |= dict.fromkeys(("finished_epi", "finished_ppi", "filling_crimp_percent"))
            values["entered_state"] = "loom"
        return values

    return _stored.recall(question(engine, book, {}, construction.code), read)


def changed_values(
    engine: Engine, book: Book, construction: Construction, fields: Mapping[str, str]
) -> tuple[dict[str, Any], dict[str, str]]:
    """The entry with the changes that can stand; a change that cannot is named and left out."""
    stored = stored_values(engine, book, construction)
    errors: dict[str, str] = {}
    fields = {name: text for name, text in fields.items() if _has_place(stored, name)}
    while True:
        kept = {name: text for name, text in fields.items() if name not in errors}
        if not kept:
            return dict(stored), errors
        try:
            return read_entry(NOUNS["constructions"], _follow(stored, kept)), errors
        except Refused as refused:
            errors |= _blamed(stored, kept, refused)


def _blamed(stored: Mapping[str, Any], kept: Mapping[str, str], refused: Refused) -> dict[str, str]:
    """Which changes a refusal is about: those it names, those refused alone, or all together."""
    found = {each.field: each.message for each in refused.errors}
    named = {name: found[name] for name in kept if name in found}
    if named or len(kept) == 1:
        return named or {name: "; ".join(found.values()) for name in kept}
    alone = {}
    for name, text in kept.items():
        try:
            read_entry(NOUNS["constructions"], _follow(stored, {name: text}))
        except Refused as wrong:
            alone[name] = "; ".join(each.message for each in wrong.errors)
    return alone or {name: "; ".join(found.values()) for name in kept}


def _has_place(stored: Mapping[str, Any], name: str) -> bool:
    slot = name.partition("_")[0]
    return slot not in SLOTS or stored.get(f"{slot}_ne") is not None


def _follow(stored: Mapping[str, Any], fields: Mapping[str, str]) -> dict[str, Any]:
    """The entry with the changes; the selvedges stay as wide when only the cloth changes."""
    values = {**stored, **fields}
    for yarn in ("warp", "warp2"):
        if f"{yarn}_crimp_percent" in fields:  # it stands in place of a take-up
            values[f"{yarn}_take_up_percent"] = None
    if "finished_width_in" in fields and "cuttable_width_in" not in fields:
        try:
            apart = Decimal(fields["finished_width_in"]) - stored["finished_width_in"]
            values["cuttable_width_in"] = stored["cuttable_width_in"] + apart
        except ArithmeticError:
            pass  # not a number: the entry says so
    return values


def _direction(
    engine: Engine,
    book: Book,
    comparison: Comparison,
    construction: Construction,
    basis_change: BasisChange,
    basis_name: str,
    name: str,
) -> Direction:
    """Candidates of a direction after the change; those of before where they cannot differ."""
    before = _of(comparison)[name]
    slots = construction.slots_of(name)
    priced_by_quantity = comparison.basis.metres_of(construction) is not None
    if slots == before.slots and not priced_by_quantity:
        return before
    rests_on = repr(construction if priced_by_quantity else (slots, construction.dyeing_route))

    def find() -> Direction:
        return direction_of(
            name,
            construction,
            comparison.basis,
            book.rates,
            book.current_offers,
            book.limits,
            landings,
        )

    asked = question(engine, book, basis_change.changes, basis_name)
    landings = landings_on(engine, book, comparison.basis, basis_change, basis_name)
    return _directions.recall((*asked, construction.code, name, rests_on), find)


def _before(comparison: Comparison, pair: str, errors: dict[str, str]) -> Costing:
    construction = comparison.construction
    plain = Costing(construction, comparison.basis, comparison.assumptions, ())
    names = dict(zip(DIRECTIONS, pair.split("/"), strict=False)) if pair else {}
    if not pair and comparison.leader:
        leader = comparison.leader
        names = {"warp": leader.warp.offer.code, "filling": leader.filling.offer.code}
    yarns = []
    for slot in construction.slots:
        direction = _of(comparison)[slot.direction]
        wanted = names.get(slot.name, "")
        found: dict[str, str] = {}
        yarns.append(_yarn(direction, slot, wanted, None, plain, found))
        if found:
            errors["pair"] = "; ".join(found.values())
    return replace(plain, yarns=tuple(yarns))


def _yarn(
    direction: Direction,
    slot: Slot,
    wanted: str,
    was: ChosenYarn | None,
    plain: Costing,
    errors: dict[str, str],
) -> ChosenYarn:
    """The yarn of a slot: as asked, else the one of before while it may stand, else the best."""
    place = f"{slot.name}_yarn"
    if wanted:
        try:
            return _asked_yarn(direction, slot, wanted, plain)
        except CreelbookError as wrong:
            errors[place] = str(wrong)
    if was is not None and was.name.startswith(OWN):
        return own_spun(slot, was.spinning, plain.assumptions)
    if slot.position > 1:
        return bought(direction.companions[slot.position - 2], slot)
    found = {each.offer.code: each for each in direction.candidates}
    same = found.get(was.name) if was else None
    if same is not None and was is not None and _stands(same, was):
        return bought(same, slot)
    possible = [each for each in direction.candidates if each.standing.state == POSSIBLE]
    if possible:
        return bought(min(possible, key=lambda each: each.price), slot)
    if was is not None:
        return price_held(was, slot)
    if direction.candidates:
        return bought(min(direction.candidates, key=lambda each: each.price), slot)
    raise Missing(
        f"No offer fits the {slot.name} of this construction, Ne {slot.ne:g}.",
        field=place,
        value=slot.ne,
        unit="Ne",
        remedy="Enter an offer near this count, or choose own spinning.",
    )


def _stands(same: Candidate, was: ChosenYarn) -> bool:
    """Whether the offer of before may stay: possible, or no worse than it was."""
    return same.standing.state in (POSSIBLE, was.state)


def _asked_yarn(direction: Direction, slot: Slot, wanted: str, plain: Costing) -> ChosenYarn:
    if wanted in OWN_YARNS:
        return own_spun(slot, wanted.removeprefix(OWN), plain.assumptions)
    for candidate in (*direction.candidates, *direction.companions):
        if candidate.offer.code == wanted and candidate.slot.name == slot.name:
            return bought(candidate, slot)
    raise NotFound(
        f"{wanted[:40]} is no offer near Ne {slot.ne:g} for the {slot.name}.",
        field=f"{slot.name}_yarn",
        value=wanted,
        remedy=f"Choose one of the list, or {', '.join(OWN_YARNS)}.",
    )


def explain_column(desk: Desk, column: str, line: str) -> Explanation:
    """One figure of a column, opened; an input that is not what it was says so. Raises NotFound."""
    costing = desk.costing_of(column)
    if line not in costing.sheet.by_key:
        raise NotFound(
            f"There is no figure “{line[:40]}” on the change desk.",
            field="line",
            value=line,
            remedy="Open a figure from the change desk.",
        )
    return costing.sheet.explain(line, _told_apart(costing, desk.before))


def _told_apart(costing: Costing, before: Costing) -> dict[str, Input]:
    """The inputs of a column; one that differs from before by the change says what it was."""
    told = {}
    for name, entry in costing.inputs.items():
        was = before.inputs.get(name)
        if was is not None and was.source == entry.source and was.value != entry.value:
            entry = replace(entry, source=CHANGED_HERE, as_entered=f"before: {was.value:g}")
        told[name] = entry
    return told
