"""A change kept by name: what is kept, what it says later, what promoting it stores."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlalchemy import Engine

from server.actions.asked_change import read_change
from server.actions.change import work_out
from server.actions.compare import BasisChange
from server.actions.nouns import NOUNS
from server.actions.records import change_record, history_of, one_record
from server.actions.variants import (
    asked_by,
    look_at,
    promote,
    refuse_stale,
    remove_variant,
    save_variant,
    variant_named,
    variants_of,
)
from server.core.errors import BadValue, Conflict, NotFound
from tests.entered import counts
from tests.web.meetings import requoted

HERE = BasisChange({}, {})
CONSTRUCTIONS = NOUNS["constructions"]


def keep(engine: Engine, name: str = "Ne 7 filling", **typed: str) -> int:
    asked = read_change(typed or {"filling_ne": "7", "loom_ppi": "35.0"})
    return save_variant(engine, "DN-1250", asked, 1, name=name, notes="for the meeting")


def test_a_kept_change_gives_the_same_figures_later(house_engine: Engine) -> None:
    number = keep(house_engine)
    (looked,) = look_at(house_engine, "DN-1250", HERE)
    direct = work_out(
        house_engine, "DN-1250", read_change({"filling_ne": "7", "loom_ppi": "35.0"}), HERE
    )
    assert looked.variant.id == number
    assert looked.changed is not None
    assert looked.changed.swap.figures == direct.changed.swap.figures
    assert looked.missing == ""


def test_what_was_typed_is_kept_to_the_digit_and_with_its_pair(house_engine: Engine) -> None:
    keep(house_engine)
    asked = asked_by(variant_named(house_engine, "DN-1250", "Ne 7 filling"))
    assert asked.fields == {"filling_ne": "7", "loom_ppi": "35.0"}
    assert asked.pair == "Q14/Q20"


@pytest.mark.parametrize("typed", [{"loom_ppi": "0"}, {"pair": "Q14/Q20"}, {"filling_yarn": "Q99"}])
def test_a_faulty_or_empty_change_is_not_kept(house_engine: Engine, typed: dict[str, str]) -> None:
    before = counts(house_engine)
    with pytest.raises(BadValue):
        keep(house_engine, **typed)
    assert counts(house_engine) == before


@pytest.mark.parametrize("name", ["", "   ", "x" * 81, "<b>", "a\x00b"])
def test_a_variant_needs_a_plain_name(house_engine: Engine, name: str) -> None:
    before = counts(house_engine)
    with pytest.raises(BadValue, match="needs a name of plain words"):
        keep(house_engine, name=name)
    assert counts(house_engine) == before


def test_promoting_makes_the_next_version_with_its_history(house_engine: Engine) -> None:
    number = keep(house_engine)
    before = one_record(house_engine, CONSTRUCTIONS, "DN-1250")
    swap = look_at(house_engine, "DN-1250", HERE)[0].changed
    assert swap is not None
    version = promote(house_engine, "DN-1250", number, 1, version=before.version)
    after = one_record(house_engine, CONSTRUCTIONS, "DN-1250")
    assert (after.version, version) == (before.version + 1, before.version + 1)
    changed = {n for n, value in after.values.items() if value != before.values[n]}
    assert changed == {"filling_ne", "loom_ppi"}
    assert after.values["loom_ppi"] == Decimal("35.0")
    told = history_of(house_engine, CONSTRUCTIONS, after.id)
    assert {field for event in told for field, _, _ in event.changes} >= changed
    promoted = work_out(house_engine, "DN-1250", read_change({"pair": "Q14/Q14"}), HERE)
    assert promoted.before.figures["ounces"] == swap.swap.figures["ounces"]
    assert variants_of(house_engine, "DN-1250")[0].promoted_version == version


def test_a_construction_changed_meanwhile_is_not_written_over(house_engine: Engine) -> None:
    number = keep(house_engine)
    seen = one_record(house_engine, CONSTRUCTIONS, "DN-1250")
    values = {**seen.values, "season_metres": Decimal(1)}
    change_record(house_engine, CONSTRUCTIONS, "DN-1250", values, seen.version, 1)
    before = counts(house_engine)
    with pytest.raises(Conflict, match="Somebody else changed"):
        promote(house_engine, "DN-1250", number, 1, version=seen.version)
    assert counts(house_engine) == before
    kept = one_record(house_engine, CONSTRUCTIONS, "DN-1250")
    assert kept.values["loom_ppi"] == seen.values["loom_ppi"]
    assert variants_of(house_engine, "DN-1250")[0].promoted_version is None


def test_offers_and_assumptions_alone_cannot_be_promoted(house_engine: Engine) -> None:
    number = keep(house_engine, filling_yarn="own OE")
    version = one_record(house_engine, CONSTRUCTIONS, "DN-1250").version
    with pytest.raises(BadValue, match="a construction holds neither"):
        promote(house_engine, "DN-1250", number, 1, version=version)


def test_a_variant_that_no_longer_works_out_says_why(house_engine: Engine) -> None:
    keep(house_engine, reed_width_in="64")
    seen = one_record(house_engine, CONSTRUCTIONS, "DN-1250")
    wider = {
        **seen.values,
        "greige_width_in": None,
        "finished_width_in": Decimal(65),
        "cuttable_width_in": Decimal(63),
    }
    change_record(house_engine, CONSTRUCTIONS, "DN-1250", wider, seen.version, 1)
    (looked,) = look_at(house_engine, "DN-1250", HERE)
    assert "above the reed width" in looked.missing


def test_what_is_not_there_is_not_found(house_engine: Engine) -> None:
    with pytest.raises(NotFound):
        variant_named(house_engine, "DN-1250", "none such")
    with pytest.raises(NotFound):
        promote(house_engine, "DN-1250", 7, 1, version=1)
    with pytest.raises(NotFound):
        remove_variant(house_engine, "DN-1250", 7, 1)
    with pytest.raises(NotFound):
        variants_of(house_engine, "DN-0000")


@pytest.mark.parametrize("version", ["", "one", "-1", "١", "9" * 12])
def test_a_form_without_a_version_is_stale(version: str) -> None:
    with pytest.raises(Conflict):
        refuse_stale(version)


def test_a_variant_follows_the_re_quote_of_its_yarns(house_engine: Engine) -> None:
    keep(house_engine)
    (before,) = look_at(house_engine, "DN-1250", HERE)
    requoted(house_engine, "Q14", "Q61", price="2.20")
    (looked,) = look_at(house_engine, "DN-1250", HERE)
    assert looked.missing == ""
    assert looked.asked.pair == "Q61/Q20"
    assert looked.changed is not None
    assert before.changed is not None
    moved = looked.changed.before.figures["fabric_cost"]
    assert moved > before.changed.before.figures["fabric_cost"]
    assert variant_named(house_engine, "DN-1250", "Ne 7 filling").query.startswith("pair=Q14%2FQ20")
