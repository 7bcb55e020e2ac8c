"""A weight its yarn cannot have is flagged, and the likely cause is found by trying it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from server.core.how_close import held_by_id, held_cloths
from server.core.weight_causes import (
    FITS,
    IMPOSSIBLE,
    NEARER,
    TOO_HEAVY,
    TOO_LIGHT,
    Cause,
    Statement,
    causes,
    is_trade_weight,
    most_open,
    statement_of,
)

often = settings(max_examples=200, deadline=None)


def ruling(number: str) -> Statement:
    return statement_of(held_by_id()[number])


def words(found: tuple[Cause, ...]) -> str:
    return "; ".join(cause.words for cause in found)


def test_s07_no_reading_fits_but_finer_counts_would() -> None:
    stated = ruling("S-07")
    assert stated.standing == IMPOSSIBLE
    found = causes(stated)
    assert not [cause for cause in found if cause.answer == FITS]
    assert found[0].words == "a count is nominal, or wrong: Ne 9.1 × 9.1 to Ne 9.4 × 9.4 would fit"


def test_s15_its_picks_were_counted_in_an_inch() -> None:
    stated = ruling("S-15")
    assert stated.standing == IMPOSSIBLE
    first = causes(stated)[0]
    assert first.words == "the picks were counted in an inch and read as of a centimetre"
    assert first.answer == NEARER
    assert first.ratio == pytest.approx(474 / 332, abs=5e-3)
    assert "the picks as stated would lie closer than side by side" in words(causes(stated))


def test_s20_some_fifty_grams_are_coating() -> None:
    stated = ruling("S-20")
    assert stated.standing == TOO_HEAVY
    assert "coating, resin or print: some 53 g/m² would not be yarn" in words(causes(stated))


def test_s12_a_bleached_trade_weight() -> None:
    stated = ruling("S-12")
    assert stated.standing == TOO_LIGHT
    told = words(causes(stated))
    assert "mass lost in scouring or bleaching: 4 % to 8 %, from memory" in told
    assert "7.50 oz/yd² is a round half ounce: a trade weight" in told


def test_s14_its_warp_read_as_the_single_of_a_two_ply() -> None:
    stated = ruling("S-14")
    assert stated.ratio == pytest.approx(1.202, abs=5e-4)
    assert causes(stated) == ()
    misread = replace(stated, warp_ne=40.0)
    assert misread.standing == TOO_HEAVY
    (fits,) = [each for each in causes(misread) if each.answer == FITS and "warp" in each.words]
    assert fits.words == "the warp is two-ply, and Ne 40 is the count of one of its singles"
    assert fits.ratio == pytest.approx(1.202, abs=5e-4)


def test_the_other_real_cloths_raise_no_doubt() -> None:
    for held in held_cloths():
        if held.untuned is not None and held.cloth.id != "S-12":
            assert causes(statement_of(held)) == (), held.cloth.id


@st.composite
def sound(draw: st.DrawFn) -> Statement:
    """A cloth whose weight its yarn has, with covers as denim has them."""
    warp_ne, filling_ne = draw(st.floats(5, 20)), draw(st.floats(5, 20))
    cloth = Statement(
        epi=draw(st.floats(19, 26)) * warp_ne**0.5,
        ppi=draw(st.floats(12, 17)) * filling_ne**0.5,
        warp_ne=warp_ne,
        filling_ne=filling_ne,
        grams=1.0,
        width_in=draw(st.floats(50, 70)),
    )
    return replace(cloth, grams=cloth.straight * draw(st.floats(1.08, 1.25)))


def answers(stated: Statement, about: str) -> list[str]:
    return [cause.answer for cause in causes(stated) if about in cause.words]


@often
@given(cloth=sound())
def test_a_sound_statement_raises_nothing(cloth: Statement) -> None:
    assert cloth.standing == ""
    assert causes(cloth) == ()


@often
@given(cloth=sound())
def test_threads_of_a_centimetre_read_as_of_an_inch_are_found(cloth: Statement) -> None:
    misread = replace(cloth, epi=cloth.epi / 2.54, ppi=cloth.ppi / 2.54)
    assert misread.standing == TOO_HEAVY
    about = "ends and picks were counted in a centimetre"
    assert answers(misread, about) == [FITS]


@often
@given(cloth=sound())
def test_picks_of_an_inch_read_as_of_a_centimetre_are_found(cloth: Statement) -> None:
    misread = replace(cloth, ppi=cloth.ppi * 2.54)
    assume(misread.standing)
    assert answers(misread, "the picks were counted in an inch") == [FITS]


@often
@given(cloth=sound())
def test_the_mass_of_a_running_yard_is_found(cloth: Statement) -> None:
    assert cloth.width_in is not None
    misread = replace(cloth, grams=cloth.grams * cloth.width_in / 36)
    assume(misread.standing)
    assert answers(misread, "are of a running yard") == [FITS]


@often
@given(cloth=sound())
def test_ends_counted_twice_are_found(cloth: Statement) -> None:
    misread = replace(cloth, epi=cloth.epi * 2)
    assert misread.standing in (IMPOSSIBLE, TOO_LIGHT)
    assert answers(misread, "each was counted as two") == [FITS]


@often
@given(cloth=sound())
def test_picks_counted_twice_are_found(cloth: Statement) -> None:
    misread = replace(cloth, ppi=cloth.ppi * 2)
    assume(misread.standing)
    assert answers(misread, "the picks are two-ply") == [FITS]


@often
@given(cloth=sound())
def test_the_count_of_one_single_of_a_two_ply_is_found(cloth: Statement) -> None:
    misread = replace(cloth, warp_ne=cloth.warp_ne * 2)
    assume(misread.standing)
    assert answers(misread, "the warp is two-ply") == [FITS]


@often
@given(crimp=st.floats(0.2, 0.45), cloth=sound())
def test_the_filling_of_a_stretch_cloth_is_no_mystery(crimp: float, cloth: Statement) -> None:
    wavy = replace(cloth, ppi=cloth.ppi * (1 + crimp))
    heavy = replace(cloth, grams=wavy.straight * 1.2, filling_crimp=crimp)
    assume(heavy.standing)
    assert answers(heavy, "as in stretch cloth") == [FITS]


def test_a_reading_more_open_than_any_known_cloth_is_none() -> None:
    warp, filling = most_open()
    assert (warp, filling) == pytest.approx((13.08, 9.37), abs=0.005)
    assert not answers(ruling("S-07"), "the picks were counted in an inch")


def test_a_reading_that_still_cannot_be_woven_does_not_fit() -> None:
    """S-15 with its ends taken as they stand: the ends alone would do, but not its picks."""
    crowded = replace(ruling("S-15"), plies=1)
    assert answers(crowded, "the ends were counted in an inch") == [NEARER]


def test_half_ounces_to_the_gram_are_trade_weights() -> None:
    assert all(map(is_trade_weight, (491.7, 356.0, 339.0, 254.3, 169.5)))
    assert not any(map(is_trade_weight, (405.33, 327.0, 225.0, 194.0)))
