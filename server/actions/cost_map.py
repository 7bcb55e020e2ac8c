"""The map of a construction: which option is the cheapest while two things move."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from server.actions.compare import BasisChange, compare_construction
from server.actions.ties import refuse_figure, set_money
from server.core.compare import Comparison
from server.core.cost_map import (
    OPTIONS,
    USUAL_REACH,
    CostMap,
    Side,
    cost_map,
    nearest_two,
    options_of,
)
from server.core.errors import BadValue, Missing, NotFound
from server.core.movements import Contender, Movement, movements_of
from server.core.sheet import Explanation, Input
from server.core.ties import FIGURES
from server.store.session import Engine

USUAL = ("cotton", "power")
PERCENT = ("share", "share/a")  # units that people write in percent


@dataclass(frozen=True)
class AskedMap:
    """What a map is of, as typed; "" stands for the usual.

    x, y: keys of movements; ranges: `x_from`, `x_to`, `y_from`, `y_to` in the unit of the figure,
        shares in percent
    """

    x: str = ""
    y: str = ""
    ranges: Mapping[str, str] | None = None
    options: str = ""
    figure: str = ""


@dataclass(frozen=True, eq=False)
class Mapped:
    """A map, everything that can move, and what was wrong with the question."""

    comparison: Comparison
    map: CostMap
    options: str
    movements: tuple[Movement, ...]
    errors: dict[str, str]

    def refuse_errors(self) -> None:
        """Where a fault cannot be shown beside its field. Raises BadValue with the first."""
        for name, wrong in self.errors.items():
            raise BadValue(f"{name.replace('_', ' ')}: {wrong}", field=name)


RANGES = ("x_from", "x_to", "y_from", "y_to")


def read_map(query: Mapping[str, str]) -> AskedMap:
    """The map a query asks for.

    A range belongs to what `x_of` or `y_of` names; once something else is chosen it is dropped.
    """
    texts = {name: text.strip() for name, text in query.items()}
    ranges = {
        name: texts[name]
        for name in RANGES
        if texts.get(name) and texts.get(f"{name[0]}_of", "") in ("", texts.get(name[0], ""))
    }
    return AskedMap(
        texts.get("x", ""),
        texts.get("y", ""),
        ranges,
        texts.get("options", ""),
        texts.get("figure", ""),
    )


def mapped(
    engine: Engine, code: str, asked: AskedMap, basis_change: BasisChange, basis_name: str = ""
) -> Mapped:
    """The map of a construction. Faulty parts are named and left out.

    Raises NotFound, and Missing when there are no two options.
    """
    comparison = compare_construction(engine, code, basis_change, basis_name)
    errors: dict[str, str] = {}
    options = asked.options or OPTIONS[0]
    if options not in OPTIONS:
        errors["options"] = f"“{options[:40]}” is none of {', '.join(OPTIONS)}."
        options = OPTIONS[0]
    contenders = options_of(comparison, options)
    if len(contenders) < 2:
        raise Missing(
            f"{code} has no two options to hold against each other on this basis.",
            field="options",
            value=options,
            remedy="Enter offers near its counts, or the assumptions of two spinning routes.",
        )
    figure = _figure(asked.figure, contenders, errors)
    movements = movements_of(contenders, figure, money=set_money(comparison))
    sides = _sides(asked, contenders, figure, movements, errors)
    return Mapped(comparison, cost_map(contenders, figure, *sides), options, movements, errors)


def _figure(wanted: str, contenders: tuple[Contender, ...], errors: dict[str, str]) -> str:
    figure = wanted or FIGURES[0]
    try:
        refuse_figure(figure)
    except BadValue as wrong:
        errors["figure"] = str(wrong)
        return FIGURES[0]
    if figure not in contenders[0].costing.sheet.by_key:
        errors["figure"] = "This construction has no such figure."
        return FIGURES[0]
    return figure


def _sides(
    asked: AskedMap,
    contenders: tuple[Contender, ...],
    figure: str,
    movements: tuple[Movement, ...],
    errors: dict[str, str],
) -> tuple[Side, Side]:
    by_key = {each.key: each for each in movements}
    chosen = {}
    for name, key in (("x", asked.x), ("y", asked.y)):
        if key and key not in by_key:
            errors[name] = f"“{key[:60]}” is nothing that moves here. Choose one of the list."
        elif key:
            chosen[name] = by_key[key]
    if chosen.get("x") is not None and chosen.get("x") is chosen.get("y"):
        errors["y"] = "Both sides hold the same; choose another one."
        del chosen["y"]
    usual = iter(_usual(contenders, figure, movements, tuple(chosen.values())))
    for name in ("x", "y"):
        if name not in chosen:
            chosen[name] = next(usual)
    return (
        _side("x", chosen["x"], asked.ranges or {}, errors),
        _side("y", chosen["y"], asked.ranges or {}, errors),
    )


def _usual(
    contenders: tuple[Contender, ...],
    figure: str,
    movements: tuple[Movement, ...],
    taken: tuple[Movement, ...],
) -> tuple[Movement, ...]:
    """Cotton and power where the assumptions hold them, else what is nearest to a change."""
    by_key = {each.key: each for each in movements if each not in taken}
    found = [by_key.pop(key) for key in USUAL if key in by_key]
    if len(found) + len(taken) < 2:
        given = tuple(each for each in by_key.values() if each.is_given)
        found += nearest_two(contenders, figure, given)
    return tuple(found)


def _side(name: str, movement: Movement, ranges: Mapping[str, str], errors: dict[str, str]) -> Side:
    """A side from one value to another; the usual one where what is asked cannot be."""
    least = max(movement.least, 1 - USUAL_REACH)
    most = min(movement.most, 1 + USUAL_REACH)
    ends = {"from": least, "to": most}
    for end in ends:
        text = ranges.get(f"{name}_{end}", "")
        if text:
            try:
                ends[end] = _factor(movement, text)
            except BadValue as wrong:
                errors[f"{name}_{end}"] = str(wrong)
    if ends["from"] >= ends["to"]:
        errors[f"{name}_to"] = "The range ends before it begins."
        return Side(movement, least, most)
    return Side(movement, ends["from"], ends["to"])


def _factor(movement: Movement, text: str) -> float:
    """A typed value as a factor on today's. Raises BadValue."""
    scale = 100.0 if movement.input.unit in PERCENT else 1.0
    try:
        factor = float(text) / scale / movement.present
    except ValueError:
        factor = float("nan")
    slack = 1e-6  # a limit as it is shown is rounded
    if not movement.least - slack <= factor <= movement.most + slack:
        low, high = (f"{movement.present * end * scale:.4g}" for end in
                     (movement.least, movement.most))  # fmt: skip
        raise BadValue(
            f"“{text[:20]}” is outside what is looked at.",
            field="range",
            value=text,
            unit="%" if scale == 100 else movement.input.unit,
            remedy=f"Enter a number between {low} and {high}.",
        )
    return factor


def opened_at(
    found: Mapped, option: str, x: str, y: str
) -> tuple[Contender, tuple[float, float], Explanation]:
    """What one option costs at a point of the map, opened. x, y: factors as text.

    Raises NotFound, BadValue.
    """
    held = found.map
    names = [each.name for each in held.contenders]
    if option not in names:
        raise NotFound(
            f"“{option[:60]}” is no option of this map.",
            field="option",
            value=option,
            remedy="Open a figure from the map.",
        )
    factors = (_read_factor("at_x", x, held.x), _read_factor("at_y", y, held.y))
    place = names.index(option)
    contender = held.contenders[place]
    moved = contender.moved(place, (held.x.movement, factors[0]), (held.y.movement, factors[1]))
    inputs = {
        name: _moved(entry, float(moved[name])) if name in moved else entry
        for name, entry in contender.inputs.items()
    }
    return contender, factors, contender.costing.sheet.explain(held.figure, inputs)


def _moved(entry: Input, value: float) -> Input:
    if value == entry.value:
        return entry
    return replace(
        entry, value=value, source="at this point of the map", as_entered=f"today {entry.value:g}"
    )


def _read_factor(name: str, text: str, side: Side) -> float:
    try:
        factor = float(text or "1")
    except ValueError:
        factor = float("nan")
    if not side.movement.least - 1e-9 <= factor <= side.movement.most + 1e-9:
        raise BadValue(
            f"“{text[:20]}” is no point of the map.",
            field=name,
            value=text,
            unit="×",
            remedy="Open a figure from the map.",
        )
    return factor
