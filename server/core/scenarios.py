"""Scenarios: two sets of assumptions held against each other, and constructions under both."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from server.core.assumptions import KINDS, AssumptionSet, Kind
from server.core.compare import Cell, Comparison, Pair
from server.core.construction import Basis, Construction
from server.core.own_yarn import OwnCosts
from server.core.sheet import Input


@dataclass(frozen=True, slots=True)
class ValueApart:
    """One value that is not the same in two sets.

    at_ne: the count it is entered at, or None [Ne]; first, second: None where the set lacks it
    comparable: whether both are numbers of one currency, so that they may be subtracted
    """

    kind: Kind
    at_ne: float | None
    first: Input | None
    second: Input | None
    comparable: bool

    @property
    def difference(self) -> float | None:
        """Second less first, in the unit of the kind."""
        if not self.comparable or self.first is None or self.second is None:
            return None
        return float(self.second.value) - float(self.first.value)

    @property
    def relative(self) -> float | None:
        """The same as a share of the first."""
        apart = self.difference
        if apart is None or self.first is None or float(self.first.value) == 0:
            return None
        return apart / float(self.first.value)


def values_apart(first: AssumptionSet, second: AssumptionSet) -> tuple[ValueApart, ...]:
    """What differs between two sets, in the order of the catalogue; sources are not compared.

    Both as entered: money of two currencies differs even where the number is the same.
    """
    found = []
    for key, kind in KINDS.items():
        ours, theirs = dict(first.values.get(key, ())), dict(second.values.get(key, ()))
        money = "¤" in kind.unit and first.currency != second.currency
        for at_ne in sorted({*ours, *theirs}, key=lambda ne: -1.0 if ne is None else ne):
            one, other = ours.get(at_ne), theirs.get(at_ne)
            same = one is not None and other is not None and one.value == other.value
            if not same or money:
                found.append(ValueApart(kind, at_ne, one, other, comparable=not money))
    return tuple(found)


def groups_apart(apart: tuple[ValueApart, ...]) -> frozenset[str]:
    """The groups of assumptions in which two sets differ: ring, OE, air-jet, fabric …"""
    return frozenset(each.kind.group for each in apart)


@dataclass(frozen=True, eq=False)
class UnderSet:
    """A construction under one set: its comparison and its own yarn, or why there is none."""

    comparison: Comparison | None
    missing: str
    own: OwnCosts

    @property
    def leader(self) -> Pair | None:
        """The cheapest possible pair."""
        return self.comparison.leader if self.comparison else None

    @property
    def cost(self) -> float | None:
        """What a metre with the leader costs [¤/m]."""
        return self.leader.figures["fabric_cost"] if self.leader else None


@dataclass(frozen=True, eq=False)
class UnderBoth:
    """A construction under two sets."""

    construction: Construction
    first: UnderSet
    second: UnderSet

    @property
    def difference(self) -> float | None:
        """Cost of a metre with the leader, second less first [¤/m]."""
        one, other = self.first.cost, self.second.cost
        return None if one is None or other is None else other - one

    @property
    def leader_changes(self) -> bool | None:
        """Whether another pair leads under the second set; None when one has no leader."""
        one, other = self.first.leader, self.second.leader
        return None if one is None or other is None else one.key != other.key

    @property
    def own_difference(self) -> float | None:
        """The same with the cheapest own yarn [¤/m]."""
        one, other = self.first.own.cheapest, self.second.own.cheapest
        return None if one is None or other is None else other[1] - one[1]

    @cached_property
    def combinations(self) -> tuple[tuple[str, Cell | None, Cell | None], ...]:
        """Every spinning combination with its cell under each set, bought yarn."""
        one, other = (_cells(each.comparison) for each in (self.first, self.second))
        return tuple(
            (name, one.get(name), other.get(name)) for name in dict.fromkeys((*one, *other))
        )

    @cached_property
    def own_combinations(self) -> tuple[tuple[str, float | None, float | None], ...]:
        """Every combination of own yarn with its cost under each set [¤/m]."""
        one, other = self.first.own.costs, self.second.own.costs
        return tuple(
            (name, one.get(name), other.get(name)) for name in dict.fromkeys((*one, *other))
        )


def _cells(comparison: Comparison | None) -> dict[str, Cell]:
    if comparison is None:
        return {}
    return {cell.combination: cell for row in comparison.cells for cell in row}


@dataclass(frozen=True, eq=False)
class TwoSets:
    """Two sets held against each other: what differs, and what it does to the constructions.

    basis: what the constructions are compared on, its own set aside; None without a basis
    """

    first: AssumptionSet
    second: AssumptionSet
    basis: Basis | None
    values: tuple[ValueApart, ...]
    constructions: tuple[UnderBoth, ...]

    @property
    def currency(self) -> str:
        """What the costs are in."""
        return self.basis.currency if self.basis else self.first.currency

    def construction(self, code: str) -> UnderBoth | None:
        """One of the constructions."""
        return next((each for each in self.constructions if each.construction.code == code), None)
