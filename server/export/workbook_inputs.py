"""The inputs of a workbook: which figures are one cell for all, and where each stands.

Two inputs are one cell only when they are the same thing of the same owner. What the world gives (a
rate, a lane, a charge, an assumption) has no owner; what a seller said is of the offer, in every
place it takes; what a construction states is of that cloth alone, so a variant does not follow it.
"""

from __future__ import annotations

import re
from collections.abc import Hashable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import groupby

from server.core.pack import Cloth, FrozenInput, FrozenPair, FrozenYarn, Pack
from server.export.workbook_names import Names

(RATES, LANES, CHARGES, BASIS, OFFER, CLOTH, GIVEN, ASSUMED, SPINNING, FIXED) = range(10)
HEADINGS = {
    RATES: "Exchange rates",
    LANES: "Freight and inland lanes",
    CHARGES: "Duty, insurance, charges and money",
    BASIS: "Basis",
    OFFER: "Offer {}",
    CLOTH: "Construction {}",
    GIVEN: "Figures given as fixed, {}",
    ASSUMED: "Process assumptions of the cloth",
    SPINNING: "Assumptions of own spinning",
    FIXED: "Fixed figures: definitions, and zeros of what does not apply",
}
_CHARGES = frozenset((
    "insurance_rate", "insured_share", "clearance_rate", "exw_origin_charge", "fca_origin_charge",
    "cost_of_money", "year_days", "lc_sight_days", "documents_days",
))  # fmt: skip
_ASSUMED = frozenset((
    "ball_warping", "dyeing", "re_beaming", "sizing", "loom_rpm", "loom_efficiency", "loom_hour",
    "finishing_rate", "heat_setting", "inspection_rate", "overhead_rate", "seconds_share",
    "seconds_price_ratio", "margin_on_price", "other_stops", "warp_repair", "filling_repair",
    "other_repair", "looms_per_weaver", "planned_stops", "assumed_efficiency",
))  # fmt: skip
_OF_CLOTH = frozenset((
    "total_ends", "reed_width_in", "loom_ppi", "tail_in", "length_shrink", "finished_width_in",
    "cuttable_width_in", "net_finish", "warp_retained", "scouring_loss", "coating_g_per_m2",
    "repeat_ends", "repeat_intersections", "not_in_route", "measured_oz", "season_metres",
    "garment_metres", "garment_width_in", "greige_width_in", "greige_add_on", "residual_length",
    "residual_width", "wash_mass_change",
))  # fmt: skip
_OF_CLOTH_AND_SLOT = frozenset(("crimp", "waste", "share_of_threads"))
_OF_CLOTH_AND_OFFER = frozenset(
    ("costing_ne", "tex", "ends", "picks", "mass", "buy", "cost", "stops_here")
)
_DEFINITIONS = frozenset(("unit_mass_kg", "in_the_price", "not_in_route", "no_stage"))
_ROUTES = ("ring.", "OE.", "air-jet.")
HELD = "’s price"  # how a price held for another count is written behind its offer


@dataclass
class InputRow:
    """One cell of the sheet of inputs.

    of: the offer or the pair it is of, where a cloth has several of its kind
    held: cloth -> labels of the pairs that rest on it
    """

    name: str
    entry: FrozenInput
    group: int
    owner: str
    of: str
    held: dict[int, dict[str, None]] = field(default_factory=dict)

    @property
    def heading(self) -> str:
        """The heading it stands under."""
        return HEADINGS[self.group].format(self.owner)

    @property
    def label(self) -> str:
        """What it is, and of what."""
        return f"{self.entry.label}: {self.of}" if self.of else self.entry.label

    @property
    def may_change(self) -> bool:
        """Whether it is a figure somebody may want to change."""
        return self.group != FIXED


@dataclass(frozen=True, slots=True)
class _Place:
    """Where an input belongs. key: equal for what is one cell; parts: of its defined name"""

    key: Hashable
    group: int
    owner: str
    parts: tuple[str, ...]
    of: str = ""


@dataclass(frozen=True, slots=True)
class _Spot:
    """A pair in a cloth. prefix: of names; alike: inputs that are the same in all its pairs"""

    at: int
    cloth: Cloth
    prefix: str
    alike: frozenset[str]
    pair: FrozenPair
    yarns: Mapping[str, FrozenYarn]


class Inputs:
    """Every input of a pack in its cell."""

    def __init__(self, pack: Pack) -> None:
        self._pack = pack
        self._names = Names()
        self._rows: dict[Hashable, InputRow] = {}
        self._of_pairs: list[list[tuple[InputRow, ...]]] = []
        prefixes = Names()
        for at, cloth in enumerate(pack.cloths):
            prefix, alike = prefixes.name(cloth.code, cloth.variant), _alike(pack, cloth)
            spots = (
                _Spot(at, cloth, prefix, alike, pair, {yarn.slot: yarn for yarn in pair.yarns})
                for pair in cloth.pairs
            )
            self._of_pairs.append([self._rows_of(spot) for spot in spots])

    @cached_property
    def rows(self) -> tuple[InputRow, ...]:
        """All rows in the order of the sheet: rates by name, offers by code, the rest as met."""
        met = {(row.group, row.owner): at for at, row in reversed([*enumerate(self._met)])}
        return tuple(
            sorted(
                self._met,
                key=lambda row: (
                    row.group,
                    _natural(row.name if row.group < OFFER else row.owner)
                    if row.group <= OFFER
                    else (),
                    met[row.group, row.owner],
                    row.entry.unit == "Ne",
                ),
            )
        )

    @property
    def _met(self) -> list[InputRow]:
        return list(self._rows.values())

    def grouped(self) -> Iterator[tuple[str, tuple[InputRow, ...]]]:
        """Headings with their rows."""
        for heading, rows in groupby(self.rows, key=lambda row: row.heading):
            yield heading, tuple(rows)

    def of(self, cloth: int, pair: int) -> dict[str, InputRow]:
        """Input name of a pair's sheet -> its row. cloth, pair: places"""
        names = self._pack.sheets[self._pack.cloths[cloth].pairs[pair].sheet].inputs
        return dict(zip(names, self._of_pairs[cloth][pair], strict=True))

    def _rows_of(self, spot: _Spot) -> tuple[InputRow, ...]:
        found = []
        for name, entry in self._pack.inputs_of(spot.pair).items():
            place = _place(spot, name, entry, self._pack.basis.currency)
            row = self._rows.get(place.key)
            if row is None:
                named = self._names.name(*place.parts)
                row = self._rows[place.key] = InputRow(
                    named, entry, place.group, place.owner, place.of
                )
            row.held.setdefault(spot.at, {})[spot.pair.label] = None
            found.append(row)
        return tuple(found)


def _alike(pack: Pack, cloth: Cloth) -> frozenset[str]:
    """Names of the inputs that are the same in every pair of a cloth."""
    met: dict[str, set[int]] = {}
    for pair in cloth.pairs:
        for name, place in zip(pack.sheets[pair.sheet].inputs, pair.inputs, strict=True):
            met.setdefault(name, set()).add(place)
    return frozenset(name for name, places in met.items() if len(places) == 1)


def _place(spot: _Spot, name: str, entry: FrozenInput, currency: str) -> _Place:
    """Where an input of a pair belongs. currency: of the pack"""
    slot, _, last = name.partition(".")
    yarn = spot.yarns.get(slot)
    kind = last if yarn else name
    if _is_stated(kind, entry, yarn):
        whose = () if name in spot.alike else (spot.pair.key,)
        of = spot.pair.label if whose else ""
        return _of_cloth(spot, name, kind, (spot.at, name, entry), whose, of)
    if yarn and kind in _OF_CLOTH_AND_OFFER and not entry.source.startswith("offer "):
        return _of_cloth(
            spot, name, kind, (spot.at, name, entry, yarn.code), (yarn.code,), yarn.code
        )
    group = _group(kind, entry, yarn, currency)
    if group is None:  # a fixed figure: of the cloth where no pair differs, else of each pair
        whose = () if name in spot.alike else (spot.pair.key,)
        key = (GIVEN, spot.at, name, entry, whose)
        of = spot.pair.label if whose else ""
        return _Place(key, GIVEN, spot.cloth.title, (spot.prefix, name, *whose), of)
    if yarn and group == OFFER:
        code = yarn.code.removesuffix(HELD)
        return _Place((OFFER, code, kind, entry), OFFER, code, (code, kind))
    parts = _world_parts(kind, group, yarn, entry.label)
    # a stored rate is one cell, whatever was noted of why it was chosen for one yarn
    told = (entry.value, entry.label, entry.where) if entry.where else entry
    return _Place((group, parts, told), group, "", parts)


def _is_stated(kind: str, entry: FrozenInput, yarn: FrozenYarn | None) -> bool:
    """Whether a construction states it."""
    if entry.where:
        return entry.where.startswith("/constructions/")
    return kind in (_OF_CLOTH_AND_SLOT if yarn else _OF_CLOTH)


def _of_cloth(
    spot: _Spot, name: str, kind: str, key: tuple[Hashable, ...], whose: tuple[str, ...], of: str
) -> _Place:
    """A place under a cloth. whose, of: the pair or the offer it is of, when not of all"""
    if kind in _DEFINITIONS:
        return _Place((FIXED, *key), FIXED, "", (spot.prefix, name, *whose))
    return _Place((CLOTH, *key), CLOTH, spot.cloth.title, (spot.prefix, name, *whose), of)


def _group(kind: str, entry: FrozenInput, yarn: FrozenYarn | None, currency: str) -> int | None:
    """The group of what no construction states; None for a figure whose lines are not shown."""
    if kind.rpartition(".")[2] in _DEFINITIONS or kind == f"exchange_rate.{currency}":
        return FIXED
    if yarn:
        if kind == "house_regain":
            return BASIS
        if kind.startswith("own."):
            return SPINNING
        if entry.where.startswith("/rates"):
            return CHARGES
        return ASSUMED if entry.where.startswith("/assumptions") else OFFER
    if kind.startswith("exchange_rate."):
        return RATES
    if kind.startswith("lane."):
        return LANES
    if kind.startswith(_ROUTES):
        return SPINNING
    if kind in _CHARGES or kind.startswith(("duty_rate.", "clearance_rate.")):
        return CHARGES
    return ASSUMED if kind in _ASSUMED else None


def _world_parts(kind: str, group: int, yarn: FrozenYarn | None, label: str) -> tuple[str, ...]:
    if yarn and group == CHARGES:
        return (label,)
    if group == BASIS:
        return (kind, label.partition(", ")[2])
    if yarn and kind == "stops":
        return ("fabric", f"{yarn.direction}_stops", yarn.spinning)
    if yarn and kind.startswith("own."):
        return (yarn.spinning, kind.removeprefix("own."))
    return ("fabric", kind) if group == ASSUMED else (kind,)


def _natural(text: str) -> tuple[tuple[bool, int, str], ...]:
    """A key that puts A2 before A10."""
    pieces = re.split(r"(\d+)", text)
    return tuple((each.isdigit(), int(each) if each.isdigit() else 0, each) for each in pieces)
