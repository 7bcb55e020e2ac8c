"""Assumptions: looked up, interpolated between counts, moved to the reporting currency."""

from __future__ import annotations

import pytest

from server.core.assumptions import KINDS, AssumptionSet
from server.core.errors import Missing
from server.core.sheet import Input
from tests.builders import DAY, assumption_set, rate_book


def speeds(*points: tuple[float, float]) -> AssumptionSet:
    """A set with spindle speeds at some counts."""
    return AssumptionSet(
        1,
        "Trial",
        {
            "ring.spindle_rpm": tuple(
                (ne, Input(rpm, "Spindle speed", "rpm", "trial", DAY, "", "/assumptions/1"))
                for ne, rpm in points
            )
        },
    )


@pytest.mark.parametrize(
    ("ne", "rpm"),
    [(6.5, 9000.0), (7.0, 9200.0), (6.75, 9100.0), (8.5, 10_000.0), (8.0, 9733.333333333334)],
)
def test_a_value_between_two_counts_is_interpolated(ne: float, rpm: float) -> None:
    found = speeds((6.5, 9000), (7, 9200), (8.5, 10_000)).input("ring.spindle_rpm", ne=ne)
    assert found.value == pytest.approx(rpm, rel=1e-14)


def test_a_value_between_two_counts_says_between_which() -> None:
    found = speeds((6.5, 9000), (7, 9200)).input("ring.spindle_rpm", ne=6.75)
    assert found.as_entered == "between 9000 at Ne 6.5 and 9200 at Ne 7"
    assert (found.unit, found.on, found.where) == ("rpm", DAY, "/assumptions/1")


def test_beyond_the_given_counts_the_nearest_value_holds() -> None:
    points = speeds((6.5, 9000), (7, 9200))
    assert points.input("ring.spindle_rpm", ne=3).value == 9000
    assert points.input("ring.spindle_rpm", ne=30).value == 9200
    assert points.input("ring.spindle_rpm").value == 9000


def test_a_value_without_a_count_holds_for_all() -> None:
    assert assumption_set().input("fabric.loom_rpm", ne=9).value == 620


def test_a_missing_assumption_is_named_with_its_label_and_unit() -> None:
    with pytest.raises(Missing) as missing:
        assumption_set().input("ring.roving")
    assert (missing.value.field, missing.value.unit) == ("ring.roving", "¤/kg")
    assert "Roving" in missing.value.message
    assert "Trial" in missing.value.message
    assert not assumption_set().has("ring.roving")
    assert assumption_set().has("fabric.dyeing")


def test_money_of_a_set_moves_to_the_reporting_currency_and_the_rest_stays() -> None:
    plain = assumption_set()
    pesos = AssumptionSet(plain.id, plain.name, plain.values, "", "MXN")
    moved = pesos.in_currency("USD", rate_book(), DAY)
    assert moved.currency == "USD"
    dyeing = moved.input("fabric.dyeing")
    assert dyeing.value == pytest.approx(0.62 / 17.2, rel=1e-14)
    assert dyeing.as_entered == "0.62 MXN/kg at 1 USD = 17.2 MXN"
    assert moved.input("fabric.loom_rpm") is plain.input("fabric.loom_rpm")
    assert moved.input("fabric.overhead_rate").value == 0.07


@pytest.mark.parametrize("currency", ["", "USD"])
def test_a_set_in_the_reporting_currency_is_left_alone(currency: str) -> None:
    plain = assumption_set()
    same = AssumptionSet(plain.id, plain.name, plain.values, "", currency)
    assert same.in_currency("USD", rate_book(), DAY) is same


def test_every_kind_of_assumption_has_a_label_a_unit_and_limits_in_order() -> None:
    for key, kind in KINDS.items():
        assert key == kind.key
        assert kind.label
        assert kind.unit
        assert key.startswith(f"{kind.group}.")
        assert kind.most is None or kind.least < kind.most
