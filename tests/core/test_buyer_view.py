"""The buyer's view: a white list, letters, fixed figures; what is not chosen is not there."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import fields, replace
from functools import cache

import pytest

from server.core.buyer_view import (
    BY_KEY,
    COSTS,
    FIELDS,
    OPEN_BOOK,
    PRICE_AND_WEIGHT,
    also_told,
    for_buyer,
    plain_reference,
    sound_choice,
)
from server.core.errors import BadValue
from server.core.pack import BUYER, COST, PRICE, Pack
from server.export.packs import pack_document, pairs_csv
from tests.builders import demo_comparisons, pack_of
from tests.core.test_freeze import variant_with
from tests.export.handouts import variant_pack
from tests.random_packs import own_spun_pack, random_pack

ALL_COSTS = tuple(key for key in BY_KEY if key != "price")


@cache
def demo() -> Pack:
    return pack_of(*demo_comparisons(), notes="walk away below 2.41")


@pytest.mark.parametrize("cost", COSTS)
def test_a_price_beside_any_cost_is_refused(cost: str) -> None:
    with pytest.raises(BadValue, match="margin") as refused:
        sound_choice(("weight", cost, "price"))
    assert refused.value.field == "shown"
    assert refused.value.remedy
    assert BY_KEY[cost].label in refused.value.message
    with pytest.raises(BadValue):
        for_buyer(demo(), ("price", cost))


def test_every_choice_without_both_is_sound_and_comes_in_the_order_of_the_form() -> None:
    free = [each.key for each in FIELDS if each.key not in COSTS]
    assert sound_choice(free) == tuple(free)
    assert sound_choice(ALL_COSTS[::-1]) == ALL_COSTS
    assert sound_choice(()) == ()
    assert sound_choice(PRICE_AND_WEIGHT) == PRICE_AND_WEIGHT
    assert sound_choice(OPEN_BOOK) == OPEN_BOOK


def test_all_that_is_money_is_a_cost_or_the_price() -> None:
    """Nothing with a currency in its unit may stand beside a price unseen."""
    packs = [demo(), own_spun_pack().pack, *(random_pack(seed, 2).pack for seed in range(6))]
    for pack in packs:
        for key in BY_KEY.keys() - {*COSTS, "price"}:
            shown = for_buyer(pack, (key,))
            units = {line.unit for line in shown.lines} | {each.unit for each in shown.inputs}
            assert not any("¤" in unit or "USD" in unit for unit in units), key


def test_an_unknown_field_is_refused_with_those_there_are() -> None:
    with pytest.raises(BadValue, match="nothing that can be shown") as refused:
        sound_choice(("weight", "margin"))
    assert refused.value.value == "margin"
    assert "open" not in refused.value.remedy
    assert "yarn_price" in refused.value.remedy


def test_every_field_shows_something_of_the_demo_or_of_a_pack_with_everything() -> None:
    packs = [demo(), *(random_pack(seed, 2).pack for seed in range(20))]
    present = {key for p in packs for key in {line.key for line in p.lines}
               | {name for sheet in p.sheets for name in sheet.inputs}}  # fmt: skip
    last = {f".{key.partition('.')[2]}" for key in present} | present
    for each in FIELDS:
        if each.key == "yarns":
            continue  # it shows the yarns of a pair, which are no figures
        assert {*each.keys} - last == set(), f"{each.key} names what no pack has"


@pytest.mark.parametrize(
    "shown", [(), ("weight",), ("countries",), PRICE_AND_WEIGHT, OPEN_BOOK, ALL_COSTS]
)
@pytest.mark.parametrize("kind", ["demo", "variant", "own", "held", "own spun"])
def test_every_figure_is_as_in_the_pack_and_stands_on_what_is_shown(
    shown: tuple[str, ...], kind: str
) -> None:
    makers: dict[str, Callable[[], Pack]] = {
        "demo": demo,
        "variant": variant_pack,
        "own": lambda: variant_with("own"),
        "held": lambda: variant_with("held"),
        "own spun": lambda: own_spun_pack().pack,
    }
    pack = makers[kind]()
    buyers = for_buyer(pack, shown, words="Good morning")
    assert (buyers.view, buyers.notes) == (BUYER, "Good morning")
    assert buyers.headline == (PRICE if "price" in shown else COST if "cost" in shown else "")
    for cloth, theirs in zip(pack.cloths, buyers.cloths, strict=True):
        kept = [p for p in cloth.pairs if cloth.variant or p.state == "possible"]
        assert len(kept) == len(theirs.pairs)
        assert len({pair.key for pair in theirs.pairs}) == len(theirs.pairs)
        for pair, same in zip(kept, theirs.pairs, strict=True):
            known = set(buyers.inputs_of(same))
            for line, value in zip(buyers.lines_of(same), same.figures, strict=True):
                assert {source for _, source in line.feeds} <= known
                known.add(line.key)
                assert value == pack.value_of(pair, line.key)
                assert buyers.in_words(same, line)
            for name, entry in buyers.inputs_of(same).items():
                assert entry.value == pack.value_of(pair, name)
                assert (entry.source, entry.on, entry.as_entered, entry.where) == (
                    "", None, "", "",
                )  # fmt: skip
            assert buyers.value_of(same, "margin_on_price") is None
            assert (buyers.value_of(same, "fabric_cost") is not None) == ("cost" in shown)
    assert pack_document(buyers)
    assert pairs_csv(buyers)


def test_nothing_but_the_white_list_is_copied() -> None:
    """A field added to the yarn, the pair, the cloth or the basis does not leave by itself."""
    pack = for_buyer(demo(), ())
    for cloth in pack.cloths:
        assert (cloth.facts, cloth.excluded, cloth.ties, cloth.change) == ((), (), (), "")
        for pair in cloth.pairs:
            assert (pair.figures, pair.inputs) == ((), ())
            for yarn in pair.yarns:
                told = {each.name for each in fields(yarn) if getattr(yarn, each.name)}
                assert told == {"slot", "direction", "code", "supplier", "spinning", "process"}
                assert yarn.process == yarn.spinning
    assert (pack.lines, pack.inputs, dict(pack.formulas)) == ((), (), {})
    assert {each.name for each in fields(pack.basis) if getattr(pack.basis, each.name)} == {
        "currency", "rates_on", "as_of", "meeting", "need_by",
    }  # fmt: skip


def test_one_seller_has_one_letter_in_all_constructions_and_each_offer_one_code() -> None:
    pack, buyers = demo(), for_buyer(demo(), ("yarns",))
    sellers: dict[str, set[str]] = {}
    codes: dict[str, set[str]] = {}
    for cloth, theirs in zip(pack.cloths, buyers.cloths, strict=True):
        kept = [p for p in cloth.pairs if p.state == "possible"]
        for pair, same in zip(kept, theirs.pairs, strict=True):
            for yarn, letter in zip(pair.yarns, same.yarns, strict=True):
                sellers.setdefault(yarn.supplier, set()).add(letter.supplier)
                codes.setdefault(yarn.code, set()).add(letter.code)
                assert letter.code.startswith(letter.supplier)
    for found in (sellers, codes):
        assert all(len(each) == 1 for each in found.values())
        assert len({each for of in found.values() for each in of}) == len(found)


def test_own_yarn_and_a_held_price_look_like_any_seller() -> None:
    for kind in ("own", "held"):
        buyers = for_buyer(variant_with(kind), OPEN_BOOK)
        swap = buyers.cloths[0].pairs[1]
        assert all(yarn.code[0].isupper() and yarn.code[-1].isdigit() for yarn in swap.yarns)
        labels = {line.label for line in buyers.lines} | {each.label for each in buyers.inputs}
        assert not any("spun here" in label or "should-cost" in label for label in labels)
        assert not any("own" in each.key for each in buyers.lines)


def test_a_variant_is_told_by_its_place_and_not_by_its_name_or_change() -> None:
    pack = variant_pack()
    buyers = for_buyer(pack, PRICE_AND_WEIGHT)
    assert [cloth.variant for cloth in buyers.cloths] == ["", "variant 2"]
    assert buyers.cloths[1].change == ""
    assert [pair.key for pair in buyers.cloths[1].pairs] == [p.key for p in pack.cloths[1].pairs]
    assert {pair.state for pair in buyers.cloths[1].pairs} == {""}


def test_counts_and_the_matrix_tell_of_possible_pairs_only() -> None:
    pack = demo()
    assert any(p.state != "possible" for cloth in pack.cloths for p in cloth.pairs)
    for cloth, theirs in zip(pack.cloths, for_buyer(pack, ("weight",)).cloths, strict=True):
        possible = sum(p.state == "possible" for p in cloth.pairs)
        assert (theirs.pair_count, theirs.possible_count) == (possible, possible)
        keys = {pair.key for pair in theirs.pairs}
        assert all(any(cell.best for cell in row) for row in theirs.cells)
        assert all(any(cell.best for cell in column) for column in zip(*theirs.cells, strict=True))
        assert {cell.best for row in theirs.cells for cell in row} - {""} <= keys
        assert sum(cell.possible for row in theirs.cells for cell in row) == possible
        assert {*theirs.ladder} <= keys


def test_an_empty_pack_and_one_without_possible_pairs_are_still_packs() -> None:
    empty = for_buyer(replace(demo(), cloths=()), OPEN_BOOK)
    assert empty.cloths == ()
    assert pairs_csv(empty).strip()
    cloths = tuple(
        replace(c, pairs=tuple(replace(p, state="unproven") for p in c.pairs), ladder=())
        for c in demo().cloths
    )
    none = for_buyer(replace(demo(), cloths=cloths), OPEN_BOOK)
    assert {cloth.pairs for cloth in none.cloths} == {()}
    assert {cloth.cells for cloth in none.cloths} == {()}
    assert {cloth.leader for cloth in none.cloths} == {None}
    assert (none.lines, none.inputs) == ((), ())
    assert also_told(replace(demo(), cloths=()), OPEN_BOOK) == ()


@pytest.mark.parametrize(
    ("reference", "plain"),
    [
        ("2026-03-12-quillonby-3fa9", "2026-03-12-3fa9"),
        ("2026-03-12-3fa9", "2026-03-12-3fa9"),
        ("2026-03-12-quillonby", "2026-03-12"),
        ("2025-01-01-quillonby-zz-12345", "2026-03-12"),
        ("quillonby", "2026-03-12"),
    ],
)
def test_the_reference_a_buyer_sees_has_no_words_of_the_house(reference: str, plain: str) -> None:
    pack = replace(demo(), reference=reference)
    assert plain_reference(pack) == plain
    assert for_buyer(pack, ("weight",)).reference == plain


def test_what_can_be_worked_out_besides_is_named() -> None:
    pack = demo()
    assert "Finished width" in also_told(pack, ("weight",))
    assert also_told(pack, OPEN_BOOK) == ()
    assert any("duty" in each.lower() for each in also_told(pack, ("way", "cost")))
    assert "which pair costs less (their order)" in also_told(pack, ("weight",))
    assert "which pair costs less (their order)" not in also_told(pack, ("weight", "price"))


def test_no_choice_that_is_sound_lets_the_margin_be_worked_out_one_formula_at_a_time() -> None:
    pack = demo()
    few = replace(pack, cloths=pack.cloths[:1])
    for size in (1, 2, 3):
        for shown in itertools.combinations(BY_KEY, size):
            if "price" in shown and {*COSTS} & {*shown}:
                continue
            assert "Target margin on price" not in also_told(few, shown), shown
    for shown in (ALL_COSTS, OPEN_BOOK, PRICE_AND_WEIGHT,
                  tuple(key for key in BY_KEY if key not in COSTS)):  # fmt: skip
        assert "Target margin on price" not in also_told(few, shown)
    assert "Target margin on price" in also_told(few, ("cost", "price")), "the search can find it"


def test_no_label_or_unit_names_an_offer_a_lane_or_a_currency_of_a_quote() -> None:
    """Of every line and input, in packs of every term, currency, slot and loom rule."""
    for seed in range(12):
        pack = random_pack(seed, 2).pack
        codes = {yarn.code for cloth in pack.cloths for pair in cloth.pairs for yarn in pair.yarns}
        quoted = {each.label for each in pack.inputs if each.label.startswith("Average count of")}
        assert quoted, "there is something to be left out"
        buyers = for_buyer(pack, ALL_COSTS)
        told = [(line.label, line.unit) for line in buyers.lines]
        told += [(each.label, each.unit) for each in buyers.inputs]
        words = " ".join(f"{label} {unit}" for label, unit in told)
        assert not any(code in words for code in codes)
        assert "¤q" not in words
        assert "MXN" not in words
        assert not any(lane in words for lane in ("Farport", "truck", "road"))
