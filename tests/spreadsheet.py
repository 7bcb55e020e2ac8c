"""A real spreadsheet program that works a workbook out anew, and edits inside a workbook's parts.

Without LibreOffice the tests say so; in CI they fail.
"""

from __future__ import annotations

import io
import os
import re
import shutil
import subprocess
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from xml.etree import ElementTree

import pytest
from python_calamine import CalamineWorkbook

from server.core.pack import Pack
from server.export.workbook import sheets_of, write_workbook
from server.export.workbook_inputs import Inputs

MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
ALWAYS_WORKED_OUT = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load">
<prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
</oor:items>
"""
WRONG = -987654.25  # a result no figure has
_RESULT = re.compile(r"(<f>[^<]*</f>)<v>[^<]*</v>")


def program() -> str:
    """Where LibreOffice is; without it the test is skipped, and in CI it fails."""
    path = shutil.which("soffice") or shutil.which("libreoffice")
    if path is None:
        reason = "no LibreOffice on this machine: apt-get install libreoffice-calc-nogui"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    return path


def converted(workbooks: Mapping[str, bytes], folder: Path, form: str = "xlsx") -> dict[str, Path]:
    """Workbooks opened, worked out and saved by LibreOffice, all in one start of it.

    workbooks: name -> file; form: what is saved, such as `xlsx` or `pdf`
    """
    given, made, profile = (folder / each for each in ("given", "made", "profile"))
    (profile / "user").mkdir(parents=True)
    (profile / "user" / "registrymodifications.xcu").write_text(ALWAYS_WORKED_OUT)
    given.mkdir()
    for name, content in workbooks.items():
        (given / f"{name}.xlsx").write_bytes(content)
    done = subprocess.run(
        [
            program(), "--headless", f"-env:UserInstallation=file://{profile}",
            "--convert-to", form, "--outdir", str(made),
            *(str(given / f"{name}.xlsx") for name in workbooks),
        ],
        capture_output=True, text=True, timeout=300, check=False,
    )  # fmt: skip
    found = {name: made / f"{name}.{form}" for name in workbooks}
    lacking = [name for name, path in found.items() if not path.exists()]
    assert not lacking, f"not converted: {lacking}: {done.stdout} {done.stderr}"
    return found


def workbook_of(pack: Pack) -> bytes:
    """The workbook of a pack."""
    file = io.BytesIO()
    write_workbook(pack, file)
    return file.getvalue()


@dataclass(frozen=True)
class Read:
    """A figure as it stands in a workbook. what: cloth, pair, key"""

    what: tuple[str, str, str]
    value: object


def figures_in(pack: Pack, workbook: Path) -> Iterator[Read]:
    """Every figure of every pair, from the row that is called so and the column of the pair."""
    with CalamineWorkbook.from_path(str(workbook)) as book:
        for sheet in sheets_of(pack, Inputs(pack)):
            rows = book.get_sheet_by_name(sheet.name).to_python(skip_empty_area=False)
            head = rows[sheet.head - 1]
            for place, pair in enumerate(sheet.cloth.pairs):
                assert head[2 + place] == pair.label
                for line in pack.lines_of(pair):
                    row = rows[sheet.row_of[line.key] - 1]
                    assert row[0] == sheet.rows.by_key[line.key].label
                    what = (sheet.cloth.title, pair.key, line.key)
                    yield Read(what, row[2 + place])


def summary_in(workbook: Path) -> Sequence[Sequence[object]]:
    """The rows of the sheet “Summary”."""
    with CalamineWorkbook.from_path(str(workbook)) as book:
        return book.get_sheet_by_name("Summary").to_python(skip_empty_area=False)


def parts_of(workbook: bytes) -> dict[str, str]:
    """Part -> its text."""
    with zipfile.ZipFile(io.BytesIO(workbook)) as file:
        return {name: file.read(name).decode("utf-8") for name in file.namelist()}


def zipped(parts: Mapping[str, str]) -> bytes:
    """A workbook from its parts."""
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as file:
        for name, text in parts.items():
            file.writestr(name, text)
    return made.getvalue()


def with_wrong_results(workbook: bytes) -> bytes:
    """The same workbook with a wrong result beside every formula."""
    parts = parts_of(workbook)
    for name in parts:
        if name.startswith("xl/worksheets/sheet"):
            parts[name] = _RESULT.sub(rf"\g<1><v>{WRONG}</v>", parts[name])
    return zipped(parts)


def defined_names(workbook: bytes) -> dict[str, str]:
    """Defined name -> what it stands for, without those of printing."""
    root = ElementTree.fromstring(parts_of(workbook)["xl/workbook.xml"])
    return {
        each.attrib["name"]: each.text or ""
        for each in root.iter(f"{MAIN}definedName")
        if not each.attrib["name"].startswith("_xlnm.")
    }


def with_inputs(workbook: bytes, values: Mapping[str, float]) -> bytes:
    """The same workbook with other values typed into cells of inputs. values: name -> value"""
    parts, names = parts_of(workbook), defined_names(workbook)
    sheet = max(
        (name for name in parts if name.startswith("xl/worksheets/sheet")),
        key=lambda name: int(re.sub(r"\D", "", name)),
    )
    for name, value in values.items():
        cell = names[name].rpartition("!")[2].replace("$", "")
        typed = re.compile(rf'(<c r="{cell}"[^>]*><v>)[^<]*(</v>)')
        parts[sheet], count = typed.subn(rf"\g<1>{value!r}\g<2>", parts[sheet])
        assert count == 1, name
    return zipped(parts)
