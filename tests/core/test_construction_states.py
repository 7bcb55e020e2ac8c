"""A cloth entered in its finished state is the cloth that was entered in its loom state."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import Engine

from seed_demo.load import rows_of
from server.actions.nouns import NOUNS, read_entry
from server.core.construction import Construction
from server.core.pair import cloth_sheet, construction_inputs
from server.store.audit import data_version
from server.store.book import load_book
from server.store.session import reading, writing
from tests.builders import demo_engine


@pytest.fixture
def engine(tmp_path: Path) -> Iterator[Engine]:
    made = demo_engine(tmp_path)
    yield made
    made.dispose()


def entered(engine: Engine, row: dict[str, str]) -> Construction:
    """A construction as the engine sees it after a person entered it."""
    noun = NOUNS["constructions"]
    with writing(engine, 1) as session:
        noun.keeper.add(session, read_entry(noun, row))
    with reading(engine) as session:
        return load_book(session, data_version(engine)).construction(row["code"])


def figures_of(cloth: Construction) -> dict[str, float]:
    inputs = {name: entry.value for name, entry in construction_inputs(cloth).items()}
    counts = {f"{slot.name}.costing_ne": slot.ne for slot in cloth.slots}
    figures = cloth_sheet(cloth).evaluate(inputs | counts)
    return {key: float(figures[key]) for key in cloth_sheet(cloth).by_key}


def finished_row(epi: float, ppi: float, crimp_percent: float) -> dict[str, str]:
    """The Basalt of the demonstration, described as it lies on the table."""
    row = next(row for row in rows_of("constructions") if row["code"] == "DN-1450")
    loom_only = {"total_ends": "", "reed_width_in": "", "loom_ppi": ""}
    return {
        **row,
        **loom_only,
        "code": "DN-1450-F",
        "entered_state": "finished",
        "finished_epi": repr(epi),
        "finished_ppi": repr(ppi),
        "filling_crimp_percent": repr(crimp_percent),
    }


def test_loom_figures_are_derived_from_the_finished_state(engine: Engine) -> None:
    cloth = entered(engine, finished_row(63.8, 44.8, 7.5))
    assert cloth.entered_state == "finished"
    assert cloth.total_ends == pytest.approx(63.8 * 60.5, rel=1e-14)
    assert cloth.reed_width_in == pytest.approx(60.5 * 1.075, rel=1e-14)
    assert cloth.loom_ppi == pytest.approx(44.8 * 0.87, rel=1e-14)
    assert (cloth.finished_epi, cloth.finished_ppi) == (63.8, 44.8)
    assert cloth.filling_crimp == pytest.approx(0.075, rel=1e-14)


def test_both_states_of_one_cloth_weigh_the_same(engine: Engine) -> None:
    with reading(engine) as session:
        loom = load_book(session, data_version(engine)).construction("DN-1450")
    first = figures_of(loom)
    described = finished_row(first["finished_epi"], first["finished_ppi"], (65 / 60.5 - 1) * 100)
    second = figures_of(entered(engine, described))
    assert second == pytest.approx(first, rel=1e-12)


def test_a_cloth_entered_on_the_loom_keeps_what_was_typed(engine: Engine) -> None:
    with reading(engine) as session:
        loom = load_book(session, data_version(engine)).construction("DN-1450")
    assert (loom.total_ends, loom.reed_width_in, loom.loom_ppi) == (3860, 65, 39)
    assert (loom.finished_epi, loom.finished_ppi, loom.filling_crimp) == (None, None, None)


def test_several_yarns_of_a_direction_come_back_in_order(engine: Engine) -> None:
    row = next(row for row in rows_of("constructions") if row["code"] == "DN-1450")
    cloth = entered(
        engine,
        {
            **row,
            "code": "DN-1450-2",
            "warp_share_of_threads_percent": "75",
            "warp2_ne": "8.5",
            "warp2_crimp_percent": "14",
            "warp2_waste_percent": "5",
            "warp2_share_of_threads_percent": "25",
        },
    )
    first, second = cloth.slots_of("warp")
    assert (first.ne, first.share_of_threads, first.crimp) == (6.5, 0.75, 0.11)
    assert (second.ne, second.share_of_threads) == (8.5, 0.25)
    assert second.crimp == pytest.approx(0.14)
    assert second.waste == pytest.approx(0.05)
    assert [slot.name for slot in cloth.slots] == ["warp", "warp2", "filling"]
