"""The workbook of a pack: names, formulas, what is one cell, and that nothing else is in it."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from functools import cache
from typing import Any
from xml.etree import ElementTree

import pytest
from python_calamine import CalamineWorkbook

from server.core.freeze import Heading, Pool, assemble, freeze_comparison
from server.core.pack import Fact, FrozenInput, FrozenPair, Pack
from server.export.workbook import sheets_of, write_workbook
from server.export.workbook_inputs import Inputs
from server.export.workbook_names import Names, is_reference, quoted
from tests.builders import DAY, FROZEN_AT, demo_comparison, demo_comparisons, pack_of
from tests.random_packs import random_pack
from tests.spreadsheet import MAIN, defined_names, parts_of, workbook_of

HOSTILE = (
    '=HYPERLINK("http://evil.example/","x")',
    "+cmd|' /C calc'!A0",
    "@SUM(1+1)*cmd",
    "-2+3",
    "<r><t>rich</t></r>",
    "http://evil.example/",
    "]:*?/\\['",
    "\x00\x07\x1b\ufffe tab\tend",
    '&[Picture]&G&L&"Wingdings"',
    "\ud800 half",
    "{=1+1}",
    "_x0041_",
    "x" * 40_000,
)

FUNCTIONS = {"SQRT", "MIN", "MAX", "_xlfn.POISSON.DIST", "FALSE", "TRUE", "IF", "SUMPRODUCT"}


@cache
def demo() -> Pack:
    return pack_of(*demo_comparisons())


@cache
def demo_book() -> bytes:
    return workbook_of(demo())


def formulas_of(book: bytes) -> list[str]:
    found = []
    for name, text in parts_of(book).items():
        if name.startswith("xl/worksheets/"):
            found += [each.text or "" for each in ElementTree.fromstring(text).iter(f"{MAIN}f")]
    return found


def words_in(formulas: list[str]) -> set[str]:
    """Names and functions in formulas; references, numbers and our own two texts left out."""
    found: set[str] = set()
    for formula in formulas:
        bare = re.sub(r"'[^']*(?:''[^']*)*'!", "", formula)
        bare = re.sub(r'"All inputs are as frozen\."|"Inputs changed: "', "", bare)
        assert re.fullmatch(r"[\w.$:()+*/,<>=&-]*", bare), bare
        bare = re.sub(r"(?<!\w)\$?[A-Z]{1,3}\$?\d+\b|\b\d[\d.]*(?:e[+-]?\d+)?", "", bare)
        found.update(re.findall(r"[A-Za-z_][\w.]*", bare))
    return found


def hostile(text: str) -> Pack:
    """A pack whose every text is a hostile one."""

    def spoilt(entry: FrozenInput) -> FrozenInput:
        return replace(entry, label=text, source=text, as_entered=text)

    def bad(pair: FrozenPair) -> FrozenPair:
        yarns = tuple(
            replace(each, code=f"{text}{at}", supplier=text, country=text, count=text)
            for at, each in enumerate(pair.yarns)
        )
        return replace(pair, label=text, yarns=yarns)

    pack = pack_of(demo_comparison("DN-1375"))
    cloth = pack.cloths[0]
    spoilt_cloth = replace(
        cloth,
        code=text,
        name=text,
        facts=(Fact(text, text),),
        pairs=tuple(bad(pair) for pair in cloth.pairs[:2]),
    )
    lines = tuple(replace(line, label=text) for line in pack.lines)
    return replace(
        pack,
        reference=text,
        title=text,
        buyer=text,
        notes=text,
        cloths=(spoilt_cloth, replace(spoilt_cloth, variant=text, change=text, cells=())),
        lines=lines,
        inputs=tuple(spoilt(entry) for entry in pack.inputs),
    )


@pytest.mark.parametrize("text", HOSTILE, ids=range(len(HOSTILE)))
def test_a_hostile_text_stays_a_text(text: str) -> None:
    """No formula, no link, no markup and no broken part comes of what somebody typed."""
    book = workbook_of(hostile(text))
    parts = parts_of(book)
    usual = {re.sub(r"\d+", "", each) for each in parts_of(demo_book())}
    assert {re.sub(r"\d+", "", each) for each in parts} == usual
    for each in parts.values():
        assert ElementTree.fromstring(each) is not None
    assert not any("hyperlink>" in each or "<hyperlink " in each for each in parts.values())
    assert words_in(formulas_of(book)) <= set(defined_names(book)) | FUNCTIONS
    with CalamineWorkbook.from_filelike(io.BytesIO(book)) as read:
        assert len({name.casefold() for name in read.sheet_names}) == 5
        for name in read.sheet_names:
            assert 0 < len(name) <= 31
            assert not set(name) & set("[]:*?/\\")
            assert name == name.strip("'")


def test_a_text_that_looks_like_rich_text_is_not_taken_for_it() -> None:
    book = workbook_of(hostile("<r><t>rich</t></r>"))
    assert "<is><r>" not in "".join(parts_of(book).values())


def test_the_file_holds_sheets_styles_and_nothing_from_elsewhere() -> None:
    parts = parts_of(demo_book())
    fixed = {
        "[Content_Types].xml", "_rels/.rels", "docProps/app.xml", "docProps/core.xml",
        "xl/_rels/workbook.xml.rels", "xl/styles.xml", "xl/theme/theme1.xml", "xl/workbook.xml",
    }  # fmt: skip
    sheets = {f"xl/worksheets/sheet{at}.xml" for at in range(1, len(demo().cloths) + 4)}
    assert set(parts) == fixed | sheets
    together = "".join(parts.values())
    assert "TargetMode" not in together
    assert "<hyperlink" not in together
    assert 'state="hidden"' not in together
    assert 'hidden="1"' not in together
    assert not re.search(
        r"https?://(?!schemas\.(openxmlformats|microsoft)|purl\.org|www\.w3)", together
    )


def test_its_properties_tell_of_the_pack_and_of_no_machine() -> None:
    core = ElementTree.fromstring(parts_of(demo_book())["docProps/core.xml"])
    told = {each.tag.rpartition("}")[2]: each.text for each in core}
    assert told == {
        "title": "Spring denim",
        "creator": "Creelbook",
        "lastModifiedBy": "Creelbook",
        "created": "2026-03-11T18:30:00Z",
        "modified": "2026-03-11T18:30:00Z",
    }


def test_the_same_pack_gives_the_same_bytes() -> None:
    assert workbook_of(demo()) == demo_book()
    draft = replace(demo(), made_at=None)
    assert workbook_of(draft) == workbook_of(draft)


def test_it_tells_how_many_cloths_are_done() -> None:
    told: list[int] = []
    write_workbook(demo(), io.BytesIO(), told.append)
    assert told == list(range(1, len(demo().cloths) + 1))


def test_every_figure_is_a_formula_with_the_packs_figure_beside_it() -> None:
    book = demo_book()
    with CalamineWorkbook.from_filelike(io.BytesIO(book)) as read:
        for sheet in sheets_of(demo(), Inputs(demo())):
            shown = read.get_sheet_by_name(sheet.name).to_python(skip_empty_area=False)
            for place, pair in enumerate(sheet.cloth.pairs):
                for key, value in demo().figures_of(pair).items():
                    assert shown[sheet.row_of[key] - 1][2 + place] == value
    figures = sum(len(pair.figures) for cloth in demo().cloths for pair in cloth.pairs)
    assert len(formulas_of(book)) > figures


def test_a_pair_without_a_line_has_an_empty_cell_there() -> None:
    sheet = next(s for s in sheets_of(demo(), Inputs(demo())) if s.cloth.code == "DN-1450")
    row = sheet.rows.by_key["warp.freight"]
    lacking = [at for at, fed in enumerate(row.fed) if fed is None]
    assert 0 < len(lacking) < len(row.fed)
    with CalamineWorkbook.from_filelike(io.BytesIO(demo_book())) as read:
        shown = read.get_sheet_by_name(sheet.name).to_python(skip_empty_area=False)
    assert {shown[sheet.row_of["warp.freight"] - 1][2 + at] for at in lacking} == {""}


@pytest.mark.parametrize("seed", [None, 1, 4])
def test_every_name_in_a_formula_is_defined_legal_and_unique(seed: int | None) -> None:
    pack = demo() if seed is None else random_pack(seed, 6).pack
    book = workbook_of(pack)
    names = defined_names(book)
    assert len(names) == len(Inputs(pack).rows)
    assert len({name.casefold() for name in names}) == len(names)
    assert len(set(names.values())) == len(names)
    for name in names:
        assert re.fullmatch(r"[A-Za-z][A-Za-z0-9_]*", name)
        assert len(name) < 255
        assert not is_reference(name)
        assert not name.lower().startswith("xl")
    used = words_in(formulas_of(book)) - FUNCTIONS
    assert used == set(names)


@pytest.mark.parametrize(
    ("wanted", "given"),
    [
        (("A1",), "id_A1"), (("XFD1048576",), "id_XFD1048576"), (("R1C1",), "id_R1C1"),
        (("r",), "id_r"), (("c", ""), "id_c"), (("2026", "price"), "id_2026_price"),
        (("true",), "id_true"), (("Тюмень", "x"), "x"), (("", ""), "id"),
        (("_xlnm", "Print"), "xlnm_Print"), (("Türkiye 4/1",), "Turkiye_4_1"),
    ],
)  # fmt: skip
def test_a_name_is_no_cell_and_no_word_of_a_program(wanted: Any, given: str) -> None:
    assert Names().name(*wanted) == given


def test_names_differ_without_regard_to_case() -> None:
    names = Names()
    given = [names.name("Loom", "PPI"), names.name("loom_ppi"), names.name("LOOM-PPI")]
    assert given == ["Loom_PPI", "loom_ppi_2", "LOOM_PPI_3"]


def test_sheet_names_are_legal_and_differ() -> None:
    names = Names({"summary"})
    long = "DN-1375 a name that is far too long for a sheet"
    assert names.sheet("Summary") == "Summary (2)"
    assert names.sheet(long, "DN-1375") == "DN-1375"
    assert names.sheet(long, long) == "DN-1375 a name that is far too"
    assert names.sheet(long, long) == "DN-1375 a name that is far (2)"
    assert names.sheet("History") == "History of cloth"
    assert names.sheet("[]:*?/\\") == "Cloth"
    assert names.sheet("'quoted'") == "quoted"
    assert quoted("O'Hara's") == "'O''Hara''s'"


def test_an_empty_pack_is_a_workbook_too() -> None:
    pool = Pool()
    cloth = replace(freeze_comparison(demo_comparison("DN-1375"), pool), pairs=(), cells=())
    heading = Heading("", "", "", DAY)
    basis = demo_comparison("DN-1375").basis
    pack = assemble(heading, basis, [cloth], Pool(), engine="trial", made_at=FROZEN_AT)
    assert len(parts_of(workbook_of(pack))) == 12


def attribute(sheet: ElementTree.Element, tag: str, name: str) -> str | None:
    found = sheet.find(f".//{MAIN}{tag}")
    return None if found is None else found.attrib.get(name)


def test_every_sheet_prints_on_landscape_a4_with_its_heads_repeated() -> None:
    parts = parts_of(demo_book())
    sheets = [ElementTree.fromstring(t) for n, t in parts.items() if "worksheets/" in n]
    for sheet in sheets:
        assert attribute(sheet, "pageSetup", "orientation") == "landscape"
        assert attribute(sheet, "pageSetup", "paperSize") == "9"
        assert attribute(sheet, "pageSetup", "fitToHeight") == "0"
        assert attribute(sheet, "pageSetUpPr", "fitToPage") == "1"
        assert attribute(sheet, "pane", "state") == "frozen"
        assert "Spring denim" in (sheet.findtext(f".//{MAIN}oddHeader") or "")
        assert "2026-03-12-tarn-0001" in (sheet.findtext(f".//{MAIN}oddHeader") or "")
    told = parts["xl/workbook.xml"]
    assert told.count("_xlnm.Print_Area") == len(sheets)
    assert told.count("_xlnm.Print_Titles") == len(sheets) - 1  # the notes have no head


def test_inputs_are_blue_and_results_black() -> None:
    parts = parts_of(demo_book())
    styles = ElementTree.fromstring(parts["xl/styles.xml"])
    colours = [each.find(f"{MAIN}color") for each in styles.find(f"{MAIN}fonts") or []]
    fonts = ["" if each is None else each.attrib.get("rgb", "") for each in colours]
    formats = [int(each.attrib["fontId"]) for each in styles.find(f"{MAIN}cellXfs") or []]
    last = max(
        (name for name in parts if "worksheets/" in name),
        key=lambda name: int(re.sub(r"\D", "", name)),
    )
    cell = defined_names(demo_book())["Q09_quoted_price"].rpartition("!")[2].replace("$", "")
    typed = re.search(rf'<c r="{cell}" s="(\d+)"', parts[last])
    assert typed is not None
    assert fonts[formats[int(typed[1])]] == "FF0000FF"
    for match in re.finditer(r'<c r="\w+" s="(\d+)"><f>', parts["xl/worksheets/sheet3.xml"]):
        assert fonts[formats[int(match[1])]] == "FF1F2430"


def test_poisson_is_written_in_the_names_of_the_file_format() -> None:
    packs = (random_pack(seed, 2).pack for seed in range(12))
    pack = next(each for each in packs if each.basis.loom_rule == "from stops")
    found = [each for each in formulas_of(workbook_of(pack)) if "POISSON" in each]
    assert found
    assert all("POISSON" not in each.replace("_xlfn.POISSON.DIST(", "") for each in found)
