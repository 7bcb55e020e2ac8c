"""The built-in stories of the demo scenario, with the figures it prints."""

from __future__ import annotations

from dataclasses import replace

import pytest

from server.core.break_even import Option, break_even, break_evens_of, price_to_beat
from server.core.change import Changed, change
from server.core.compare import Comparison, Pair, compare
from server.core.construction import Construction
from server.core.costing import Costing, bought
from server.core.doubts import doubts_about
from server.core.effects import effects_of
from server.core.landing import land
from server.core.offer import Offer
from server.core.twist_cost import twist_costs
from server.core.whole_pair import WholePair
from tests.builders import demo_book, demo_comparison, is_printed_as


def landed(offer: Offer) -> dict[str, float]:
    """Every figure of an offer's landed sheet on the demo basis."""
    book = demo_book()
    landing = land(offer, book.basis(), book.rates, prefix="at")
    figures = landing.sheet.evaluate({name: e.value for name, e in landing.inputs.items()})
    return {key.removeprefix("at."): float(value) for key, value in figures.items()}


def same_basis(code: str) -> float:
    return landed(demo_book().offer(code))["same_basis_price"]


def as_option(code: str) -> Option:
    """An offer's way to the mill, to be held against another's."""
    book = demo_book()
    landing = land(book.offer(code), book.basis(), book.rates, prefix="at")
    return Option(landing.sheet, landing.inputs, "at.same_basis_price")


def pair_in(comparison: Comparison, warp: str, filling: str) -> Pair:
    pair = comparison.find(warp, filling)
    assert pair is not None
    return pair


def figures_of(comparison: Comparison, pair: Pair) -> dict[str, float]:
    sheet, inputs = comparison.sheet_of(pair)
    return sheet.evaluate({name: entry.value for name, entry in inputs.items()})


def compared_again(code: str, *changed: Offer) -> Comparison:
    """A construction compared with some offers replaced by changed ones."""
    book = demo_book()
    instead = {offer.code: offer for offer in changed}
    return compare(
        book.construction(code),
        book.basis(),
        book.assumption_set(book.basis().assumption_set),
        book.rates,
        [instead.get(offer.code, offer) for offer in book.offers],
        book.limits,
    )


def compared_again_as(construction: Construction) -> Comparison:
    """A changed construction compared with the demo's offers."""
    book = demo_book()
    return compare(
        construction,
        book.basis(),
        book.assumption_set(book.basis().assumption_set),
        book.rates,
        book.current_offers,
        book.limits,
    )


def test_story_01_same_price_three_languages() -> None:
    first, second = landed(demo_book().offer("Q05")), landed(demo_book().offer("Q08"))
    assert is_printed_as((1 - first["goods_price"] / second["goods_price"]) * 100, "9.3")
    assert is_printed_as(first["same_basis_price"], "2.6807")
    assert is_printed_as(second["same_basis_price"], "2.6815")
    assert demo_book().offer("Q05").price_text == "112 USc/lb"
    assert demo_book().offer("Q08").price_text == "46.80 MXN/kg"


def test_story_02_dead_favourite() -> None:
    comparison = demo_comparison("DN-1450")
    rotor = [each for each in comparison.filling.candidates if each.offer.yarn.quoted_ne == 6]
    cheapest = min(rotor, key=lambda each: each.price)
    assert cheapest.offer.code == "Q06"
    assert is_printed_as(cheapest.price, "2.318")
    assert "expired on 2026-02-20, before the meeting on 2026-03-12" in cheapest.standing.reasons
    assert comparison.leader is not None
    assert comparison.leader.filling.offer.code == "Q07"
    assert is_printed_as(comparison.leader.filling.price, "2.354")
    left_out = next(each for each in comparison.excluded if each.candidate.offer.code == "Q06")
    assert left_out.saving is not None
    assert left_out.saving > 0


def test_story_03_base_count() -> None:
    offer = demo_book().offer("Q23")
    assert offer.yarn.average_ne == pytest.approx(7.90, abs=0.005)
    comparison = demo_comparison("DN-1200S")
    average = figures_of(comparison, pair_in(comparison, "Q23", "Q35"))
    yarn = replace(offer.yarn, count_basis="average", slub_added_mass=None)
    misread_comparison = compared_again("DN-1200S", replace(offer, yarn=yarn))
    misread = figures_of(misread_comparison, pair_in(misread_comparison, "Q23", "Q35"))
    assert is_printed_as(misread["warp.cost"], "1.112")
    assert is_printed_as(average["warp.cost"], "1.197")
    assert is_printed_as(average["ounces"], "12.60")
    metres = comparison.construction.season_metres or 0.0
    season = (average["warp.cost"] - misread["warp.cost"]) * metres
    assert round(season, -2) == 52_400
    assert misread_comparison.leader is not None
    assert misread_comparison.leader.key == "Q23/Q35"
    assert "Q23" not in {pair.warp.offer.code for pair in comparison.ladder}


def test_story_04_ring_in_name_only() -> None:
    for code, hairiness, tenacity in (("Q04", 6.4, 10.9), ("Q17", 6.3, 11.6)):
        offer = demo_book().offer(code)
        assert (offer.tests["hairiness"], offer.tests["tenacity"]) == (hairiness, tenacity)
        assert [each.key for each in doubts_about(offer)] == ["ring in name only"]
    ring = [
        offer
        for offer in demo_book().offers
        if offer.yarn.spinning == "ring"
        and offer.yarn.core == "none"
        and (offer.yarn.quoted_ne or 99) < 9
    ]
    assert len(ring) == 13
    assert all(7.5 < offer.tests["hairiness"] < 10 for offer in ring)
    assert all(13.5 < offer.tests["tenacity"] < 16.5 for offer in ring)
    assert not any("ring" in each.key for o in ring for each in doubts_about(o))


def test_story_05_near_tie() -> None:
    assert is_printed_as(same_basis("Q10"), "2.9274")
    assert is_printed_as(same_basis("Q11"), "2.9269")
    comparison = demo_comparison("DN-1375")
    states = {each.offer.code: each.standing.state for each in comparison.warp.candidates}
    assert states["Q10"] == "possible"
    assert states["Q11"] == "unproven"
    assert comparison.is_near_tie(
        pair_in(comparison, "Q10", "Q09"), pair_in(comparison, "Q11", "Q09")
    )


def test_story_06_peso_decides() -> None:
    comparison = demo_comparison("DN-1200S")
    options = [
        Option(*comparison.sheet_of(pair_in(comparison, warp, "Q35")), "fabric_cost")
        for warp in ("Q25", "Q22")
    ]
    tie = break_even(options[0], options[1], "exchange_rate.MXN")
    assert tie is not None
    assert is_printed_as(tie, "17.00")
    assert is_printed_as((17.2 / tie - 1) * 100, "1.2")
    put_back = [float(option.cost({"exchange_rate.MXN": tie})) for option in options]
    assert put_back[0] == pytest.approx(put_back[1], rel=1e-12)
    stronger = [float(option.cost({"exchange_rate.MXN": 16.9})) for option in options]
    assert stronger[0] > stronger[1]
    named = {(each.name, each.of): each.value for each in break_evens_of(comparison)}
    assert ("exchange_rate.MXN", "") in named


def test_story_08_price_to_beat() -> None:
    for leader, rival, printed, quoted in (
        ("Q10", "Q12", "51.09", "52.90"),
        ("Q25", "Q22", "2.547", "2.58"),
        ("Q07", "Q05", "97.10", "112"),
    ):
        price = price_to_beat(as_option(leader), as_option(rival), "at.quoted_price")
        assert price is not None
        assert is_printed_as(price, printed), f"{rival} ties {leader} at {price}"
        assert str(demo_book().offer(rival).price) == quoted


def test_story_09_award_by_evaluating_the_split_at_its_price_breaks() -> None:
    """The engine has no award yet; its prices at each quantity give the three totals."""
    cheap, broken = demo_book().offer("Q20"), demo_book().offer("Q19")
    steps = [(float(each.from_tonnes), str(each.price)) for each in broken.breaks]
    assert (str(broken.price), steps) == ("1.84", [(40.0, "1.80"), (80.0, "1.77")])
    comparison = demo_comparison("DN-1250")
    need = figures_of(comparison, pair_in(comparison, "Q14", "Q20"))["filling_season_tonnes"]
    assert is_printed_as(need, "111.42")
    assert cheap.capacity_tonnes == 60

    def cost(tonnes_from_cheap: float) -> float:
        book, rest = demo_book(), need - tonnes_from_cheap
        total = tonnes_from_cheap * 1000 * same_basis("Q20")
        landing = land(broken, book.basis(), book.rates, prefix="at", tonnes=rest)
        price = landing.sheet.evaluate({n: e.value for n, e in landing.inputs.items()})
        return total + rest * 1000 * float(price["at.same_basis_price"])

    assert is_printed_as(cost(60.0), "253369")
    assert is_printed_as(cost(0.0), "252104")
    assert is_printed_as(cost(need - 80.0), "251858")
    assert min(cost(need - 80.0), cost(0.0), cost(60.0)) == cost(need - 80.0)


def changed_filling() -> Changed:
    """DN-1250 with its filling from Ne 8 (Q20) to Ne 7 (Q14), as the warp."""
    before, rates = demo_comparison("DN-1250"), demo_book().rates
    cloth = before.construction
    warp, filling = cloth.slots
    coarser = replace(cloth, slots=(warp, replace(filling, ne=7.0)))
    after = compared_again_as(coarser)
    costings = [
        Costing(
            each.construction,
            each.basis,
            each.assumptions,
            tuple(bought(member, member.slot) for member in pair_in(each, *codes).members),
        )
        for each, codes in ((before, ("Q14", "Q20")), (after, ("Q14", "Q14")))
    ]
    return change(costings[0], costings[1], rates)


def test_story_10_construction_change() -> None:
    changed = changed_filling()
    before = changed.before.figures
    found = {alternative.key: costing for alternative, costing in changed.reached}
    swap, weight, cover = (found[key] for key in ("swap", "weight-picks", "cover"))
    assert is_printed_as(before["filling.cost"] * 100, "52.3")
    assert is_printed_as(swap.figures["ounces"], "13.13")
    assert is_printed_as(swap.figures["filling.cost"] * 100, "59.3")
    assert is_printed_as(weight.construction.loom_ppi, "35.0")
    assert is_printed_as(weight.figures["ounces"], "12.51")
    assert is_printed_as(weight.figures["filling.cost"] * 100, "51.9")
    assert is_printed_as(before["filling_cover_loom"], "14.14")
    assert is_printed_as(weight.figures["filling_cover_loom"], "13.23")
    assert is_printed_as((weight.figures["loom_output"] / before["loom_output"] - 1) * 100, "14.3")
    assert is_printed_as(cover.construction.loom_ppi, "37.42")
    assert is_printed_as(cover.figures["ounces"], "12.81")
    assert is_printed_as(cover.figures["filling.cost"] * 100, "55.4")
    assert is_printed_as((cover.figures["loom_output"] / before["loom_output"] - 1) * 100, "6.9")


def test_story_11_ladder() -> None:
    comparison = demo_comparison("DN-1375")
    best = {pair.combination: pair for pair in comparison.ladder}
    assert {name: pair.key for name, pair in best.items()} == {
        "ring/ring": "Q09/Q09",
        "ring/OE": "Q09/Q14",
        "OE/ring": "Q14/Q09",
        "OE/OE": "Q14/Q14",
    }
    cost = {name: pair.figures["yarn_cost"] for name, pair in best.items()}
    assert is_printed_as(cost["ring/ring"], "2.041")
    assert is_printed_as(cost["ring/OE"], "1.893")
    assert is_printed_as(cost["OE/OE"], "1.638")
    assert is_printed_as((cost["ring/ring"] - cost["ring/OE"]) * 100, "14.8")
    assert is_printed_as((cost["ring/OE"] - cost["OE/OE"]) * 100, "25.5")


def test_story_12_cost_of_a_constraint() -> None:
    comparison = demo_comparison("DN-1375")
    wound_s = [e for e in comparison.warp.candidates if e.offer.yarn.twist == "S"]
    assert [each.offer.code for each in wound_s] == ["Q13"]
    cost = pair_in(comparison, "Q13", "Q13").figures["yarn_cost"]
    assert is_printed_as(cost, "2.607")
    z_ring = pair_in(comparison, "Q09", "Q09").figures["yarn_cost"]
    assert is_printed_as((cost - z_ring) * 100, "56.6")
    costs = {each.key: each for each in twist_costs(comparison.construction, comparison)}
    asked = costs["S warp and filling"]
    assert asked.pair is not None
    assert asked.without is not None
    assert (asked.pair.key, asked.without.key) == ("Q13/Q13", "Q09/Q09")
    assert is_printed_as((asked.more("yarn_cost") or 0.0) * 100, "56.6")


def test_story_13_width() -> None:
    stretch, rigid = demo_comparison("DN-1050S"), demo_comparison("DN-1450")
    narrow = figures_of(stretch, pair_in(stretch, "Q30", "Q36"))
    wide = figures_of(rigid, pair_in(rigid, "Q01", "Q07"))
    assert narrow["garment_length"] == pytest.approx(1.475, abs=1e-12)
    assert wide["garment_length"] == pytest.approx(1.30, abs=1e-12)
    assert is_printed_as((1 - narrow["yarn_cost"] / wide["yarn_cost"]) * 100, "13.7")
    assert is_printed_as((1 - narrow["garment_yarn"] / wide["garment_yarn"]) * 100, "2.1")
    assert is_printed_as(narrow["garment_yarn"], "2.70")
    assert is_printed_as(wide["garment_yarn"], "2.76")


def test_story_14_tolerance() -> None:
    comparison = demo_comparison("DN-1450")
    sheet, inputs = comparison.sheet_of(pair_in(comparison, "Q02", "Q08"))
    values = {name: entry.value for name, entry in inputs.items()}
    tolerance = demo_book().offer("Q08").count_tolerance or 0.0
    nominal = sheet.evaluate(values)
    coarse = sheet.evaluate(values | {"filling.costing_ne": 6 * (1 - tolerance)})
    assert 6 * (1 - tolerance) == pytest.approx(5.82)
    assert is_printed_as((coarse["filling.buy"] / nominal["filling.buy"] - 1) * 100, "3.09")
    more = coarse["filling.cost"] - nominal["filling.cost"]
    assert is_printed_as(more * 100, "2.5")
    assert round(more * 220_000, -2) == 5_400
    assert is_printed_as(coarse["ounces"] - nominal["ounces"], "0.18")


def test_story_15_elastane() -> None:
    book = demo_book()
    dear, cheap = book.offer("Q34"), book.offer("Q35")
    assert same_basis("Q35") < same_basis("Q34")
    assert landed(cheap)["duty"] == 0
    assert landed(dear)["duty"] == pytest.approx(landed(dear)["cif_value"] * 0.10)
    assert is_printed_as((dear.yarn.elastane_share or 0) * 100, "3.76")
    assert is_printed_as((cheap.yarn.elastane_share or 0) * 100, "3.47")
    comparison = demo_comparison("DN-1200S")
    for code, printed in (("Q34", "3.76"), ("Q35", "3.47")):
        pair = pair_in(comparison, "Q25", code)
        whole = WholePair.of(comparison, pair, effects_of(comparison, pair))
        share = whole.figures["filling.core1_elastane_share"]
        assert is_printed_as(share * 100, printed)
        assert whole.figures["filling.cotton_share"] == pytest.approx(1 - share, abs=1e-15)


def test_story_16_blend_basis() -> None:
    book = demo_book()
    assert book.basis().house_regain["50/50 polyester/cotton"] == 0.0445
    for code in ("Q32", "Q33"):
        offer = book.offer(code)
        right = landed(offer)["same_basis_price"]
        as_cotton = replace(offer, yarn=replace(offer.yarn, fibre_mix="cotton"))
        wrong = landed(as_cotton)["same_basis_price"]
        assert is_printed_as((1 - wrong / right) * 100, "3.7")
