"""What a buyer gets of a pack: built anew from a white list, so that the rest is never sent.

Suppliers become letters and offers letters with a number. A figure may be shown while what it rests
on is not: it then is a fixed figure, an input without a line behind it.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field, replace

from server.core.errors import BadValue
from server.core.pack import (
    BUYER,
    COST,
    PRICE,
    Cloth,
    FrozenBasis,
    FrozenCell,
    FrozenInput,
    FrozenLine,
    FrozenPair,
    FrozenSheet,
    FrozenYarn,
    Pack,
)


@dataclass(frozen=True, slots=True)
class Field:
    """Something a person may show a buyer.

    key: short name in forms and addresses
    keys: lines and inputs it shows; one with a leading dot is of every yarn
    """

    key: str
    label: str
    says: str
    keys: tuple[str, ...] = ()


FIELDS = (
    Field("yarns", "Yarns", "Count, spinning and twist of each yarn; sellers as letters."),
    Field("countries", "Countries", "Where each yarn comes from."),
    Field(
        "cloth",
        "Construction",
        "Counts, ends, picks, widths, shrink, crimp, cover and firmness.",
        (
            ".tex", ".ends", ".picks", ".share_of_threads", ".crimp", ".costing_ne",
            "total_ends", "loom_ppi", "reed_width_in", "tail_in", "length_shrink",
            "finished_width_in", "cuttable_width_in", "cuttable_loss", "width_contraction",
            "finished_epi", "finished_ppi", "reed_epi", "greige_width_in", "greige_epi",
            "greige_loss", "finishing_loss", "residual_length", "residual_width", "washed_width",
            "washed_epi", "washed_ppi", "warp_cover", "filling_cover", "warp_cover_loom",
            "filling_cover_loom", "warp_firmness", "filling_firmness", "repeat_ends",
            "repeat_intersections",
        ),
    ),
    Field(
        "weight",
        "Weight",
        "Grams and ounces in every state, with the yarn in a metre.",
        (
            ".mass", "warp_mass", "filling_mass", "mass_per_area", "ounces", "net_finish",
            "warp_retained", "scouring_loss", "coating_g_per_m2", "greige_add_on",
            "greige_mass_per_area", "greige_ounces", "wash_mass_change", "washed_mass_per_area",
            "washed_ounces",
        ),
    ),
    Field(
        "waste",
        "Waste and yarn to buy",
        "Wastes and the yarn bought for a metre and for the season.",
        (
            ".waste", ".buy", "warp_buy", "filling_buy", "warp_season_tonnes",
            "filling_season_tonnes",
        ),
    ),
    Field("season", "Season and garment", "Metres of the season, cloth in one garment.", (
        "season_metres", "garment_metres", "garment_width_in", "garment_length",
    )),
    Field("yarn_price", "Yarn prices", "Price per kg at the mill, house weight basis.", (
        ".same_basis_price",
    )),
    Field(
        "way",
        "The way to the mill",
        "Goods, freight, insurance, duty, clearance, inland, financing per kg, as fixed figures.",
        (
            ".goods_price", ".origin_haulage", ".freight", ".insurance", ".duty", ".clearance",
            ".inland", ".financing", ".landed_price",
        ),
    ),
    Field("yarn_cost", "Yarn cost", "Yarn in a metre, a yard, a kg and a garment, in money.", (
        ".cost", "warp_cost", "filling_cost", "yarn_cost", "yarn_per_yard", "yarn_per_area",
        "yarn_per_kg", "garment_yarn",
    )),
    Field(
        "stages",
        "Cost of the stages",
        "Warp preparation, weaving, finishing, inspection, overhead and seconds per metre.",
        (
            "warp_preparation", "weaving", "finishing", "inspection", "overhead",
            "cost_before_seconds", "seconds",
        ),
    ),
    Field(
        "rates",
        "Rates of the stages",
        "Loom speed, efficiency and hour, rates of dyeing, sizing, finishing, overhead, seconds.",
        (
            "ball_warping", "dyeing", "re_beaming", "sizing", "warp_preparation_rate",
            "not_in_route", "loom_rpm", "loom_efficiency", "loom_output", "loom_hour",
            "finishing_rate", "heat_setting", "inspection_rate", "overhead_rate",
            "seconds_share", "seconds_price_ratio",
        ),
    ),
    Field("cost", "Cost of the cloth", "Cost of a metre, a yard, a cuttable m², a kg; season.", (
        "fabric_cost", "fabric_per_yard", "fabric_per_area", "fabric_per_kg", "season_cost",
        "garment_fabric",
    )),
    Field("price", "Price of the cloth", "Price at the target margin, without any cost.", (
        "price_at_margin", "price_per_yard", "price_per_area", "price_per_kg",
    )),
)  # fmt: skip
"""All that can be shown, in the order of the form. What is in none of them never leaves."""

BY_KEY = {each.key: each for each in FIELDS}
COSTS = ("yarn_price", "way", "yarn_cost", "stages", "rates", "cost")
PRICE_AND_WEIGHT = ("yarns", "cloth", "weight", "price")
OPEN_BOOK = (
    "yarns", "cloth", "weight", "waste", "season", "yarn_price", "yarn_cost", "stages", "rates",
    "cost",
)  # fmt: skip


def sound_choice(shown: Collection[str]) -> tuple[str, ...]:
    """The chosen fields in order.

    Raises BadValue for an unknown one, and for price together with any cost: two yarns with their
    costs and their prices are enough to work out the margin.
    """
    for key in shown:
        if key not in BY_KEY:
            raise BadValue(
                f"“{key[:40]}” is nothing that can be shown to a buyer.",
                field="shown",
                value=key,
                remedy=f"Choose among: {', '.join(BY_KEY)}.",
            )
    told = [BY_KEY[key].label for key in COSTS if key in shown]
    if "price" in shown and told:
        raise BadValue(
            f"The price beside a cost ({', '.join(told)}) tells the buyer the margin.",
            field="shown",
            value="price",
            remedy="Show the price without any cost, or the costs without the price.",
        )
    return tuple(key for key in BY_KEY if key in shown)


def for_buyer(pack: Pack, shown: Collection[str], *, words: str = "") -> Pack:
    """The pack a buyer gets.

    shown: keys of FIELDS; words: what stands above the figures, written for the buyer
    Only possible pairs are in it; of a variant all columns. Raises BadValue for an unsound choice.
    """
    return _Builder(pack, frozenset(sound_choice(shown))).build(words)


def also_told(pack: Pack, shown: Collection[str]) -> tuple[str, ...]:
    """Labels of hidden figures that the shown ones let a buyer work out, one formula at a time.

    Pairs stand in the order of their cost, also where no cost is shown.
    """
    chosen = frozenset(shown)
    told: dict[str, None] = {}
    if not chosen & {"cost", "price"} and any(len(cloth.pairs) > 1 for cloth in pack.cloths):
        told["which pair costs less (their order)"] = None
    for cloth in pack.cloths:
        for pair in cloth.pairs[:1]:
            lines, inputs = pack.lines_of(pair), pack.inputs_of(pair)
            labels = {line.key: line.label for line in lines}
            labels |= {name: entry.label for name, entry in inputs.items()}
            known = {key for key in labels if _is_shown(key, chosen)}
            for key in _worked_out(lines, known):
                told[_plain_label(key, labels[key])] = None
    return tuple(told)


def _worked_out(lines: tuple[FrozenLine, ...], shown: set[str]) -> Iterator[str]:
    known, more = set(shown), True
    while more:
        more = False
        for line in lines:
            unknown = {line.key, *(source for _, source in line.feeds)} - known
            if len(unknown) == 1:
                known |= unknown
                more = True
                yield unknown.pop()


def _is_shown(key: str, shown: frozenset[str]) -> bool:
    slot, dot, last = key.partition(".")
    of_a_yarn = dot and slot.rstrip("0123456789") in ("warp", "filling")
    name = f".{last}" if of_a_yarn else key
    return any(name in BY_KEY[each].keys for each in shown)


def _plain_label(key: str, label: str) -> str:
    """A label that names no offer, no margin, and not whether a yarn is spun here."""
    slot, _, last = key.partition(".")
    if last == "costing_ne":
        return f"Count of the {slot}"
    if last == "same_basis_price":
        return "Same-basis price"
    return label.replace(" at the target margin", "")


def plain_reference(pack: Pack) -> str:
    """A reference without words: in the house’s own stands whom the pack was first made for."""
    last = pack.reference.rpartition("-")[2]
    known = re.fullmatch(r"[0-9a-f]{4}", last)
    return f"{pack.meeting}-{last}" if known else pack.meeting.isoformat()


@dataclass
class _Builder:
    """Builds the buyer's pack; holds the letters given and the things kept once."""

    pack: Pack
    shown: frozenset[str]
    sellers: dict[str, str] = field(default_factory=dict)
    codes: dict[str, str] = field(default_factory=dict)
    lines: dict[FrozenLine, int] = field(default_factory=dict)
    sheets: dict[FrozenSheet, int] = field(default_factory=dict)
    inputs: dict[FrozenInput, int] = field(default_factory=dict)

    def build(self, words: str) -> Pack:
        pack = self.pack
        cloths = tuple(self._cloth(cloth, at) for at, cloth in enumerate(pack.cloths, 1))
        used = {line.formula for line in self.lines}
        return Pack(
            view=BUYER,
            engine=pack.engine,
            reference=plain_reference(pack),
            title=pack.title,
            buyer=pack.buyer,
            meeting=pack.meeting,
            notes=words,
            made_at=pack.made_at,
            headline=PRICE if "price" in self.shown else COST if "cost" in self.shown else "",
            basis=self._basis(),
            cloths=cloths,
            formulas={name: each for name, each in pack.formulas.items() if name in used},
            lines=tuple(self.lines),
            sheets=tuple(self.sheets),
            inputs=tuple(self.inputs),
        )

    def _basis(self) -> FrozenBasis:
        basis = self.pack.basis
        return FrozenBasis(
            name="",
            currency=basis.currency,
            rates_on=basis.rates_on,
            delivery_point=basis.delivery_point if "way" in self.shown else "",
            as_of=basis.as_of,
            meeting=basis.meeting,
            need_by=basis.need_by,
            quantity=basis.quantity if "season" in self.shown else "",
            metres=basis.metres if "season" in self.shown else None,
            assumption_set="",
            loom_rule="",
        )

    def _cloth(self, cloth: Cloth, at: int) -> Cloth:
        kept = [each for each in cloth.pairs if cloth.variant or each.state == "possible"]
        pairs = tuple(self._pair(pair, cloth) for pair in kept)
        new_keys = {old.key: new.key for old, new in zip(kept, pairs, strict=True)}
        return Cloth(
            code=cloth.code,
            name=cloth.name,
            variant=f"variant {at}" if cloth.variant else "",
            change="",
            facts=cloth.facts if "cloth" in self.shown else (),
            pairs=pairs,
            cells=_told_cells(
                [[self._cell(cell, pairs, new_keys) for cell in row] for row in cloth.cells]
            ),
            ladder=tuple(new_keys[key] for key in cloth.ladder if key in new_keys),
            excluded=(),
            ties=(),
            pair_count=len(pairs),
            possible_count=len(pairs),
        )

    def _cell(
        self, cell: FrozenCell, pairs: tuple[FrozenPair, ...], new_keys: dict[str, str]
    ) -> FrozenCell:
        count = sum(pair.combination == f"{cell.warp}/{cell.filling}" for pair in pairs)
        return FrozenCell(cell.warp, cell.filling, new_keys.get(cell.best, ""), count, count, "")

    def _pair(self, pair: FrozenPair, cloth: Cloth) -> FrozenPair:
        yarns = tuple(self._yarn(yarn) for yarn in pair.yarns)
        sheet, inputs, figures = self._sheet(pair)
        key = pair.key if cloth.variant else "/".join(self._code(y) for y in pair.yarns[:2])
        return FrozenPair(
            key=key,
            label=pair.label if cloth.variant else key,
            yarns=yarns,
            combination=pair.combination,
            state=pair.state if not cloth.variant else "",
            sheet=sheet,
            inputs=inputs,
            figures=figures,
        )

    def _yarn(self, yarn: FrozenYarn) -> FrozenYarn:
        told = "yarns" in self.shown
        return FrozenYarn(
            slot=yarn.slot,
            direction=yarn.direction,
            code=self._code(yarn),
            supplier=self._seller(yarn),
            country=yarn.country if "countries" in self.shown else "",
            count=f"Ne {yarn.ne:.4g}" if told else "",
            ne=yarn.ne if told else 0.0,
            spinning=yarn.spinning,
            process=yarn.process if told else yarn.spinning,
            twist=yarn.twist if told else "",
            fibre_mix=yarn.fibre_mix if told else "",
            state="",
            reasons=(),
            accepted=(),
            valid_until=None,
        )

    def _seller(self, yarn: FrozenYarn) -> str:
        """The letter of a seller; yarn without one (own spinning, a held price) has its own."""
        known = yarn.supplier or f"\0{yarn.code}"
        return self.sellers.setdefault(known, _letters(len(self.sellers)))

    def _code(self, yarn: FrozenYarn) -> str:
        seller = self._seller(yarn)
        if yarn.code not in self.codes:
            theirs = sum(code.rstrip("0123456789") == seller for code in self.codes.values())
            self.codes[yarn.code] = f"{seller}{theirs + 1}"
        return self.codes[yarn.code]

    def _sheet(self, pair: FrozenPair) -> tuple[int, tuple[int, ...], tuple[float, ...]]:
        """The shown part of a pair's sheet: lines that stand on shown figures, the rest fixed."""
        lines, figures = [], []
        inputs: dict[str, FrozenInput] = {}
        given = self.pack.inputs_of(pair)
        for name, entry in given.items():
            if _is_shown(name, self.shown):
                label = _plain_label(name, entry.label)
                inputs[name] = FrozenInput(entry.value, label, entry.unit, "", None, "", "")
        told = set(inputs)
        for line, value in zip(self.pack.lines_of(pair), pair.figures, strict=True):
            if not _is_shown(line.key, self.shown):
                continue
            if all(source in told for _, source in line.feeds):
                plain = replace(line, label=_plain_label(line.key, line.label))
                lines.append(self.lines.setdefault(plain, len(self.lines)))
                figures.append(value)
            else:
                label = _plain_label(line.key, line.label)
                inputs[line.key] = FrozenInput(value, label, line.unit, "", None, "", "")
            told.add(line.key)
        sheet = FrozenSheet(tuple(lines), tuple(inputs))
        return (
            self.sheets.setdefault(sheet, len(self.sheets)),
            tuple(self.inputs.setdefault(each, len(self.inputs)) for each in inputs.values()),
            tuple(figures),
        )


def _told_cells(cells: list[list[FrozenCell]]) -> tuple[tuple[FrozenCell, ...], ...]:
    """The matrix without spinnings of which nothing is possible: that they were quoted is ours."""
    across = [at for at, each in enumerate(zip(*cells, strict=True)) if any(c.best for c in each)]
    return tuple(tuple(row[at] for at in across) for row in cells if any(cell.best for cell in row))


def _letters(place: int) -> str:
    """A, B, … Z, AA, AB, …"""
    text = ""
    place += 1
    while place:
        place, rest = divmod(place - 1, 26)
        text = chr(ord("A") + rest) + text
    return text
