"""What can move when two or more costings are held against each other.

A movement is one thing that moves: what the world sets (rates, freight, assumptions) wherever it
stands in any of them, the figure of an offer wherever that offer is used, the figure of a
construction in all of them or in one alone. It may hold several inputs that move in proportion.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from server.core.assumptions import KINDS
from server.core.break_even import Option
from server.core.construction import Construction
from server.core.costing import OWN, ChosenYarn, Costing
from server.core.loom_behaviour import stops_key
from server.core.offer import Offer
from server.core.pair import assumption_of, construction_inputs, tonnes_needed
from server.core.quantities import Number
from server.core.sheet import Input

REACH = 0.9  # how far from today's value is looked [share]
SHORT_OF_ALL = 0.95  # waste and shrink stay below this, where a divisor would vanish [share]
_STEPS = ("d", "d/a", "kg", "looms")  # days, loads, units of sale, machines: they go in steps
_FIXED = ("repeat_ends", "repeat_intersections", "garment_width_in")
_GROUPS = (
    ("fibre_price", "cotton", "Cotton of every route"),
    ("power_tariff", "power", "Power tariff of every route"),
    ("wage", "wages", "Wages of every route"),
    ("interest", "interest", "Interest of every route"),
)
_BY_QUANTITY = ("total_ends", "loom_ppi", "reed_width_in", "tail_in", "length_shrink")
_BY_QUANTITY_OF_SLOT = ("crimp", "waste")

Move = tuple["Movement", Number]  # a movement and the factor on today's value


@dataclass(frozen=True, eq=False)
class Contender:
    """A costing held against others.

    name: what it is asked for with; label: what it is called
    """

    name: str
    label: str
    costing: Costing

    def option(self, figure: str) -> Option:
        """The whole costing with the figure that is compared, made once."""
        if figure not in self._options:
            self._options[figure] = Option(self.costing.sheet, self.inputs, figure)
        return self._options[figure]

    @cached_property
    def _options(self) -> dict[str, Option]:
        return {}

    @cached_property
    def inputs(self) -> dict[str, Input]:
        """Every input of the whole sheet."""
        return self.costing.inputs

    def moved(self, place: int, *moves: Move) -> dict[str, Number]:
        """The inputs that are not as today. place: of this contender among those that move."""
        changed: dict[str, Number] = {}
        for movement, factor in moves:
            for name, power in movement.moved[place].items():
                today = changed.get(name, float(self.inputs[name].value))
                changed[name] = today * factor if power == 1 else today / factor
        return changed | prices_by_quantity(self.costing, changed)

    def cost(self, figure: str, place: int, *moves: Move) -> Number:
        """A figure when something moves, by a number or by arrays of them."""
        return self.option(figure).cost(self.moved(place, *moves))


@dataclass(frozen=True, eq=False)
class Movement:
    """One thing that moves.

    key: short name in addresses
    input: the one whose value is told
    moved: for each contender the inputs that move: 1 in proportion, −1 the other way round
    along: in words, what moves in proportion besides the input told
    least, most: how far today's value may go, as a factor on it
    offer: code of the offer whose own figure it is, or ""
    """

    key: str
    label: str
    input: Input
    moved: tuple[Mapping[str, int], ...]
    along: tuple[str, ...] = ()
    least: float = 1 - REACH
    most: float = 1 + REACH
    offer: str = ""

    @property
    def present(self) -> float:
        """Today's value, in the unit of the input."""
        return float(self.input.value)

    @property
    def movers(self) -> tuple[int, ...]:
        """Places of the contenders in which something moves."""
        return tuple(place for place, names in enumerate(self.moved) if names)

    @property
    def is_given(self) -> bool:
        """Whether the world or a seller sets it, not who designs the cloth or tests the yarn."""
        return not self.key.startswith(("first:", "second:", "ne:"))

    @property
    def is_group(self) -> bool:
        """Whether it moves one thing for every route."""
        return any(self.key == key for _, key, _ in _GROUPS)

    @property
    def is_price(self) -> bool:
        """Whether it is the price of an offer, which its seller can be told."""
        return self.key.startswith("quoted_price:")


@dataclass(frozen=True)
class SetMoney:
    """The currency of an assumption set that is not the reporting currency.

    rate: as entered; inverse: entered as units of the currency for one of the reporting currency
    """

    currency: str
    rate: Input
    inverse: bool


def prices_by_quantity(costing: Costing, changed: Mapping[str, Number]) -> dict[str, Number]:
    """Prices of offers with breaks where a change of the cloth asks for another quantity of yarn.

    changed: input name -> number or array; gives `<slot>.quoted_price` where it may differ
    """
    metres = costing.basis.metres_of(costing.construction)
    found: dict[str, Number] = {}
    if metres is None:
        return found
    for yarn in costing.yarns:
        offer, slot = yarn.offer, yarn.slot
        ours = (*_BY_QUANTITY, *(f"{slot.name}.{part}" for part in _BY_QUANTITY_OF_SLOT))
        moved = {name: value for name, value in changed.items() if name in ours}
        if offer is None or not offer.breaks or yarn.held or not moved:
            continue

        def price(offer: Offer = offer, yarn: ChosenYarn = yarn, **values: float) -> float:
            cloth, wanted = _with_values(costing.construction, yarn, values)
            return float(offer.price_for(tonnes_needed(wanted, cloth, metres)))

        found[f"{slot.name}.quoted_price"] = _each(price, moved)
    return found


def _each(price: Callable[..., float], moved: Mapping[str, Number]) -> Number:
    """A scalar function of some inputs, on each of their values."""
    if not any(isinstance(value, np.ndarray) for value in moved.values()):
        return price(**moved)
    names = list(moved)
    together = np.broadcast_arrays(*(np.asarray(moved[name]) for name in names))
    flat = [
        price(**dict(zip(names, (float(each) for each in values), strict=True)))
        for values in zip(*(array.ravel() for array in together), strict=True)
    ]
    return np.array(flat).reshape(together[0].shape)


def _with_values(
    construction: Construction, yarn: ChosenYarn, values: Mapping[str, float]
) -> tuple[Construction, Any]:
    whole = {name: value for name, value in values.items() if "." not in name}
    own = {name.partition(".")[2]: value for name, value in values.items() if "." in name}
    return replace(construction, **whole), replace(yarn.slot, **own)  # type: ignore[arg-type]


def movements_of(
    contenders: Sequence[Contender],
    figure: str,
    *,
    alone: bool = False,
    money: SetMoney | None = None,
) -> tuple[Movement, ...]:
    """Everything that can move and that the figure of a contender rests on.

    alone: also the figures of each construction in one contender only; the first is called
        `first`, the second `second`
    money: when the assumptions are in another currency; their money moves with its rate
    """
    found: dict[str, _Thing] = {}
    for place, contender in enumerate(contenders):
        for thing in _things(contender, figure):
            found.setdefault(thing.key, thing).inputs[place, thing.name] = thing.input
    made: list[Movement] = []
    for thing in found.values():
        made += _movements(thing, contenders, alone=alone)
    made += _groups(found.values(), contenders)
    if money is not None:
        made = _with_money(made, money, contenders, figure)
    return tuple(each for each in made if each.movers)


@dataclass(eq=False)
class _Thing:
    """Inputs that are one thing; inputs: (place of the contender, input name) -> input."""

    key: str
    label: str
    name: str
    input: Input
    offer: str
    of_cloth: bool
    by_count: bool
    inputs: dict[tuple[int, str], Input]


def _things(contender: Contender, figure: str) -> Iterator[_Thing]:
    costing = contender.costing
    used: set[str] = set()
    for line in costing.sheet.needed_for((figure,)):
        used.update(line.sources.values())
    cloth = construction_inputs(costing.construction).keys()
    of_yarn = {name: yarn for yarn in costing.yarns for name in yarn.inputs}
    no_rate = f"exchange_rate.{costing.basis.currency}"
    for name, entry in contender.inputs.items():
        if name not in used or name in _FIXED or name == no_rate or entry.unit in _STEPS:
            continue
        if float(entry.value) == 0 or name.endswith(".share_of_threads"):
            continue
        yarn, (slot, _, bare) = of_yarn.get(name), name.partition(".")
        if name in cloth:
            key = f"{costing.construction.code}:{name}"
            yield _Thing(key, entry.label, name, entry, "", True, False, {})
        elif bare == "stops":
            yield _stops_of(next(each for each in costing.yarns if each.slot.name == slot), entry)
        elif yarn is None or slot != yarn.slot.name:
            yield _Thing(name, _label(name, entry), name, entry, "", False, False, {})
        elif bare.startswith("own."):
            key = f"{yarn.spinning}.{bare.removeprefix('own.')}"
            yield _Thing(key, _label(key, entry), name, entry, "", False, True, {})
        elif not yarn.name.startswith(OWN):
            yield from _of_offer(yarn, name, bare, entry)


def _of_offer(yarn: ChosenYarn, name: str, bare: str, entry: Input) -> Iterator[_Thing]:
    """A figure of an offer, one thing wherever the offer is used; of a held price the price."""
    code = yarn.inputs[f"{yarn.slot.name}.quoted_price"].where.removeprefix("/offers/")
    if bare == "house_regain":
        yield _Thing(f"{bare}:{entry.label}", entry.label, name, entry, "", False, False, {})
    elif bare == "costing_ne":
        if not yarn.held:
            label = f"Count of {code}, its price held"
            yield _Thing(f"ne:{code}", label, name, entry, code, False, False, {})
    else:
        label = {"quoted_price": f"Price of {code}"}.get(bare, f"{code}: {entry.label}")
        yield _Thing(f"{bare}:{code}", label, name, entry, code, False, False, {})


def _stops_of(yarn: ChosenYarn, entry: Input) -> _Thing:
    """Stops of a yarn on the loom: its offer's where they were measured, else those of its kind."""
    name, direction, offer = f"{yarn.slot.name}.stops", yarn.slot.direction, yarn.offer
    if offer is not None and f"{direction}_stops" in offer.tests:
        key = f"{direction}_stops:{offer.code}"
        return _Thing(key, entry.label, name, entry, offer.code, False, False, {})
    key = stops_key(direction, yarn.spinning)
    return _Thing(key, entry.label, name, entry, "", False, False, {})


def _label(name: str, entry: Input) -> str:
    kind = KINDS.get(name)
    return f"{entry.label}, {kind.group}" if kind and kind.group != "fabric" else entry.label


def _movements(
    thing: _Thing, contenders: Sequence[Contender], *, alone: bool
) -> Iterator[Movement]:
    """The thing in all contenders that have it, and in each alone where that can be asked."""
    places = {place for place, _ in thing.inputs}
    values = {float(entry.value) for entry in thing.inputs.values()}
    whole = len(places) == len(contenders)
    if thing.of_cloth:
        key = thing.name
        together = whole and len(values) == 1 and len(contenders) > 1
    else:
        key, together = thing.key, len(values) == 1 or thing.by_count or bool(thing.offer)
    if together:
        yield _movement(key, thing.label, thing, contenders, places)
    if alone and (thing.of_cloth or not together):
        for place in sorted(places):
            which = ("first", "second")[place]
            yield _movement(f"{which}:{key}", thing.label, thing, contenders, {place})


def _movement(
    key: str, label: str, thing: _Thing, contenders: Sequence[Contender], places: set[int]
) -> Movement:
    inputs = {at: entry for at, entry in thing.inputs.items() if at[0] in places}
    told = next(iter(inputs.values()))
    others = dict.fromkeys(
        f"{entry.value:g}" for entry in inputs.values() if entry.value != told.value
    )
    least, most = 1 - REACH, 1 + REACH
    for (place, name), entry in inputs.items():
        low, high = _limits(name, entry, contenders[place], thing.key)
        least, most = max(least, low), min(most, high)
    return Movement(
        key,
        label,
        told,
        _moved(inputs, len(contenders)),
        tuple(f"{value} {told.unit}" for value in others),
        least,
        most,
        thing.offer,
    )


def _moved(inputs: Mapping[tuple[int, str], Input], count: int) -> tuple[dict[str, int], ...]:
    return tuple({name: 1 for place, name in inputs if place == wanted} for wanted in range(count))


def _limits(name: str, entry: Input, contender: Contender, key: str) -> tuple[float, float]:
    """The factors between which the value makes sense."""
    value, cloth = float(entry.value), contender.costing.construction
    if value < 0:
        return 1 - REACH, 1 + REACH
    least, most = 0.0, float("inf")
    kind = KINDS.get(assumption_of(key))
    if kind is not None:
        least, most = kind.least, kind.most or most
    elif name == "finished_width_in":
        least, most = cloth.cuttable_width_in, cloth.reed_width_in
    elif name == "cuttable_width_in":
        most = cloth.finished_width_in
    elif name == "reed_width_in":
        least = cloth.finished_width_in
    elif name == "length_shrink" or name.endswith(".waste"):
        most = SHORT_OF_ALL
    elif entry.unit == "share":
        most = max(1.0, value)
    return min(1.0, least / value), max(1.0, most / value)


def _groups(things: Any, contenders: Sequence[Contender]) -> Iterator[Movement]:
    """What the world sets alike for every route: cotton, power, wages, interest."""
    for part, key, label in _GROUPS:
        found = [each for each in things if each.key.partition(".")[2] == part]
        if len(found) < 2:
            continue
        inputs = {at: entry for thing in found for at, entry in thing.inputs.items()}
        told, *others = found
        yield Movement(
            key,
            label,
            told.input,
            _moved(inputs, len(contenders)),
            tuple(
                f"{thing.key.partition('.')[0]} {thing.input.value:g} {thing.input.unit}"
                for thing in others
                if thing.input.value != told.input.value
            ),
        )


def _with_money(
    made: Sequence[Movement], money: SetMoney, contenders: Sequence[Contender], figure: str
) -> list[Movement]:
    """The rate of the set's currency moves the set's money with it."""
    key, power = f"exchange_rate.{money.currency}", -1 if money.inverse else 1
    rate = next((each for each in made if each.key == key), None)
    if rate is None:
        rate = Movement(key, money.rate.label, money.rate, tuple({} for _ in contenders))
    moved = tuple(
        {**names, **dict.fromkeys(_set_money(contender, figure), power)}
        for names, contender in zip(rate.moved, contenders, strict=True)
    )
    whole = replace(rate, moved=moved, along=("the money of the assumption set",))
    return [*(each for each in made if each.key != key), whole]


def _set_money(contender: Contender, figure: str) -> Iterator[str]:
    """Inputs that are money of the assumption set."""
    for thing in _things(contender, figure):
        kind = KINDS.get(assumption_of(thing.key))
        if kind is not None and kind.unit.startswith("¤"):
            yield thing.name
