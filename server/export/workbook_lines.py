"""The rows of one cloth in a workbook: every figure of every pair, in order and under headings.

Pairs of a cloth need not have the same lines (a delivery term has its own legs); the rows hold the
lines of all of them, and a pair that lacks a line has an empty cell.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from server.core.pack import Cloth, FrozenLine, FrozenPair, Pack
from server.export.workbook_inputs import InputRow, Inputs

WAY, OWN, YARN, WEIGHT, THREADS, STOPS, COST, EACH, SEASON, OTHER = range(10)
_TITLES = {
    YARN: "Yarn in the cloth",
    WEIGHT: "Weight",
    THREADS: "Threads, widths and cover",
    STOPS: "Loom efficiency",
    COST: "A finished metre",
    EACH: "A yard, a cuttable m², a kilogram",
    SEASON: "Season and garment",
    OTHER: "Other figures",
}
_OF_A_YARN = {
    "costing_ne": YARN, "tex": YARN, "ends": YARN, "picks": YARN, "mass": YARN, "buy": YARN,
    "stops": STOPS, "stops_here": STOPS, "cost": COST,
}  # fmt: skip
_LOOM = frozenset((
    "stops", "repair_work", "mean_repair", "stops_per_hour", "servicing_factor", "weaver_load",
    "running_share", "interference", "loom_efficiency",
))  # fmt: skip
_WEIGHTS = frozenset((
    "mass_per_area", "ounces", "greige_mass_per_area", "greige_ounces", "washed_mass_per_area",
    "washed_ounces", "measured_mass_per_area", "weight_deviation",
))  # fmt: skip
_THREADS = frozenset((
    "finished_epi", "finished_ppi", "reed_epi", "width_contraction", "warp_cover",
    "filling_cover", "warp_cover_loom", "filling_cover_loom", "warp_firmness", "filling_firmness",
    "cuttable_loss", "greige_epi", "greige_loss", "finishing_loss", "washed_width", "washed_epi",
    "washed_ppi",
))  # fmt: skip
_STACK = (
    "yarn_cost", "warp_preparation_rate", "warp_preparation", "loom_output", "weaving",
    "finishing", "inspection", "overhead", "cost_before_seconds", "seconds", "fabric_cost",
    "price_at_margin", "assumed_output", "assumed_weaving", "cost_against_assumed",
)  # fmt: skip
_PLACE = {key: place for place, key in enumerate(_STACK, 1)}
_SEASON = frozenset(("season_cost", "garment_length", "garment_yarn", "garment_fabric"))
_ALL_YARNS = re.compile(r"(?:warp|filling)_(mass|buy|cost|stops|season_tonnes)(?:_\d+)?")
_ALL_YARNS_UNDER = {
    "mass": YARN, "buy": YARN, "cost": COST, "stops": STOPS, "season_tonnes": YARN,
}  # fmt: skip
_EACH = re.compile(r"(?:yarn|fabric|price)_per_(?:yard|area|kg)")
_WAY = frozenset((
    "quoted_price", "exchange_rate", "payment_day", "price_without_tax", "quoted_price_per_kg",
    "goods_price", "origin_haulage", "freight", "cost_and_freight", "insurance", "cif_value",
    "duty", "clearance", "inland", "days_financed", "financing", "landed_price",
    "same_basis_price",
))  # fmt: skip
_ENTERED = frozenset(("quoted_price", "costing_ne", "stops"))  # shown beside what they lead to
STRONG = frozenset(("ounces", "yarn_cost", "fabric_cost", "price_at_margin"))


@dataclass(frozen=True, slots=True)
class FigureRow:
    """One figure over the pairs of a cloth.

    fed: for each pair its line, or the row of the input it is, or None where the pair lacks it
    """

    key: str
    label: str
    unit: str
    fed: tuple[FrozenLine | InputRow | None, ...]

    @property
    def strong(self) -> bool:
        """Whether it is one of the figures people look for first."""
        return self.key in STRONG or self.key.endswith(".same_basis_price")


class ClothRows:
    """Headings and figure rows of a cloth, and what feeds them."""

    def __init__(self, pack: Pack, at: int, inputs: Inputs) -> None:
        self.pack = pack
        self.cloth: Cloth = pack.cloths[at]
        self.inputs = [inputs.of(at, place) for place in range(len(self.cloth.pairs))]
        self.lines = [{each.key: each for each in pack.lines_of(p)} for p in self.cloth.pairs]
        self.figures = [pack.figures_of(pair) for pair in self.cloth.pairs]
        self.slots = _slots(self.cloth.pairs)

    @cached_property
    def grouped(self) -> tuple[tuple[str, tuple[FigureRow, ...]], ...]:
        """(heading, rows) in the order of the sheet."""
        merged = {key: place for place, key in enumerate(self._merged())}
        under: dict[tuple[int, ...], list[str]] = {}
        for key in merged:
            under.setdefault(self._heading(key), []).append(key)
        return tuple(
            (
                self._title(heading),
                tuple(
                    self._row(key)
                    for key in sorted(keys, key=lambda key: (_PLACE.get(key, 0), merged[key]))
                ),
            )
            for heading, keys in sorted(under.items())
        )

    @cached_property
    def by_key(self) -> dict[str, FigureRow]:
        """Every row by its key."""
        return {row.key: row for _, rows in self.grouped for row in rows}

    @property
    def has_fixed(self) -> bool:
        """Whether a figure stands without the lines it came from."""
        return any(
            isinstance(fed, InputRow) and row.key.partition(".")[2] not in _ENTERED
            for row in self.by_key.values()
            for fed in row.fed
            if row.key != "loom_efficiency"
        )

    def value(self, pair: int, row: FigureRow) -> float | None:
        """What a pair has in a row. pair: its place"""
        fed = row.fed[pair]
        if fed is None:
            return None
        return fed.entry.value if isinstance(fed, InputRow) else self.figures[pair][row.key]

    def in_words(self, row: FigureRow) -> tuple[str, str]:
        """The formula of a row and its source; what feeds it differently is named in general."""
        by_formula: dict[str, dict[str, dict[str, None]]] = {}
        for pair, line in enumerate(row.fed):
            if isinstance(line, FrozenLine):
                titles = by_formula.setdefault(line.formula, {})
                for argument, source in line.feeds:
                    titles.setdefault(argument, {})[self._titles[pair][source]] = None
        words: dict[str, None] = {}
        sources: dict[str, None] = {}
        for name, titles in by_formula.items():
            formula = self.pack.formulas[name]
            fed = {
                argument: next(iter(told)) if len(told) == 1 else argument.replace("_", " ")
                for argument, told in titles.items()
            }
            words[formula.words.format_map(fed)] = None
            sources[formula.source] = None
        if not words and any(row.fed):
            return "a fixed figure, on the sheet of inputs", ""
        return "; or: ".join(words), "; ".join(sources)

    def quoted_in(self, pair: int, slot: str) -> str:
        """Currency and unit of a yarn's quote, such as `MXN/kg`; "" when not told."""
        row = self.inputs[pair].get(f"{slot}.quoted_price")
        return row.entry.unit if row else ""

    def quote_currency(self, row: FigureRow) -> str:
        """The currency of the quotes in a row, where all have one."""
        slot = row.key.partition(".")[0]
        told = {
            self.quoted_in(pair, slot).partition("/")[0]
            for pair, fed in enumerate(row.fed)
            if fed is not None
        }
        return told.pop() if len(told) == 1 else ""

    @cached_property
    def _titles(self) -> list[dict[str, str]]:
        return [
            {name: row.entry.label for name, row in inputs.items()}
            | {key: line.label for key, line in lines.items()}
            for inputs, lines in zip(self.inputs, self.lines, strict=True)
        ]

    def _merged(self) -> list[str]:
        merged: list[str] = []
        for inputs, lines in zip(self.inputs, self.lines, strict=True):
            shown = (name for name in inputs if self._is_figure(name))
            _merge(merged, (*shown, *lines))
        return merged

    def _is_figure(self, name: str) -> bool:
        """Whether an input stands among the figures: a quote, a count, a fixed figure."""
        slot, _, last = name.partition(".")
        if slot in self.slots:
            return last in _OF_A_YARN or last in _WAY
        return self._heading(name) != (OTHER,)

    def _row(self, key: str) -> FigureRow:
        fed = tuple(
            lines.get(key) or inputs.get(key)
            for lines, inputs in zip(self.lines, self.inputs, strict=True)
        )
        first = next(each for each in fed if each is not None)
        about = first.entry if isinstance(first, InputRow) else first
        slot, _, last = key.partition(".")
        if last == "costing_ne":
            return FigureRow(key, f"Count of the {slot} as weighed", "Ne", fed)
        return FigureRow(key, about.label, "" if last == "quoted_price" else about.unit, fed)

    def _heading(self, key: str) -> tuple[int, ...]:
        slot, dot, last = key.partition(".")
        if dot and slot in self.slots:
            if last.startswith("own."):
                return (WAY, self.slots.index(slot), OWN)
            found = _OF_A_YARN.get(last, WAY)
            return (WAY, self.slots.index(slot), WAY) if found == WAY else (found,)
        of_all = _ALL_YARNS.fullmatch(key)
        if of_all:
            return (_ALL_YARNS_UNDER[of_all[1]],)
        for heading, keys in (
            (STOPS, _LOOM), (WEIGHT, _WEIGHTS), (THREADS, _THREADS), (COST, _PLACE),
            (SEASON, _SEASON),
        ):  # fmt: skip
            if key in keys:
                return (heading,)
        return (EACH,) if _EACH.fullmatch(key) else (OTHER,)

    def _title(self, heading: tuple[int, ...]) -> str:
        if len(heading) == 1:
            return _TITLES[heading[0]]
        yarn = slot_words(self.slots[heading[1]])
        return f"{yarn}: {'own spinning' if heading[2] == OWN else 'from the quote to the mill'}"


def slot_words(slot: str) -> str:
    """`Warp yarn`, `Second warp yarn`."""
    plain = slot.rstrip("0123456789")
    place = slot[len(plain) :]
    named = {"": "", "2": "Second ", "3": "Third ", "4": "Fourth "}.get(place, f"{place}th ")
    return f"{named}{plain} yarn".capitalize()


def _slots(pairs: Iterable[FrozenPair]) -> tuple[str, ...]:
    found: dict[str, None] = {}
    for pair in pairs:
        found |= {yarn.slot: None for yarn in pair.yarns}
    return tuple(found)


def _merge(merged: list[str], more: Iterable[str]) -> None:
    """Puts what is new behind what it follows in its own order."""
    known, at = set(merged), 0
    for key in more:
        if key in known:
            at = merged.index(key) + 1
        else:
            merged.insert(at, key)
            known.add(key)
            at += 1
