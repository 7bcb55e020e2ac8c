"""The handout says what the pack holds, with the digits of the pages, whatever the texts are."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest

from server.core.buyer_view import OPEN_BOOK, PRICE_AND_WEIGHT, for_buyer
from server.core.compare import Comparison, Pair
from server.core.errors import CreelbookError
from server.core.pack import COST, Pack
from server.core.pair import STACK
from server.export import handout_pdf
from server.export.handout_appendix import in_words
from server.export.handout_letters import MISSING_NOTE, letters_of, printable_text
from server.export.handout_pdf import FONTS, write_handout
from server.web.numbers import Writer
from tests.builders import demo_comparison, demo_comparisons
from tests.export.handouts import (
    about,
    demo_pack,
    handout,
    images_of,
    text_of,
    told_by,
    variant_pack,
    with_pairs,
    words_of,
)

WRITER = Writer("trade", "USD")
MARKUP = '#read("/etc/passwd") $x^2$ *b* _i_ <label> @ref #panic("no") \\ `raw` // c /* "q" = h'
FOREIGN = "مصنع الغزل שלום 😀 浙江棉纺 🧵 \x00\x07\u202eevil\ufffe\ud800 Ağ"
LONG = "Unbroken" * 60
DPI, PAPER_MM, LETTER_MM = 50, (210.0, 297.0), 279.4
SIDE_MM = 11.0  # where nothing may be printed, left and right
TOP_MM = (PAPER_MM[1] - LETTER_MM) / 2 + 5.0  # what a printer with Letter cuts off, and its edge


def page_of(pdf: bytes, title: str) -> str:
    """The text of the pages from a heading on, up to the page that has another."""
    pages = text_of(pdf).split("\f")
    (at,) = [place for place, page in enumerate(pages) if page.splitlines()[2:3] == [title]] or [
        next(place for place, page in enumerate(pages) if re.search(rf"(?m)^\s*{title}$", page))
    ]
    return pages[at]


def row_of(page: str, start: str) -> list[str]:
    """The words of the line that begins so."""
    return next(line.split() for line in page.splitlines() if line.strip().startswith(start))


def in_order(wanted: list[str], words: list[str]) -> bool:
    """Whether the wanted words stand among the words, in their order."""
    left = iter(words)
    return all(each in left for each in wanted)


def figures(pair: Pair, leader: Pair) -> list[str]:
    """What the comparison page shows of a pair, and its yard and cuttable m²."""
    told = [
        WRITER.text(pair.figures[key], unit)
        for key, unit in (
            ("ounces", "oz/yd²"), ("yarn_cost", "¤/m"), ("fabric_cost", "¤/m"),
            ("fabric_per_yard", "¤/yd"), ("fabric_per_kg", "¤/kg"), ("fabric_per_area", "¤/m²"),
        )
        if key in pair.figures
    ]  # fmt: skip
    apart = pair.figures["fabric_cost"] - leader.figures["fabric_cost"]
    return [*told, WRITER.signed(apart, "¤/m") if pair.key != leader.key else "leader"]


@pytest.fixture(scope="module")
def printed() -> bytes:
    """The demonstration's pack, for the house."""
    return handout(demo_pack())


@pytest.mark.parametrize("compared", demo_comparisons(), ids=lambda each: each.construction.code)
def test_every_pair_has_the_figures_of_the_comparison_page(
    compared: Comparison, printed: bytes
) -> None:
    title = f"{compared.construction.code} {compared.construction.name}"
    page, leader = page_of(printed, title), compared.leader
    assert leader is not None
    table = page[page.index("Pairs: ") :]
    for pair in compared.pairs(20):
        assert in_order(figures(pair, leader), row_of(table, pair.key)), pair.key
    below = None
    for pair in compared.ladder:
        cost = pair.figures["fabric_cost"]
        wanted = [pair.combination, pair.key, WRITER.text(cost, "¤/m")]
        wanted += [WRITER.signed(cost - below, "¤/m")] if below is not None else []
        if len(compared.ladder) > 1:
            rungs = [line.split() for line in page.splitlines() if pair.combination in line]
            assert any(in_order(wanted, rung) for rung in rungs), wanted
        below = cost


@pytest.mark.parametrize("compared", demo_comparisons(), ids=lambda each: each.construction.code)
def test_matrix_stack_and_what_was_left_out_are_on_the_page(
    compared: Comparison, printed: bytes
) -> None:
    title = f"{compared.construction.code} {compared.construction.name}"
    page, leader = page_of(printed, title), compared.leader
    assert leader is not None
    matrix = re.sub(r"\s+", " ", page[page.index("Best possible") : page.index("Pairs: ")])
    for cell in (each for row in compared.cells for each in row if each.best):
        assert cell.best is not None
        assert WRITER.text(cell.best.figures["fabric_cost"], "¤/m") in matrix
        assert f"{cell.best.key}," in matrix
        assert re.search(rf"\b{cell.pairs} (possible|pairs?)", matrix)
    whole = compared.sheet_of(leader)[0].evaluate(
        {name: entry.value for name, entry in compared.sheet_of(leader)[1].items()}
    )
    stack = page[page.index("Cost of a metre") :]
    for key in STACK:
        share = f"{100 * float(whole[key]) / float(whole['fabric_cost']):.1f}"
        assert re.search(rf"\s{WRITER.text(float(whole[key]), '¤/m')}\s+{share} %", stack), key
    left_out = page[page.index("Offers left out") :] if compared.excluded else ""
    for each in compared.excluded:
        row = row_of(left_out, each.candidate.offer.code)
        assert each.candidate.standing.state in row
        assert each.candidate.standing.reasons[0].split()[0] in left_out


def test_twenty_pairs_fit_on_one_page_with_all_that_belongs_to_them(printed: bytes) -> None:
    pages = text_of(printed).split("\f")
    titles = [each.title for each in demo_pack().cloths]
    at = [next(n for n, page in enumerate(pages) if f"\n{title}\n" in page) for title in titles]
    assert at == list(range(1, len(titles) + 1))
    assert "Inputs and formulas" in pages[len(titles) + 1]


def test_every_input_and_formula_stands_in_the_appendix(printed: bytes) -> None:
    pack, words = demo_pack(), words_of(printed)
    words = words[words.index("Inputs and formulas") :]
    bare = re.sub(r"\s", "", words)
    used = {place for cloth in pack.cloths for pair in cloth.pairs for place in pair.inputs}
    for entry in (pack.inputs[place] for place in used):
        figure = WRITER.text(entry.value, entry.unit)
        for part in (entry.label, figure, entry.source, entry.as_entered, str(entry.on or "")):
            assert re.sub(r"\s", "", part) in bare, (entry.label, part)
    for formula in pack.formulas.values():
        for part in (formula.title, in_words(formula), formula.source):
            assert sum(word in words for word in part.split()) == len(part.split()), formula.name


def test_every_page_says_on_what_it_stands_and_for_whom_it_is(printed: bytes) -> None:
    pages = text_of(printed).split("\f")[:-1]
    for number, page in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in page
        assert "Basis: “Aldercote meeting” · USD · rates of 2026-03-02" in page
        assert "Frozen 2026-03-11 18:30 UTC · 2026-03-12-tarn-0001 · engine " in page
        assert "Internal: not for the buyer" in page
        assert "DRAFT" not in page


def test_a_draft_is_marked_on_every_page() -> None:
    pages = text_of(handout(replace(demo_pack(), made_at=None))).split("\f")[:-1]
    assert all("DRAFT" in page and "Not frozen" in page for page in pages)
    assert not any("Frozen 2" in page for page in pages)


def test_a_buyers_handout_has_nothing_of_the_house() -> None:
    planted = replace(demo_pack(), notes="SECRET-NOTE", title="Spring denim")
    told = text_of(handout(for_buyer(planted, PRICE_AND_WEIGHT, words="Prices for you.")))
    assert "Prices for you." in told
    assert re.search(r"E1/E1\s+OE/OE .* 13\.78\s+2\.948\s+2\.696", told)
    offers = {yarn.code for cloth in planted.cloths for p in cloth.pairs for yarn in p.yarns}
    sellers = {yarn.supplier for cloth in planted.cloths for p in cloth.pairs for yarn in p.yarns}
    for secret in (
        *offers, *sellers, "SECRET-NOTE", "Internal", "Offers left out", "What would change",
        "Yarn cost", "Cost", "impossible", "Standing", "Aldercote", "Rinconada", "assumptions “",
        "duty", "margin on price", "Rosalía",
    ):  # fmt: skip
        assert secret not in told, secret


def test_an_open_book_shows_costs_and_no_way_to_the_mill() -> None:
    told = text_of(handout(for_buyer(demo_pack(), OPEN_BOOK)))
    assert "Cost of a metre" in told
    assert "Vayuna" not in told
    assert "Freight" not in told


def test_without_a_headline_there_is_no_money_anywhere() -> None:
    told = text_of(handout(for_buyer(demo_pack(), ("yarns", "weight"))))
    assert "USD/" not in told
    assert not re.search(r"(?i)\bcost|\bprice|ladder|difference", told)
    assert "13.78" in told


def test_a_pack_that_shows_nothing_has_no_empty_pages() -> None:
    pack = for_buyer(variant_pack(), ())
    pages = text_of(handout(pack)).split("\f")[:-1]
    assert len(pages) == 1 + len(pack.cloths)
    assert not any("Inputs and formulas" in page or "appendix" in page for page in pages)


def test_a_variant_stands_beside_the_cloth_as_it_stands() -> None:
    pack = variant_pack()
    cloth = pack.cloths[1]
    page = page_of(handout(pack), cloth.title)
    assert "Changed: loom picks 38 in place of 41" in page
    costs = [pack.value_of(pair, COST) or 0 for pair in cloth.pairs]
    told = row_of(page, "Cost of a finished metre")
    assert told[-len(costs) :] == [WRITER.text(cost, "¤/m") for cost in costs]
    assert row_of(page, "Difference to as it stands")[-len(costs) + 1 :] == [
        WRITER.signed(cost - costs[0], "¤/m") for cost in costs[1:]
    ]
    picks = [pack.value_of(pair, "loom_ppi") or 0 for pair in cloth.pairs]
    assert row_of(page, "Loom picks")[-len(picks) :] == [f"{each:.1f}" for each in picks]


@pytest.mark.parametrize("count", [0, 1, 60])
def test_any_number_of_pairs_is_printed_whole(count: int) -> None:
    told = text_of(handout(with_pairs(demo_pack(), count)))
    assert [f"P{at:03}" for at in range(count) if f"P{at:03}" not in told] == []
    heads = len(re.findall(r"Pair\s+Combination", told))
    assert heads == (0 if count == 0 else 1 if count == 1 else 2)


def hostile(pack: Pack) -> Pack:
    """A pack in which every text a person may write is not what one expects."""
    cloth, bad = pack.cloths[0], f"{MARKUP} {FOREIGN} {LONG}"
    pairs = tuple(
        replace(
            pair,
            label=f"{pair.label} {MARKUP}",
            yarns=tuple(
                replace(yarn, supplier=bad, country=FOREIGN, count=MARKUP, reasons=(bad,))
                for yarn in pair.yarns
            ),
        )
        for pair in cloth.pairs[:4]
    )
    left_out = tuple(replace(each, code=LONG, supplier=bad) for each in cloth.excluded)
    return replace(
        pack,
        title=bad, buyer=bad, notes=f"{bad}\n{bad}", reference="R" * 300,
        basis=replace(pack.basis, name=bad, delivery_point=FOREIGN, assumption_set=MARKUP),
        cloths=(replace(cloth, name=bad, pairs=pairs, excluded=left_out), *pack.cloths[1:2]),
        inputs=tuple(replace(each, label=f"{each.label} {MARKUP}", source=bad)
                     for each in pack.inputs),
    )  # fmt: skip


def test_hostile_texts_come_out_as_texts() -> None:
    words = words_of(handout(hostile(demo_pack())))
    bare = words.replace(" ", "")
    assert MARKUP.replace(" ", "") in bare
    assert "root:" not in words
    assert LONG in bare
    assert "😀" in words
    assert "evil" in words
    assert "\u202e" not in words
    assert MISSING_NOTE in words


def test_a_replaced_character_is_told_on_its_page_and_no_other() -> None:
    pack = demo_pack()
    cloths = (pack.cloths[0], replace(pack.cloths[1], name="浙江"), pack.cloths[2])
    pages = text_of(handout(replace(pack, cloths=cloths))).split("\f")
    assert [MISSING_NOTE in page for page in pages[:4]] == [True, False, True, False]
    assert "DN-1375 ��" in pages[2]


def made(name: str) -> Pack:
    """A pack to be looked at for what is cut off or set over another."""
    packs = {
        "demo": demo_pack(), "hostile": hostile(demo_pack()), "variant": variant_pack(),
        "sixty": with_pairs(demo_pack(), 60), "draft": replace(demo_pack(), made_at=None),
    }  # fmt: skip
    return packs[name]


@pytest.mark.parametrize("name", ["demo", "hostile", "sixty", "variant", "draft"])
def test_nothing_is_cut_off_not_even_on_letter_paper(name: str, tmp_path: Path) -> None:
    pages = images_of(handout(made(name)), DPI, tmp_path)
    side, top = (round(edge / 25.4 * DPI) for edge in (SIDE_MM, TOP_MM))
    for number, page in enumerate(pages, 1):
        edges = (page[:top], page[-top:], page[:, :side], page[:, -side:])
        assert all(int(edge.min()) == 255 for edge in edges), f"page {number}"


@pytest.mark.parametrize("name", ["demo", "hostile", "variant"])
def test_no_two_words_lie_on_each_other(name: str) -> None:
    told = told_by("pdftotext", handout(made(name)), "-bbox").decode(errors="replace")
    for number, page in enumerate(told.split("<page ")[1:], 1):
        found = re.findall(r'xMin="(\S+)" yMin="(\S+)" xMax="(\S+)" yMax="(\S+)">(.*?)<', page)
        left, top, right, bottom = np.array([each[:4] for each in found], float).T
        across = np.minimum.outer(right, right) - np.maximum.outer(left, left)
        down = np.minimum.outer(bottom, bottom) - np.maximum.outer(top, top)
        over = (across > 1.5) & (down > 3.0) & ~np.eye(len(found), dtype=bool)
        assert not over.any(), (number, [found[at][4] for at in np.argwhere(over)[0]])


def test_the_file_says_what_it_is(printed: bytes) -> None:
    told = about(printed)
    assert (told["Title"], told["Author"]) == ("Spring denim", "Creelbook")
    assert told["Tagged"] == "yes"
    assert told["Page size"].endswith("(A4)")
    assert b"<pdfuaid:part>1</pdfuaid:part>" in printed
    assert "/work" not in printed.decode("latin-1")
    assert about(handout(hostile(demo_pack())))["Title"].startswith("#read(")


def test_the_file_is_as_old_as_the_pack() -> None:
    local = timezone(timedelta(hours=-6))
    for made_at in (
        datetime(2026, 3, 11, 18, 30, 5, 123456, tzinfo=UTC),
        datetime(2026, 3, 11, 12, 30, 5, tzinfo=local),
        datetime(2026, 3, 11, 18, 30, 5),  # noqa: DTZ001
    ):
        pdf = handout(replace(demo_pack(), made_at=made_at, cloths=()))
        assert b"(D:20260311183005" in pdf
        assert "Frozen 2026-03-11 18:30 UTC" in text_of(pdf)
    assert b"(D:" not in handout(replace(demo_pack(), made_at=None, cloths=()))


def test_the_same_pack_gives_the_same_bytes(printed: bytes) -> None:
    assert handout(replace(demo_pack())) == printed
    assert handout(replace(demo_pack(), title="Another")) != printed
    draft = replace(demo_pack(), made_at=None)
    assert handout(draft) == handout(replace(draft))


def test_every_letter_of_the_font_can_be_printed() -> None:
    letters = letters_of(FONTS / "DejaVuSans.ttf") & letters_of(FONTS / "DejaVuSans-Bold.ttf")
    assert len(letters) > 5000
    assert ord("Ω") in letters
    assert ord("浙") not in letters
    every = " ".join(chr(code) for code in sorted(letters) if code > 0x20)
    pdf = handout(replace(demo_pack(), cloths=(), notes=every))
    assert b"<pdfuaid:part>" in pdf


def test_a_letter_that_only_typst_misses_does_not_fail(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(handout_pdf, "letters_of", lambda _: frozenset(range(0x110000)))
    pdf = handout(replace(demo_pack(), cloths=(), notes="浙江"))
    assert b"<pdfuaid:part>" not in pdf
    assert about(pdf)["Title"] == "Spring denim"


def test_text_from_right_to_left_stays_apart_from_its_neighbours() -> None:
    letters = letters_of(FONTS / "DejaVuSans.ttf")
    assert (
        printable_text("شركة 12", letters)
        == "\N{FIRST STRONG ISOLATE}شركة 12\N{POP DIRECTIONAL ISOLATE}"
    )
    assert printable_text("plain", letters) == "plain"
    assert printable_text("a\tb\nc\x00", letters) == "a b c"


def test_a_handout_that_takes_too_long_or_dies_is_given_up(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    child = tmp_path / "child.py"
    for text, wanted in (
        ("import time; time.sleep(9)", "more than 0.5 s"),
        ("import os; os.abort()", "ended unexpectedly"),
        ("raise MemoryError('no room')", "no room"),
    ):
        child.write_text(text, "utf-8")
        monkeypatch.setattr(handout_pdf, "_CHILD", child)
        monkeypatch.setattr(handout_pdf, "TIMEOUT_S", 0.5)
        with pytest.raises(CreelbookError, match=wanted) as told:
            write_handout(replace(demo_pack(), cloths=()), BytesIO())
        assert told.value.remedy


def test_the_process_that_sets_it_knows_no_settings(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    child = tmp_path / "child.py"
    child.write_text("import os, sys; sys.exit(' '.join(sorted(os.environ)))", "utf-8")
    monkeypatch.setattr(handout_pdf, "_CHILD", child)
    monkeypatch.setenv("CREELBOOK_DATABASE_URL", "postgresql://secret")
    with pytest.raises(CreelbookError) as told:
        write_handout(replace(demo_pack(), cloths=()), BytesIO())
    assert "PYTHONPATH" in told.value.message
    assert "CREELBOOK" not in told.value.message


def test_the_demo_leader_is_the_one_of_the_story(printed: bytes) -> None:
    leader = demo_comparison("DN-1375").leader
    assert leader is not None
    page = page_of(printed, "DN-1375 Larkspur")
    assert f"Cheapest possible: OE/OE, {leader.key}, at 2.594 USD/m" in page
