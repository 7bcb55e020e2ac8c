"""The change desk on the demonstration: what is asked, what follows, what is refused."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import Engine

from server.actions.asked_change import read_change
from server.actions.change import Desk, explain_column, work_out
from server.actions.compare import BasisChange, compare_construction, sound_basis_change
from server.actions.nouns import NOUNS
from server.actions.records import add_record, change_record, one_record
from server.core.errors import BadValue, Missing, NotFound
from server.core.sheet import Input
from tests.entered import counts

HERE = BasisChange({}, {})


def desk(engine: Engine, code: str = "DN-1250", basis: Any = HERE, **typed: str) -> Desk:
    asked = read_change({name.replace("__", "."): text for name, text in typed.items()})
    return work_out(engine, code, asked, basis)


def test_nothing_asked_is_the_leader_of_the_comparison(house_engine: Engine) -> None:
    found = desk(house_engine)
    leader = compare_construction(house_engine, "DN-1250", HERE).leader
    assert leader is not None
    assert found.before.key == leader.key
    assert found.before.figures["fabric_cost"] == leader.figures["fabric_cost"]
    assert found.changed.swap.figures == found.before.figures
    assert found.errors == {}
    assert (found.changed.fallen, found.changed.joined) == ((), ())


@pytest.mark.parametrize(
    ("name", "text", "attribute", "value"),
    [
        ("total_ends", "3900", "total_ends", 3900.0),
        ("loom_ppi", "39.5", "loom_ppi", 39.5),
        ("reed_width_in", "67", "reed_width_in", 67.0),
        ("weave", "2/1 twill", "weave", "2/1 twill"),
        ("twill_hand", "left", "twill_hand", "left"),
        ("length_shrink_percent", "11.5", "length_shrink", 0.115),
        ("net_finish_percent", "-2", "net_finish", -0.02),
        ("season_metres", "1000", "season_metres", 1000.0),
    ],
)
def test_a_figure_of_the_cloth_is_changed_alone(
    house_engine: Engine, name: str, text: str, attribute: str, value: object
) -> None:
    found = desk(house_engine, **{name: text})
    before, after = found.before.construction, found.after
    assert getattr(after, attribute) == value
    others = {key: held for key, held in vars(after).items() if key != attribute}
    assert others == {key: held for key, held in vars(before).items() if key != attribute}


def test_the_selvedges_stay_as_wide_when_the_cloth_changes_width(house_engine: Engine) -> None:
    before = desk(house_engine).before.construction
    wider = desk(house_engine, finished_width_in="63").after
    apart = before.finished_width_in - before.cuttable_width_in
    assert wider.finished_width_in - wider.cuttable_width_in == pytest.approx(apart, rel=1e-12)
    both = desk(house_engine, finished_width_in="63", cuttable_width_in="60").after
    assert both.cuttable_width_in == 60.0


def test_waste_and_crimp_of_a_yarn_are_changed_in_its_slot(house_engine: Engine) -> None:
    after = desk(house_engine, warp_crimp_percent="12", filling_waste_percent="5").after
    assert after.slots_of("warp")[0].crimp == 0.12
    assert after.slots_of("filling")[0].waste == 0.05


def test_an_assumption_is_changed_for_the_swap_and_not_before(house_engine: Engine) -> None:
    found = desk(house_engine, fabric__loom_rpm="310")
    assert found.changed.swap.figures["weaving"] == pytest.approx(
        2 * found.before.figures["weaving"], rel=1e-12
    )
    entry = found.changed.swap.inputs["loom_rpm"]
    assert entry.source == "changed here, not stored"
    assert entry.as_entered == "stored: 620"


def test_a_change_in_percent_moves_what_stands(house_engine: Engine) -> None:
    found = desk(house_engine, fabric__loom_rpm="+10 %", every__fibre_price="−5 %")
    assert found.errors == {}
    assert found.changed.swap.inputs["loom_rpm"].value == pytest.approx(682.0)


def test_a_share_is_typed_in_percent(house_engine: Engine) -> None:
    found = desk(house_engine, fabric__loom_efficiency="44")
    assert found.changed.swap.inputs["loom_efficiency"].value == 0.44


def test_a_yarn_that_still_fits_stays_and_one_that_does_not_gives_way(
    house_engine: Engine,
) -> None:
    assert desk(house_engine, pair="Q14/Q19", loom_ppi="41").changed.swap.key == "Q14/Q19"
    assert desk(house_engine, pair="Q14/Q19", filling_ne="7").changed.swap.key == "Q14/Q14"


def test_where_no_offer_is_near_the_price_is_held_and_said(house_engine: Engine) -> None:
    found = desk(house_engine, pair="Q14/Q20", filling_ne="7.4")
    filling = found.changed.swap.yarns[1]
    assert filling.held
    assert filling.name == "Q20’s price"
    assert filling.price == found.before.yarns[1].price
    assert float(filling.ne.value) == 7.4


def test_own_spinning_takes_the_place_of_an_offer(house_engine: Engine) -> None:
    found = desk(house_engine, filling_yarn="own OE", OE__rotor_rpm="90000")
    own = found.changed.swap.yarns[1]
    slower = desk(house_engine, filling_yarn="own OE").changed.swap.yarns[1]
    assert own.name == "own OE"
    assert own.price < slower.price
    again = desk(house_engine, pair="own ring/own OE", loom_ppi="39")
    assert again.changed.swap.key == again.before.key == "own ring/own OE"


def test_a_wanted_process_leaves_the_others_out(house_engine: Engine) -> None:
    found = desk(house_engine, code="DN-1375", pair="Q14/Q14", filling_spinning="ring")
    assert found.changed.swap.yarns[1].spinning == "ring"
    assert {"Q14", "Q15"} <= {each.code for each in found.changed.fallen}
    assert all("ring" in each.why for each in found.changed.fallen)


def test_what_falls_away_and_what_comes_in_is_told_with_the_reason(house_engine: Engine) -> None:
    found = desk(house_engine, pair="Q14/Q20", filling_ne="7").changed
    assert [each.code for each in found.fallen] == ["Q20", "Q19", "Q18"]
    assert {each.why for each in found.fallen} == {"Ne 8 is not near Ne 7"}
    assert found.joined[0].code == "Q14"
    assert [each.price for each in found.joined] == sorted(each.price for each in found.joined)


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("filling_ne", "0", "must be greater than 0"),
        ("filling_ne", "7,5", "decimal point"),
        ("filling_ne", "ring", "must be a number"),
        ("loom_ppi", "-4", "must be greater than 0"),
        ("loom_ppi", "NaN", "must be"),
        ("loom_ppi", "1e400", "must"),
        ("weave", "5/5 herring", "must be"),
        ("reed_width_in", "30", "above the reed width"),
        ("warp_crimp_percent", "400", "less than or equal to 100"),
        ("length_shrink_percent", "99", "less than or equal to 60"),
        ("cuttable_width_in", "99", "above the finished width"),
        ("filling_yarn", "Q09<script>", "is no offer near"),
        ("filling_yarn", "own silk", "is no offer near"),
        ("fabric__loom_efficiency", "140", "at most 100 %"),
        ("fabric__loom_rpm", "fast", "must be a number"),
    ],
)
def test_a_wrong_figure_is_named_left_out_and_the_rest_holds(
    house_engine: Engine, name: str, text: str, said: str
) -> None:
    before = counts(house_engine)
    found = desk(house_engine, season_metres="1000", **{name: text})
    assert said in found.errors[name.replace("__", ".")]
    assert found.after.season_metres == 1000.0
    plain = desk(house_engine, season_metres="1000").changed.swap
    assert found.changed.swap.figures == plain.figures
    assert counts(house_engine) == before
    with pytest.raises(BadValue):
        found.refuse_errors()


def test_a_pair_that_is_none_falls_back_and_says_so(house_engine: Engine) -> None:
    found = desk(house_engine, pair="Q40/Q20")
    assert "Q40 is no offer near Ne 7" in found.errors["pair"]
    assert found.before.yarns[1].name == "Q20"


def test_the_basis_moves_both_sides(house_engine: Engine) -> None:
    euro = desk(house_engine, basis=sound_basis_change({"currency": "EUR"}), loom_ppi="38")
    dollar = desk(house_engine, loom_ppi="38")
    for costing in ("before", "swap"):
        in_euro = euro.costing_of(costing).figures["fabric_cost"]
        assert in_euro * 1.186 == pytest.approx(
            dollar.costing_of(costing).figures["fabric_cost"], rel=1e-12
        )


def test_season_quantities_take_the_price_break_of_their_own_need(house_engine: Engine) -> None:
    """Q19: 1.80 from 40 t, 1.77 from 80 t; 111 t at 480,000 m, a tenth of it at 48,000."""
    season = sound_basis_change({"quantity": "season"})
    found = desk(house_engine, basis=season, pair="Q14/Q19", season_metres="48000")
    assert found.changed.swap.key == "Q14/Q19"
    assert found.changed.swap.yarns[1].price > found.before.yarns[1].price


def test_a_cloth_entered_finished_is_changed_in_its_loom_state(house_engine: Engine) -> None:
    kept = one_record(house_engine, NOUNS["constructions"], "DN-0975")
    loom = ("total_ends", "reed_width_in", "loom_ppi")
    values = {
        **{name: value for name, value in kept.values.items() if name not in loom},
        "code": "DN-F",
        "entered_state": "finished",
        "finished_epi": "69.2",
        "finished_ppi": "46.6",
        "filling_crimp_percent": "6.8",
    }
    add_record(house_engine, NOUNS["constructions"], values, 1)
    found = desk(house_engine, code="DN-F")
    for line in found.before.fabric.lines:
        assert found.changed.swap.figures[line.key] == found.before.figures[line.key], line.key
    assert found.stored["entered_state"] == "loom"
    assert desk(house_engine, code="DN-F", loom_ppi="38").after.loom_ppi == 38.0


def test_a_changed_record_is_seen_at_once(house_engine: Engine) -> None:
    desk(house_engine, loom_ppi="38")
    kept = one_record(house_engine, NOUNS["constructions"], "DN-1250")
    values = {**kept.values, "reed_width_in": Decimal("68")}
    change_record(house_engine, NOUNS["constructions"], "DN-1250", values, kept.version, 1)
    found = desk(house_engine, loom_ppi="38")
    assert found.before.construction.reed_width_in == 68.0
    assert found.after.reed_width_in == 68.0


def test_a_figure_opens_to_what_was_changed_and_what_it_was(house_engine: Engine) -> None:
    found = desk(house_engine, pair="Q14/Q20", loom_ppi="38")
    node = explain_column(found, "swap", "filling.mass")
    assert node.value == found.changed.swap.figures["filling.mass"]
    parts = dict(node.parts)
    picks = parts["loom_ppi"]
    assert isinstance(picks, Input)
    assert (picks.value, picks.source) == (38.0, "changed here, not stored")
    assert picks.as_entered == "before: 40"
    width = parts["reed_width_in"]
    assert isinstance(width, Input)
    assert width.source == "construction DN-1250"


@pytest.mark.parametrize(("column", "line"), [("nowhere", "ounces"), ("swap", "nothing")])
def test_what_is_not_there_does_not_open(house_engine: Engine, column: str, line: str) -> None:
    with pytest.raises(NotFound):
        explain_column(desk(house_engine), column, line)


def test_a_construction_nobody_offers_for_says_what_is_missing(house_engine: Engine) -> None:
    kept = one_record(house_engine, NOUNS["constructions"], "DN-0975")
    values = {**kept.values, "code": "DN-X", "warp_ne": "40"}
    add_record(house_engine, NOUNS["constructions"], values, 1)
    with pytest.raises(Missing, match="No offer fits the warp"):
        desk(house_engine, code="DN-X")
    own = desk(house_engine, code="DN-X", pair="own ring/Q31")
    assert own.before.key == "own ring/Q31"
