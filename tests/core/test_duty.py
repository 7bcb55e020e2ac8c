"""Duty by tariff line: the row that asks for most holds, and what is not known is asked."""

from __future__ import annotations

import random
import tomllib
from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.core.break_even import break_evens_of
from server.core.duty import (
    ANY,
    ChosenDuty,
    DutyRate,
    choose_duty,
    goods_of,
    preparation_of,
    rivals_of,
)
from server.core.errors import Missing
from server.core.landing import land
from server.core.offer import Yarn
from server.web.numbers import Writer
from server.web.sentences import sentence
from tests.builders import (
    DAY,
    EXAMPLES,
    basis,
    demo_book,
    demo_comparison,
    duty_rate,
    offer,
    rate_book,
    yarn,
)

PUBLISHED = tomllib.loads((EXAMPLES / "duty" / "us_cotton_yarn.toml").read_text("utf-8"))
OLD, NEW = date(2026, 1, 1), date(2026, 2, 1)


def chosen_for(rows: Iterable[DutyRate], met: Yarn, country: str, on: date) -> ChosenDuty:
    return choose_duty(rows, goods_of(met), country, on)


def published_lines() -> tuple[DutyRate, ...]:
    return tuple(
        duty_rate(
            id=place,
            rate=float(line["rate_percent"]) / 100,
            source=PUBLISHED["source"],
            **{name: value for name, value in line.items() if name != "rate_percent"},
        )
        for place, line in enumerate(PUBLISHED["line"], start=10)
    )


def published_yarn(case: dict[str, Any]) -> Yarn:
    return yarn(
        count=Decimal(case["count"]),
        count_system=case["system"],
        ply=case.get("ply", 1),
        preparation=case.get("preparation", "carded"),
        fibre_mix=case.get("fibre_mix", "cotton"),
    )


@pytest.mark.parametrize("case", PUBLISHED["yarn"], ids=lambda case: case["id"])
def test_a_published_yarn_falls_under_its_published_line(case: dict[str, Any]) -> None:
    met = published_yarn(case)
    assert goods_of(met).dtex == case["dtex"]
    chosen = chosen_for(published_lines(), met, "Farland", DAY)
    assert chosen.rate.tariff_line == case["line"]
    percent = next(
        line["rate_percent"] for line in PUBLISHED["line"] if line["tariff_line"] == case["line"]
    )
    assert chosen.rate.rate == percent / 100


def test_a_yarn_under_no_line_takes_the_rate_for_all_yarn_or_is_refused() -> None:
    combed = yarn(count=Decimal(10), preparation="combed")
    with pytest.raises(Missing, match="no duty rate for Farland on 2026-03-02 that is for"):
        chosen_for(published_lines(), combed, "Farland", DAY)
    with_all = (*published_lines(), duty_rate(rate=0.08))
    chosen = chosen_for(with_all, combed, "Farland", DAY)
    assert chosen.rate.rate == 0.08
    assert chosen.why == "8 % for all yarn; no tariff line entered is for this yarn"


def test_a_line_is_told_in_dtex_and_in_ne() -> None:
    told = {line.tariff_line: line.words for line in published_lines()}
    assert told["5205.11"] == "714.29 dtex and more (Ne 8.27 and coarser), carded, single, cotton"
    assert told["5205.12"].startswith("232.56 to under 714.29 dtex (Ne 25.4 to 8.27)")
    assert told["5205.15"].startswith("under 125 dtex (finer than Ne 47.2)")
    assert duty_rate().words == "all yarn"


@pytest.mark.parametrize(
    ("words", "read"),
    [
        ("carded", "carded"), ("Combed", "combed"), ("combed blend", "combed"),
        ("uncombed", "carded"), ("not combed", "carded"), ("", ""), ("combed-carded", ""),
        ("semi-combed", ""), ("open-end grade", ""),
    ],
)  # fmt: skip
def test_preparation_is_read_where_the_words_say_one(words: str, read: str) -> None:
    assert preparation_of(words) == read


def test_country_only_rates_stay_as_they_were() -> None:
    rates = (
        duty_rate(id=1, rate=0.10, valid_from=OLD),
        duty_rate(id=2, rate=0.12, valid_from=NEW),
        duty_rate(id=3, rate=0.13, valid_from=NEW),
    )
    for order in (rates, rates[::-1]):
        chosen = chosen_for(order, yarn(), "Farland", DAY)
        assert (chosen.rate.id, chosen.why) == (3, "")
    landing = land(offer(), basis(), rate_book(duties=rates), prefix="warp")
    entry = landing.inputs["duty_rate.Farland"]
    assert (entry.label, entry.value, entry.as_entered) == ("Duty, Farland", 0.13, "")


def test_a_newer_rate_for_all_yarn_does_not_undo_an_older_line() -> None:
    rates = (
        duty_rate(id=1, rate=0.05, valid_from=OLD, preparation="carded"),
        duty_rate(id=2, rate=0.12, valid_from=NEW),
    )
    assert chosen_for(rates, yarn(preparation="carded"), "Farland", DAY).rate.id == 1
    assert chosen_for(rates, yarn(preparation="combed"), "Farland", DAY).rate.id == 2


def test_a_line_that_does_not_hold_yet_is_not_looked_at() -> None:
    rates = (duty_rate(), duty_rate(id=2, rate=0.02, valid_from=date(2026, 4, 1), ply="single"))
    assert chosen_for(rates, yarn(), "Farland", DAY).rate.id == 1


def test_the_explanation_says_which_row_was_taken_and_why() -> None:
    rates = rate_book(duties=(duty_rate(), *published_lines()))
    met = offer(yarn=yarn(preparation="carded"))
    landing = land(met, basis(), rates, prefix="warp")
    (name,) = (each for each in landing.inputs if each.startswith("duty_rate."))
    assert name == "duty_rate.Farland.10"
    opened = landing.sheet.explain("warp.duty", landing.inputs)
    (entry,) = (part for key, part in opened.parts if key == name)
    assert entry.label == "Duty, Farland, line 5205.11"
    assert "3.7 % for 714.29 dtex and more (Ne 8.27 and coarser)" in str(entry)
    assert "the most particular of 2 rows for this yarn" in str(entry)
    assert PUBLISHED["source"] in str(entry)


def test_warp_and_filling_of_one_country_pay_each_its_own_line() -> None:
    rates = rate_book(duties=published_lines())
    coarse = land(offer(yarn=yarn(preparation="carded")), basis(), rates, prefix="warp")
    fine = offer(yarn=yarn(preparation="carded", count=Decimal(10)))
    together = {**coarse.inputs, **land(fine, basis(), rates, prefix="filling").inputs}
    values = {name: float(entry.value) for name, entry in together.items()}
    warp = coarse.sheet.evaluate(values)
    filling = land(fine, basis(), rates, prefix="filling").sheet.evaluate(values)
    assert warp["warp.duty"] / warp["warp.cif_value"] == pytest.approx(0.037)
    assert filling["filling.duty"] / filling["filling.cif_value"] == pytest.approx(0.052)


def test_a_line_may_value_the_goods_without_the_voyage() -> None:
    rates = rate_book(duties=(duty_rate(), duty_rate(id=2, base="FOB", ply="single")))
    landing = land(offer(), basis(), rates, prefix="at")
    values = {name: float(entry.value) for name, entry in landing.inputs.items()}
    assert landing.sheet.evaluate(values)["at.duty"] == pytest.approx(0.25)


def test_a_seller_who_pays_the_duty_is_not_asked_about_it() -> None:
    rates = rate_book(
        duties=(duty_rate(preparation="carded"), duty_rate(id=2, rate=0.2, preparation="combed"))
    )
    with pytest.raises(Missing, match="carded or combed"):
        land(offer(), basis(), rates, prefix="at")
    paid = land(offer(term="DDP"), basis(), rates, prefix="at")
    assert not [name for name in paid.inputs if name.startswith("duty_rate")]


def test_what_decides_and_is_not_said_is_a_question() -> None:
    by_combing = (
        duty_rate(id=1, rate=0.052, preparation="carded"),
        duty_rate(id=2, rate=0.058, preparation="combed"),
    )
    with pytest.raises(Missing) as asked:
        chosen_for(by_combing, yarn(), "Farland", DAY)
    assert str(asked.value).startswith(
        "The duty on yarn from Farland differs (5.2 % or 5.8 %). Ask: carded or combed?"
    )
    assert asked.value.field == "preparation"
    by_count = (duty_rate(id=1, rate=0.1), duty_rate(id=2, rate=0.05, dtex_from=700.0))
    unknown = yarn(count_basis="base", effect="slub")
    with pytest.raises(Missing, match=r"\(5 % or 10 %\)\. Ask: which average count\?"):
        chosen_for(by_count, unknown, "Farland", DAY)
    with pytest.raises(Missing, match="Ask: carded or combed and which average count"):
        chosen_for(published_lines(), unknown, "Farland", DAY)


def test_what_does_not_decide_is_not_asked() -> None:
    same = (
        duty_rate(id=1, rate=0.05, preparation="carded"),
        duty_rate(id=2, rate=0.05, preparation="combed"),
        duty_rate(id=3, rate=0.2, country="Elsewhere", ply="single"),
    )
    assert chosen_for(same, yarn(), "Farland", DAY).rate.rate == 0.05
    by_ply = (duty_rate(id=1), duty_rate(id=2, rate=0.02, ply="single"))
    assert chosen_for(by_ply, yarn(count_basis="unknown"), "Farland", DAY).rate.id == 2


def test_two_rows_that_ask_for_as_much_are_named_and_none_is_taken() -> None:
    rows = (
        duty_rate(id=4, rate=0.052, tariff_line="5205.12", dtex_from=232.56),
        duty_rate(id=7, rate=0.058, preparation="carded"),
    )
    met = yarn(preparation="carded")
    for order in (rows, rows[::-1]):
        with pytest.raises(Missing) as two:
            chosen_for(order, met, "Farland", DAY)
        assert "5.2 % of CIF (line 5205.12: 232.56 dtex and more" in str(two.value)
        assert "5.8 % of CIF (carded; rate 7)" in str(two.value)
    assert rivals_of(rows[0], rows) == (rows[1],)
    assert chosen_for(rows, yarn(preparation="combed"), "Farland", DAY).rate.id == 4


@pytest.mark.parametrize(
    "other",
    [
        {"rate": 0.052},
        {"preparation": "combed"},
        {"valid_from": NEW},
        {"country": "Elsewhere"},
        {"dtex_from": 100.0, "dtex_below": 232.56, "preparation": ANY},
        {"ply": "single"},
    ],
)
def test_rows_between_which_something_decides_are_no_rivals(other: dict[str, Any]) -> None:
    row = duty_rate(id=1, rate=0.052, preparation="carded")
    if "dtex_from" in other:
        row = duty_rate(id=1, rate=0.052, dtex_from=232.56)
    assert rivals_of(row, (row, duty_rate(**{"id": 2, "preparation": "carded"} | other))) == ()


def test_the_demonstration_has_no_line_and_says_nothing_of_one() -> None:
    for entry in demo_comparison("DN-1375").warp.candidates[0].landing.inputs.values():
        assert "row" not in entry.as_entered
    assert not any(row.conditions for row in demo_book().rates.duties)


def test_a_break_even_of_a_duty_names_origin_and_line() -> None:
    found = [
        each
        for code in ("DN-1375", "DN-1450", "DN-1200S", "DN-1100A", "DN-0975")
        for each in break_evens_of(demo_comparison(code))
        if each.name.startswith("duty_rate.")
    ]
    assert found
    assert f"duty on {found[0].name.partition('.')[2]} is" in sentence(
        found[0], Writer("trade", "USD")
    )


ROWS = st.lists(
    st.builds(
        lambda place, rate, base, day, low, width, preparation, ply, mix: DutyRate(
            place,
            "Farland",
            rate,
            base,
            day,
            "trial",
            low,
            None if low is None or width is None else low + width,
            preparation,
            ply,
            mix,
        ),
        st.integers(1, 10_000),
        st.sampled_from([0.02, 0.05, 0.10]),
        st.sampled_from(["CIF", "FOB"]),
        st.sampled_from([OLD, NEW, date(2026, 12, 1)]),
        st.sampled_from([None, None, 125.0, 500.0, 714.29]),
        st.sampled_from([None, 200.0, 400.0]),
        st.sampled_from([ANY, "carded", "combed"]),
        st.sampled_from([ANY, "single", "plied"]),
        st.sampled_from([ANY, "cotton"]),
    ),
    max_size=7,
    unique_by=lambda row: row.id,
)
COUNTS = st.sampled_from(["4", "7", "8.27", "10", "20", "60"])
PAID = tuple[float, str] | str


def by_hand(rows: list[DutyRate], met: Yarn) -> PAID:
    """The same rule, said the slow way for a yarn of which everything is known."""
    goods = goods_of(met)
    assert goods.dtex is not None
    fitting = [
        row
        for row in rows
        if row.valid_from <= DAY
        and (row.dtex_from or 0) <= goods.dtex < (row.dtex_below or 1e9)
        and row.preparation in (ANY, goods.preparation)
        and row.ply in (ANY, goods.ply)
        and row.fibre_mix in (ANY, goods.fibre_mix)
    ]
    if not fitting:
        return "none"

    def asked(row: DutyRate) -> int:
        by_count = row.dtex_from is not None or row.dtex_below is not None
        return by_count + (row.preparation, row.ply, row.fibre_mix).count(ANY) * -1

    most = max(asked(row) for row in fitting)
    top = [row for row in fitting if asked(row) == most]
    newest = [row for row in top if row.valid_from == max(each.valid_from for each in top)]
    paid = {(row.rate, row.base) for row in newest}
    if len(paid) > 1 and most > -3:
        return "two"
    last = max(newest, key=lambda row: row.id)
    return last.rate, last.base


def outcome(rows: list[DutyRate], met: Yarn) -> PAID:
    try:
        chosen = chosen_for(rows, met, "Farland", DAY).rate
    except Missing as missing:
        return "two" if missing.message.startswith("Two duty rates") else "none"
    return chosen.rate, chosen.base


@given(ROWS, COUNTS, st.sampled_from(["carded", "combed"]), st.sampled_from([1, 2]))
def test_the_most_particular_row_holds_and_two_alike_are_refused(
    rows: list[DutyRate], count: str, preparation: str, ply: int
) -> None:
    met = yarn(count=Decimal(count), preparation=preparation, ply=ply)
    assert outcome(rows, met) == by_hand(rows, met)


def told(rows: list[DutyRate], met: Yarn) -> str:
    try:
        chosen = chosen_for(rows, met, "Farland", DAY)
    except Missing as missing:
        return str(missing)
    return f"{chosen.rate} {chosen.why}"


@given(ROWS, COUNTS, st.sampled_from(["carded", ""]), st.randoms(use_true_random=False))
def test_the_order_of_the_rows_does_not_matter(
    rows: list[DutyRate], count: str, preparation: str, chance: random.Random
) -> None:
    met = yarn(count=Decimal(count), preparation=preparation)
    shuffled = rows.copy()
    chance.shuffle(shuffled)
    assert told(rows, met) == told(shuffled, met)


@given(ROWS, COUNTS, st.sampled_from([1, 2]))
def test_combing_is_asked_exactly_when_it_changes_the_duty(
    rows: list[DutyRate], count: str, ply: int
) -> None:
    known = [
        outcome(rows, yarn(count=Decimal(count), ply=ply, preparation=each))
        for each in ("carded", "combed")
    ]
    unsaid = yarn(count=Decimal(count), ply=ply)
    if "two" in known:
        return
    if known[0] == known[1]:
        assert outcome(rows, unsaid) == known[0]
    else:
        with pytest.raises(Missing, match="Ask: carded or combed"):
            chosen_for(rows, unsaid, "Farland", DAY)
