"""A real spreadsheet program works the workbook out anew and comes to the figures of the app.

Every result in the file is made wrong before it is opened, so a right one can only be its own.
"""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from server.core.buyer_view import OPEN_BOOK, for_buyer
from server.core.freeze import Heading, Pool, assemble, freeze_comparison
from server.core.pack import FrozenPair
from server.export.workbook_inputs import Inputs
from tests.builders import DAY, FROZEN_AT, demo_comparisons
from tests.random_packs import RandomPack, Whole, own_spun_pack, random_pack
from tests.spreadsheet import (
    WRONG,
    converted,
    figures_in,
    parts_of,
    program,
    summary_in,
    with_inputs,
    with_wrong_results,
    workbook_of,
)

PACKS, COMPARISONS = 10, 20
CLOSE = 1e-9
Moved = Callable[[int, str, str, str], float | None]
Figures = dict[tuple[str, str, str], float]


@cache
def demo() -> RandomPack:
    """The whole demonstration, with the sheets its pack was frozen from."""
    pool, cloths = Pool(), []
    behind: dict[tuple[int, str], Whole] = {}
    for at, compared in enumerate(demo_comparisons()):
        cloths.append(freeze_comparison(compared, pool))
        for pair in cloths[-1].pairs:
            found = compared.find(*pair.key.split("/"))
            assert found is not None
            codes = {yarn.slot: yarn.code for yarn in pair.yarns}
            behind[at, pair.key] = Whole(*compared.sheet_of(found), codes)
    heading = Heading("demo", "Spring denim", "Tarn & Fell", DAY)
    basis = demo_comparisons()[0].basis
    pack = assemble(heading, basis, cloths, pool, engine="trial", made_at=FROZEN_AT)
    return RandomPack(pack, behind, len(cloths))


@cache
def packs() -> Mapping[str, RandomPack]:
    """The demonstration, 200 random comparisons with variants among them, and own yarns."""
    found = {f"random-{seed}": random_pack(seed, COMPARISONS) for seed in range(PACKS)}
    return {"demo": demo(), "own": own_spun_pack()} | found


@cache
def wrong_books() -> Mapping[str, bytes]:
    """The workbook of every pack, with wrong results."""
    return {name: with_wrong_results(workbook_of(each.pack)) for name, each in packs().items()}


def worked_out(whole: RandomPack, moved: Moved = lambda *_: None) -> Figures:
    """What the app comes to. moved: cloth, pair, code of the yarn, input -> another value"""
    found: Figures = {}
    for at, cloth in enumerate(whole.pack.cloths):
        for pair in cloth.pairs:
            behind = whole.behind[at, pair.key]
            values = {name: float(entry.value) for name, entry in behind.inputs.items()}
            for name in behind.sheet.input_names:
                code = behind.codes.get(name.partition(".")[0], "")
                value = moved(at, pair.key, code, name)
                values[name] = values[name] if value is None else value
            figures = behind.sheet.evaluate(values)
            found |= {
                (cloth.title, pair.key, line.key): float(figures[line.key])
                for line in behind.sheet.lines
            }
    return found


def assert_equal(whole: RandomPack, workbook: Path, expected: Figures) -> int:
    """Every figure of every pair; gives how many."""
    read = {each.what: each.value for each in figures_in(whole.pack, workbook)}
    assert read.keys() == expected.keys()
    wrong = {
        what: (value, expected[what])
        for what, value in read.items()
        if not isinstance(value, float) or value != pytest.approx(expected[what], rel=CLOSE, abs=0)
    }
    assert not wrong, (len(wrong), list(wrong.items())[:5])
    return len(read)


@pytest.fixture(scope="module")
def as_frozen(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, Path]:
    """Every pack as a workbook with wrong results, worked out in one start of LibreOffice."""
    for book in wrong_books().values():
        assert str(WRONG) in parts_of(book)["xl/worksheets/sheet3.xml"]
    return converted(wrong_books(), tmp_path_factory.mktemp("frozen"))


@pytest.mark.parametrize("name", ["demo", "own", *(f"random-{seed}" for seed in range(PACKS))])
def test_every_figure_of_every_pair_is_that_of_the_app(
    as_frozen: Mapping[str, Path], name: str
) -> None:
    whole = packs()[name]
    frozen = {
        (cloth.title, pair.key, key): value
        for cloth in whole.pack.cloths
        for pair in cloth.pairs
        for key, value in whole.pack.figures_of(pair).items()
    }
    assert frozen == worked_out(whole)
    assert assert_equal(whole, as_frozen[name], frozen) > 100


def test_the_random_packs_hold_what_they_should() -> None:
    """200 comparisons with every term, both loom rules, hundredths, both ways of quoting, more."""
    chosen = [each for name, each in packs().items() if name.startswith("random")]
    assert sum(each.comparisons for each in chosen) >= 200
    names = {name for each in chosen for sheet in each.pack.sheets for name in sheet.inputs}
    keys = {line.key for each in chosen for line in each.pack.lines}
    assert {"warp.rate_of_hundredth", "warp.rate_of_whole", "loom_efficiency"} <= keys
    assert {"warp.origin_haulage", "warp.fob_value", "filling.inland_charge_moved"} <= keys
    assert {"filling3.cost", "warp2.mass", "washed_mass_per_area", "greige_ounces"} <= keys
    assert {"heat_setting", "coating_g_per_m2", "net_finish", "loom_efficiency"} <= names
    assert any(cloth.variant for each in chosen for cloth in each.pack.cloths)
    assert {each.pack.basis.currency for each in chosen} == {"USD", "EUR"}


def test_the_summary_shows_the_same_figures(as_frozen: Mapping[str, Path]) -> None:
    rows = summary_in(as_frozen["demo"])
    head = next(at for at, row in enumerate(rows) if row[0] == "Construction")
    titles = [str(text).replace("\n", " ") for text in rows[head]]
    cost, weight = titles.index("Cost, metre USD/m"), titles.index("Weight, finished oz/yd²")
    apart = titles.index("To the first USD/m")
    pairs = [(cloth, pair) for cloth in demo().pack.cloths for pair in cloth.pairs]
    for row, (cloth, pair) in zip(rows[head + 1 :], pairs, strict=True):
        assert list(row[:2]) == [cloth.title, pair.label]
        value, first = (cost_of(each) for each in (pair, cloth.pairs[0]))
        assert row[cost] == pytest.approx(value, rel=CLOSE)
        assert row[weight] == pytest.approx(demo().pack.value_of(pair, "ounces"), rel=CLOSE)
        assert row[apart] == pytest.approx(value - first, rel=CLOSE, abs=1e-12)
    assert any("All inputs are as frozen." in row for row in rows[:head])


def cost_of(pair: FrozenPair) -> float:
    value = demo().pack.value_of(pair, "fabric_cost")
    assert value is not None
    return value


@dataclass(frozen=True)
class Change:
    """A cell that somebody types into, and what the app takes in its place."""

    cell: str
    value: float
    moved: Moved


def of_all(name: str, value: float, cell: str = "") -> Change:
    """An input of the world."""
    return Change(
        cell or name.replace(".", "_"),
        value,
        lambda at, pair, code, each: value if each == name else None,
    )


def of_offer(offer: str, name: str, value: float) -> Change:
    """A figure of one offer, wherever it stands."""

    def moved(at: int, pair: str, code: str, each: str) -> float | None:
        return value if code == offer and each.partition(".")[2] == name else None

    return Change(f"{offer}_{name}", value, moved)


def of_cloth(place: int, cloth: str, name: str, value: float) -> Change:
    """A figure of one construction."""

    def moved(at: int, pair: str, code: str, each: str) -> float | None:
        return value if at == place and each == name else None

    return Change(f"{cloth}_{name}".replace(".", "_").replace("-", "_"), value, moved)


CHANGES = {
    "dollar": of_all("exchange_rate.MXN", 16.35),
    "price": of_offer("Q14", "quoted_price", 2.11),
    "picks": of_cloth(1, "DN-1375", "loom_ppi", 44.5),
    "waste": of_cloth(1, "DN-1375", "warp.waste", 0.06),
    "crimp": of_cloth(2, "DN-1250", "warp.crimp", 0.085),
    "loom hour": of_all("loom_hour", 4.25, "fabric_loom_hour"),
    "freight": of_all("lane.India.freight", 5100.0),
    "lead": of_offer("Q09", "lead_days", 61.0),
    "regain": of_all("house_regain", 0.07, "house_regain_cotton"),
}


def several(changes: Mapping[str, Change]) -> Moved:
    """All at once."""

    def moved(at: int, pair: str, code: str, name: str) -> float | None:
        told = (change.moved(at, pair, code, name) for change in changes.values())
        return next((value for value in told if value is not None), None)

    return moved


@pytest.fixture(scope="module")
def changed(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, Path]:
    """The demonstration with inputs typed in, each alone and all at once."""
    plain = wrong_books()["demo"]
    books = {
        name.replace(" ", "-"): with_inputs(plain, {change.cell: change.value})
        for name, change in CHANGES.items()
    }
    books["all"] = with_inputs(plain, {each.cell: each.value for each in CHANGES.values()})
    return converted(books, tmp_path_factory.mktemp("changed"))


def cotton_only(change: Change) -> Moved:
    """The house regain of cotton, which other fibre mixes do not take."""

    def moved(at: int, pair: str, code: str, name: str) -> float | None:
        entry = demo().behind[at, pair].inputs[name]
        cotton = entry.label == "House regain, cotton"
        return change.value if name.endswith(".house_regain") and cotton else None

    return moved


CHANGES["regain"] = Change("house_regain_cotton", 0.07, cotton_only(CHANGES["regain"]))


@pytest.mark.parametrize("name", list(CHANGES))
def test_after_a_change_in_the_workbook_it_is_the_app_with_the_same_input(
    changed: Mapping[str, Path], name: str
) -> None:
    expected, before = worked_out(demo(), CHANGES[name].moved), worked_out(demo())
    moved = sum(expected[what] != before[what] for what in expected)
    assert 0 < moved < len(expected)
    path = changed[name.replace(" ", "-")]
    assert assert_equal(demo(), path, expected) == len(expected)
    assert any("Inputs changed: 1" in row for row in summary_in(path)[:10])


def test_all_the_changes_at_once(changed: Mapping[str, Path]) -> None:
    assert_equal(demo(), changed["all"], worked_out(demo(), several(CHANGES)))
    assert any(f"Inputs changed: {len(CHANGES)}" in row for row in summary_in(changed["all"])[:10])


def test_any_input_of_random_packs_moves_what_rests_on_it(tmp_path: Path) -> None:
    """Forty inputs of each pack, drawn from all there are; what does not rest on them stays."""
    books, expected = {}, {}
    for name, whole in packs().items():
        inputs, chance = Inputs(whole.pack), random.Random(name)
        rows = chance.sample(inputs.rows, 40)
        values = {row.name: row.entry.value * 1.07 or 0.013 for row in rows}
        values |= {  # a whole number of looms, and prices of seconds below one
            row.name: 5.0 for row in rows if row.name == "fabric_looms_per_weaver"
        }
        books[name] = with_inputs(wrong_books()[name], values)
        fed = {
            (at, pair.key, source): row.name
            for at, cloth in enumerate(whole.pack.cloths)
            for place, pair in enumerate(cloth.pairs)
            for source, row in inputs.of(at, place).items()
            if row.name in values
        }
        expected[name] = worked_out(whole, as_fed(fed, values))
    made = converted(books, tmp_path)
    for name, whole in packs().items():
        assert expected[name] != worked_out(whole)
        assert_equal(whole, made[name], expected[name])


def as_fed(fed: Mapping[tuple[int, str, str], str], values: Mapping[str, float]) -> Moved:
    """Other values for what rests on some cells. fed: cloth, pair, input -> its cell"""
    return lambda at, pair, code, name: values.get(fed.get((at, pair, name), ""))


def test_the_workbook_of_a_buyer_is_worked_out_as_well(tmp_path: Path) -> None:
    """What is fixed in it is an input; the lines above it are formulas."""
    pack = for_buyer(demo().pack, OPEN_BOOK)
    made = converted({"buyer": with_wrong_results(workbook_of(pack))}, tmp_path)["buyer"]
    read = {each.what: each.value for each in figures_in(pack, made)}
    expected = {
        (cloth.title, pair.key, key): value
        for cloth in pack.cloths
        for pair in cloth.pairs
        for key, value in pack.figures_of(pair).items()
    }
    assert len(expected) > 1000
    assert read == pytest.approx(expected, rel=CLOSE)


def test_without_libreoffice_a_run_says_so_and_in_ci_fails(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(shutil, "which", lambda name: None)
    monkeypatch.delenv("CI", raising=False)
    with pytest.raises(pytest.skip.Exception, match="apt-get install libreoffice-calc-nogui"):
        program()
    monkeypatch.setenv("CI", "true")
    with pytest.raises(pytest.fail.Exception, match="no LibreOffice"):
        program()
