"""Comparisons and variants frozen into a pack: every figure as it was, every text complete."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from server.core.again import compute_again
from server.core.change import change
from server.core.costing import Costing, own_spun, price_held
from server.core.freeze import (
    MOST_PAIRS,
    Heading,
    Pool,
    assemble,
    freeze_comparison,
    freeze_variant,
)
from server.core.given import Frozen, Given, given_for
from server.core.pack import Fact, FrozenInput, Pack
from server.core.sound_pack import refuse_unsound
from server.store.packs import Content, content_of, read_content
from tests.builders import (
    FROZEN_AT,
    all_formulas,
    assumption_set,
    basis,
    construction,
    demo_book,
    demo_comparison,
    demo_comparisons,
    pack_of,
)
from tests.random_packs import own_spun_pack, random_pack

FINITE = st.floats(allow_nan=False, allow_infinity=False, min_value=-1e60, max_value=1e60)


def demo_frozen() -> Frozen:
    book = demo_book()
    found = demo_comparisons()
    assumptions = book.assumption_set(book.basis().assumption_set)
    return Frozen(pack_of(*found), given_for(found, assumptions, book.limits, book.replaced))


def test_every_figure_of_the_demo_is_frozen_to_the_last_bit() -> None:
    pack, looked_at = pack_of(*demo_comparisons()), 0
    for cloth, compared in zip(pack.cloths, demo_comparisons(), strict=True):
        for pair in cloth.pairs:
            found = compared.find(*pair.key.split("/"))
            assert found is not None
            sheet, inputs = compared.sheet_of(found)
            values = {name: float(inputs[name].value) for name in sheet.input_names}
            worked_out = sheet.evaluate(values)
            direct = {line.key: float(worked_out[line.key]) for line in sheet.lines}
            assert pack.figures_of(pair) == direct
            assert {n: each.value for n, each in pack.inputs_of(pair).items()} == values
            assert {n: each.label for n, each in pack.inputs_of(pair).items()} == {
                name: inputs[name].label for name in sheet.input_names
            }
            assert pack.value_of(pair, "fabric_cost") == direct["fabric_cost"]
            assert (pair.combination, pair.state) == (found.combination, found.state)
            looked_at += len(direct)
    assert looked_at > 5_000


@pytest.mark.parametrize("seed", range(8))
def test_random_packs_of_every_term_currency_and_finish_keep_their_figures(seed: int) -> None:
    made = random_pack(seed, 2)
    for at, cloth in enumerate(made.pack.cloths):
        for pair in cloth.pairs:
            whole = made.behind[at, pair.key]
            values = {name: float(each.value) for name, each in whole.inputs.items()}
            worked_out = whole.sheet.evaluate(values)
            assert made.pack.figures_of(pair) == {
                line.key: worked_out[line.key] for line in whole.sheet.lines
            }


def test_the_formula_of_a_line_reads_as_words_and_works_out_to_the_figure() -> None:
    pack = pack_of(demo_comparison("DN-1375"))
    pair = pack.cloths[0].pairs[0]
    lines = {line.key: line for line in pack.lines_of(pair)}
    assert pack.in_words(pair, lines["filling.cost"]).count("Same-basis price") == 1
    fed = {a: pack.value_of(pair, key) for a, key in lines["price_at_margin"].feeds}
    cells = pack.formulas[lines["price_at_margin"].formula].cells.format_map(fed)
    worked_out = eval(cells, {"__builtins__": {}})
    assert worked_out == pytest.approx(pack.value_of(pair, "price_at_margin"), rel=1e-12)
    assert all(formula.source for formula in pack.formulas.values())


def test_the_first_twenty_pairs_are_kept_and_the_best_of_every_combination() -> None:
    for compared in demo_comparisons():
        cloth = freeze_comparison(compared, Pool())
        keys = [pair.key for pair in cloth.pairs]
        assert keys[: len({*keys} & {p.key for p in compared.pairs(MOST_PAIRS)})]
        assert {pair.key for pair in compared.pairs(MOST_PAIRS)} <= {*keys}
        assert {pair.key for pair in compared.ladder} <= {*keys}
        assert {c.best for row in cloth.cells for c in row if c.best} <= {*keys}
        assert len(keys) <= MOST_PAIRS + len(compared.ladder)
        assert (cloth.pair_count, cloth.possible_count) == (
            compared.pair_count, compared.possible_count,
        )  # fmt: skip
        if compared.leader:
            assert cloth.leader is not None
            assert cloth.leader.key == compared.leader.key


def test_chosen_pairs_are_kept_possible_or_not_and_those_gone_are_left_out() -> None:
    compared = demo_comparison("DN-1375")
    impossible = next(pair for pair in compared.pairs(2000) if pair.state == "impossible")
    last = [pair for pair in compared.pairs(2000) if pair.state == "possible"][-1]
    chosen = (impossible.key, last.key, "Q98/Q99", "nonsense", "")
    cloth = freeze_comparison(compared, Pool(), chosen=chosen)
    kept = {pair.key: pair for pair in cloth.pairs}
    assert set(kept) == {impossible.key, last.key, *(pair.key for pair in compared.ladder)}
    assert cloth.pairs[-1].key == impossible.key, "possible pairs stand first"
    assert any(yarn.reasons for yarn in kept[impossible.key].yarns)
    assert cloth.leader is not None
    assert compared.leader is not None
    assert cloth.leader.key == compared.leader.key


def test_a_cloth_without_possible_pairs_has_no_leader() -> None:
    pack = pack_of(demo_comparison("DN-1375"))
    cloth = pack.cloths[0]
    none = replace(cloth, pairs=tuple(replace(p, state="unproven") for p in cloth.pairs))
    assert none.leader is None
    assert replace(cloth, pairs=()).leader is None


def variant_with(kind: str) -> Pack:
    """A variant whose filling is spun here, or has the price of an offer of another count."""
    book, compared = demo_book(), demo_comparison("DN-1375")
    cloth, on = compared.construction, book.basis()
    assumed = book.assumption_set(on.assumption_set)
    assert compared.leader is not None
    from server.core.costing import bought

    yarns = [bought(member, member.slot) for member in compared.leader.members]
    after = own_spun(cloth.slots[1], "ring", assumed) if kind == "own" else price_held(
        yarns[1], replace(cloth.slots[1], ne=9.0)
    )  # fmt: skip
    before = Costing(cloth, on, assumed, tuple(yarns))
    swap = replace(before, yarns=(yarns[0], after))
    pool = Pool()
    frozen = freeze_variant("another filling", "filling", change(before, swap, book.rates), pool)
    heading = Heading("2026-03-12-tarn-0003", "Filling", "Tarn & Fell", date(2026, 3, 12))
    return assemble(heading, on, [frozen], pool, engine="trial", made_at=FROZEN_AT)


@pytest.mark.parametrize(("kind", "code"), [("own", "own ring"), ("held", "’s price")])
def test_a_variant_keeps_every_column_that_exists_also_of_own_and_held_yarns(
    kind: str, code: str
) -> None:
    pack = variant_with(kind)
    refuse_unsound(pack)
    cloth = pack.cloths[0]
    assert [pair.key for pair in cloth.pairs][:2] == ["before", "swap"]
    assert [pair.label for pair in cloth.pairs][:2] == ["As it stands", "Plain swap"]
    yarn = cloth.pairs[1].yarns[1]
    assert code in yarn.code
    assert (yarn.supplier, yarn.country, yarn.valid_until) == ("", "", None)
    assert (cloth.cells, cloth.ladder, cloth.excluded, cloth.ties) == ((), (), (), ())
    assert cloth.leader is cloth.pairs[0]
    assert cloth.title == "DN-1375 Larkspur, another filling"
    again = compute_again(Frozen(pack, demo_frozen().given))
    assert again.is_same
    assert again.looked_at == sum(len(pair.figures) for pair in cloth.pairs)


def test_lines_sheets_and_inputs_are_kept_once() -> None:
    pack = pack_of(*demo_comparisons())
    for things in (pack.lines, pack.sheets, pack.inputs):
        assert len(set(things)) == len(things)
    pairs = [pair for cloth in pack.cloths for pair in cloth.pairs]
    assert len(pack.inputs) < sum(len(pair.inputs) for pair in pairs) / 4
    assert all_formulas().keys() >= pack.formulas.keys()


def test_the_records_behind_a_pack_are_those_looked_at_and_rates_that_hold() -> None:
    given = demo_frozen().given
    assert len(given.constructions) == 8
    assert {offer.code for offer in given.offers} <= {o.code for o in demo_book().offers}
    for compared in demo_comparisons():
        again = given.compare(compared.construction)
        assert [pair.key for pair in again.pairs(50)] == [pair.key for pair in compared.pairs(50)]
        assert [dict(pair.figures) for pair in again.pairs(5)] == [
            dict(pair.figures) for pair in compared.pairs(5)
        ]


def test_a_pack_reads_back_from_its_text_exactly() -> None:
    frozen = demo_frozen()
    content = content_of(frozen)
    back = read_content(content)
    assert back == frozen
    assert content_of(back) == content
    assert content_of(back).digest == content.digest
    assert [type(each) for each in back.given.offers] == [type(e) for e in frozen.given.offers]
    assert "NaN" not in content.pack


@settings(deadline=None)
@given(st.lists(FINITE, min_size=1, max_size=6), st.text(max_size=30), st.data())
def test_any_figure_and_any_text_read_back_to_the_last_bit(
    values: list[float], words: str, data: st.DataObject
) -> None:
    whole = pack_of_few()
    pair = whole.cloths[0].pairs[0]
    figures = (*values, *pair.figures[len(values) :])
    inputs = (
        tuple(replace(each, value=data.draw(FINITE), label=words) for each in whole.inputs[:3])
        + whole.inputs[3:]
    )
    cloth = replace(
        whole.cloths[0], pairs=(replace(pair, figures=figures),), ladder=(), cells=(),
        facts=(Fact(words, words),),
    )  # fmt: skip
    frozen = Frozen(replace(whole, cloths=(cloth,), inputs=inputs, notes=words), EMPTY)
    back = read_content(content_of(frozen))
    assert back == frozen
    read = back.pack.cloths[0].pairs[0].figures
    assert [each.hex() for each in read] == [each.hex() for each in figures]


EMPTY = Given(
    basis(), (construction(),), assumption_set(), demo_book().rates, (), (), {"Q01": "Q41"}
)


def pack_of_few() -> Pack:
    whole = pack_of(demo_comparison("DN-1375"))
    cloth = whole.cloths[0]
    return replace(whole, cloths=(replace(cloth, pairs=cloth.pairs[:1]),))


def test_a_figure_that_is_no_number_does_not_read_back() -> None:
    from server.core.errors import BadValue

    frozen = Frozen(pack_of_few(), EMPTY)
    text = json.loads(content_of(frozen).pack)
    for wrong in (float("nan"), float("inf"), 1e300, None, "12", True):
        text["cloths"][0]["pairs"][0]["figures"][0] = wrong
        text["cloths"][0]["ladder"], text["cloths"][0]["cells"] = [], []
        content = Content(json.dumps(text), content_of(frozen).given)
        if wrong in ("12", True):
            continue  # read as the number it is
        with pytest.raises(BadValue):
            read_content(content)


def test_own_yarns_of_every_route_freeze_with_their_own_lines() -> None:
    made = own_spun_pack()
    for at, cloth in enumerate(made.pack.cloths):
        for pair in cloth.pairs:
            assert {yarn.code for yarn in pair.yarns} <= {"own ring", "own OE"}
            figures = made.pack.figures_of(pair)
            assert figures["warp.own.should_cost"] == figures["warp.same_basis_price"]
            assert len(figures) == len(made.behind[at, pair.key].sheet.lines)


def test_an_input_tells_all_it_is_known_by() -> None:
    pack = pack_of(demo_comparison("DN-1375"))
    quoted = next(each for each in pack.inputs if each.label == "Price as quoted")
    assert isinstance(quoted, FrozenInput)
    assert quoted.source.startswith("offer Q")
    assert quoted.where.startswith("/offers/Q")
    assert quoted.on is not None
