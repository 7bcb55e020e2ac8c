"""Every registered formula balances in its declared units and says what it takes."""

from __future__ import annotations

import inspect
import math
import sys

import pint
import pytest

from server.core.elementary import square_root
from server.core.errors import BadValue
from server.core.formula import Argument, Formula, described, formula
from server.core.quantities import Metre, Ne, PerInch, Quantity, Share, Tex
from tests.builders import all_formulas
from tests.core.dimensions import (
    UNITS,
    dimension_of,
    idle,
    raised,
    result_in_units,
    sample,
    unit_of,
    whole,
)

REGISTERED = list(all_formulas().values())
BALANCED = [each for each in REGISTERED if not each.empirical]
EMPIRICAL = [each for each in REGISTERED if each.empirical]


@pytest.fixture(autouse=True)
def _pure_numbers_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """Rounding up and powers take quantities, and refuse those with a dimension."""
    for name, module in list(sys.modules.items()):
        if name.startswith("server.core.") and not name.endswith(".elementary"):
            for helper, instead in (
                ("round_up", whole),
                ("power", raised),
                ("idle_share", idle),
            ):
                if hasattr(module, helper):
                    monkeypatch.setattr(module, helper, instead)


def inputs_of(about: Formula) -> dict[str, float]:
    return {each.name: sample(each, place) for place, each in enumerate(about.arguments)}


def outside(argument: Argument) -> list[float]:
    """Values just beyond an argument's hard limits."""
    limits = argument.quantity
    found = [] if limits.above is None else [limits.above, limits.above - 1.0]
    if limits.least is not None:
        found.append(math.nextafter(limits.least, -math.inf))
    if limits.most is not None:
        found.append(math.nextafter(limits.most, math.inf))
    return found


@pytest.mark.parametrize("about", BALANCED, ids=[each.key for each in BALANCED])
def test_a_formula_gives_the_dimension_it_declares(about: Formula) -> None:
    found = result_in_units(about).dimensionality
    assert found == dimension_of(about.result), f"{about.key} should be in {about.unit}"


@pytest.mark.parametrize("about", EMPIRICAL, ids=[each.key for each in EMPIRICAL])
def test_a_rule_of_thumb_is_marked_because_it_does_not_balance(about: Formula) -> None:
    assert result_in_units(about).dimensionality != dimension_of(about.result)
    assert "Limits:" in about.notes


def test_a_formula_that_does_not_balance_is_noticed() -> None:
    before = dict(all_formulas())
    try:

        @formula(source="a trial")
        def adds_what_cannot_be_added(*, ne: Ne, tex: Tex) -> Tex:
            """A trial."""
            return ne + tex

        @formula(source="a trial")
        def declares_another_unit(*, ne: Ne, share: Share) -> PerInch:
            """A trial."""
            return ne * share

        @formula(source="a trial")
        def takes_a_root_too_many(*, ne: Ne) -> Ne:
            """A trial."""
            return square_root(ne)

        with pytest.raises(pint.DimensionalityError):
            result_in_units(described(adds_what_cannot_be_added))
        for other in (declares_another_unit, takes_a_root_too_many):
            about = described(other)
            assert result_in_units(about).dimensionality != dimension_of(about.result)
    finally:
        all_formulas().clear()
        all_formulas().update(before)


def test_units_are_read_as_people_write_them() -> None:
    assert unit_of("¤/(t·km)") == UNITS.Quantity("reporting_money / metric_ton / km")
    assert unit_of("gr/120 yd") == UNITS.Quantity("grain / (120 * yard)")
    assert unit_of("1/(in·√Ne)").dimensionality == unit_of("αe").dimensionality
    assert unit_of("oz/yd²").to("g/m**2").magnitude == pytest.approx(33.9057474748823)
    assert unit_of("tex").to("dimensionless * g/km").magnitude == 1
    assert unit_of("¤").dimensionality != unit_of("¤q").dimensionality
    assert unit_of("threads").dimensionless
    with pytest.raises(pint.UndefinedUnitError):
        unit_of("furlong_of_yarn")


@pytest.mark.parametrize("about", REGISTERED, ids=[each.key for each in REGISTERED])
def test_the_docstring_says_what_the_code_says(about: Formula) -> None:
    assert about.title
    assert not about.title.endswith(".")
    assert about.source.strip()
    assert about.documented_units == {each.name: each.quantity.unit for each in about.arguments}
    assert all(len(argument.meaning) > 3 for argument in about.arguments)
    parameters = inspect.signature(about.function).parameters.values()
    assert all(each.kind is inspect.Parameter.KEYWORD_ONLY for each in parameters)
    assert all(each.default is inspect.Parameter.empty for each in parameters)


@pytest.mark.parametrize("about", REGISTERED, ids=[each.key for each in REGISTERED])
def test_a_formula_writes_itself_down_with_every_input(
    about: Formula, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.undo()
    written = about.expression
    assert "Traced" not in written
    for argument in about.arguments:
        assert argument.name in written


@pytest.mark.parametrize("about", REGISTERED, ids=[each.key for each in REGISTERED])
def test_a_formula_refuses_what_is_no_number_or_out_of_limits(about: Formula) -> None:
    usual = inputs_of(about)
    for argument in about.arguments:
        for bad in (math.nan, math.inf, -math.inf, *outside(argument)):
            with pytest.raises(BadValue) as refused:
                about.evaluate(usual | {argument.name: bad})
            wrong = refused.value
            assert wrong.field == argument.name
            assert wrong.unit == argument.quantity.unit
            assert argument.name in wrong.message
            assert argument.quantity.unit in wrong.message
            assert argument.meaning in wrong.remedy


@pytest.mark.parametrize("about", REGISTERED, ids=[each.key for each in REGISTERED])
def test_a_formula_refuses_missing_and_unknown_inputs(about: Formula) -> None:
    usual = inputs_of(about)
    for argument in about.arguments:
        with pytest.raises(BadValue) as refused:
            about.evaluate({name: v for name, v in usual.items() if name != argument.name})
        assert refused.value.field == argument.name
        assert refused.value.unit == argument.quantity.unit
        assert argument.quantity.unit in refused.value.remedy
    with pytest.raises(BadValue) as refused:
        about.evaluate(usual | {"no_such_thing": 1.0})
    assert refused.value.field == "no_such_thing"
    assert all(each.name in refused.value.remedy for each in about.arguments)


def test_a_result_that_is_not_finite_is_refused() -> None:
    before = dict(all_formulas())
    try:

        @formula(source="a trial")
        def a_quotient(*, above: Metre, below: Metre) -> Share:
            """A quotient."""
            return above / below

        about = described(a_quotient)
        with pytest.raises(BadValue, match="cannot be computed"):
            about.evaluate({"above": 1.0, "below": 0.0})
        with pytest.raises(BadValue, match="not a finite number"):
            about.evaluate({"above": 1e308, "below": 1e-308})
        with pytest.raises(ValueError, match="two formulas are called a_quotient"):
            formula(source="a trial")(a_quotient)
    finally:
        all_formulas().clear()
        all_formulas().update(before)


def test_an_argument_without_a_unit_is_refused() -> None:
    before = dict(all_formulas())
    try:

        @formula(source="a trial")
        def without_units(*, length: float) -> Share:
            """Without units."""
            return length

        with pytest.raises(TypeError, match="carries no Quantity"):
            _ = described(without_units).arguments
    finally:
        all_formulas().clear()
        all_formulas().update(before)


def test_limits_hold_at_their_ends() -> None:
    closed = Argument("x", "a thing", Quantity("m", least=0.0, most=2.0))
    opened = Argument("x", "a thing", Quantity("m", above=0.0))
    closed.check(0.0)
    closed.check(2.0)
    opened.check(5e-324)
    for argument, value in ((closed, -5e-324), (closed, 2.0000000000000004), (opened, 0.0)):
        with pytest.raises(BadValue, match=r"x = .* m must be"):
            argument.check(value)


def test_the_register_holds_the_whole_core() -> None:
    assert len(REGISTERED) >= 270
    rooms = {each.room for each in REGISTERED}
    assert {"units", "yarn", "moisture", "payment", "landed", "spinning", "fabric"} <= rooms
    assert all(key == each.key for key, each in all_formulas().items())
