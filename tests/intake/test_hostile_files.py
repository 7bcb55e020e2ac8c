"""Files that mean harm or are no tables: refused in time, in words, and without a trace.

Each case is opened the way an upload is. It may not take longer than the wall clock allows, grow
the memory of this process by 50 MB at any moment, or leave a child or a temporary file behind.
"""

from __future__ import annotations

import itertools
import os
import random
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from pathlib import Path

import pytest
import xlsxwriter

from server.intake.files import Unreadable
from server.intake.sheets import Opened, look_into, rows_of
from tests.intake.hostile import CASES, MEGABYTE, Case, noise
from tests.intake.making import OFFERS, children, mutated, ods, text, with_sheet, xls, xlsx

FUZZ_CASES = int(os.environ.get("CREELBOOK_FUZZ_CASES", "300"))
LONGEST_S = 21.0  # 20 s of waiting for the child, and a little to notice
MOST_GROWTH_BYTES = 50 * MEGABYTE


@pytest.fixture(autouse=True)
def nothing_left(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """No child and no temporary file is there after a test that was not there before."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    before = children()
    yield
    assert children() == before
    assert list(tmp_path.iterdir()) == []


def opened(name: str, content: bytes) -> Opened:
    """Look into the file and read its first sheet, within the limits on time and memory."""
    most = _most_memory()
    memory, started = _memory("VmRSS"), time.monotonic()
    try:
        found = look_into(name, content)
        for _ in rows_of(name, content):
            continue
        return found
    finally:
        assert time.monotonic() - started < LONGEST_S
        assert _memory(most) - memory < MOST_GROWTH_BYTES


def _most_memory() -> str:
    """The name of the most memory we had from now on, or of the present one if unknown."""
    try:
        Path("/proc/self/clear_refs").write_text("5")
    except OSError:
        return "VmRSS"
    return "VmHWM"


def _memory(name: str) -> int:
    """A figure of this process in bytes, as the system names it."""
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) * 1024 for line in lines if line.startswith(name))


def case_name(case: Case) -> str:
    return f"{case[0]}: {case[2][:40]}"


@pytest.mark.parametrize("case", CASES, ids=case_name)
def test_a_file_that_is_no_table_is_refused_in_words(case: Case) -> None:
    name, make, message, remedy = case
    content = make()
    with pytest.raises(Unreadable, match=message) as refusal:
        opened(name, content)
    error = refusal.value
    assert (error.code, error.field, error.value) == ("unreadable_file", "file", name)
    assert error.message.startswith(f"{name} ")
    assert error.message.endswith(".")
    assert remedy in error.remedy
    assert error.remedy.endswith(".")


# Things that look dangerous and are read all the same


@pytest.mark.parametrize(
    ("name", "make", "rows"),
    [
        ("a.xlsx", lambda: with_sheet("<f>" * 1_000_000 + noise(20_000).decode()), 0),
        ("a.xlsx", lambda: xlsx({}, change=ten_thousand_styles), 1),
        ("a.xlsx", lambda: with_sheet('<row r="1"><c r="A1"><f>NOW()</f></c></row>'), 0),
        ("a.xlsx", lambda: with_sheet('<row r="1"><c r="A1" s="99"><v>2.46</v></c></row>'), 1),
        ("a.csv", lambda: b"1." * 9_990 + b"\n2\n", 2),
        ("a.csv", lambda: b"1" * 20_000 + b";x\n", 1),
        ("a.csv", lambda: b"=cmd|' /C calc'!A0;2,46\n" * 3, 3),
        ("a.csv", lambda: b"a;b;c\n1;2\n1;2;3;4;5\n;;;;\n", 3),
    ],
)
def test_odd_but_harmless_files_are_read(name: str, make: Callable[[], bytes], rows: int) -> None:
    assert opened(name, make()).sheets[0].rows == rows


def ten_thousand_styles(book: xlsxwriter.Workbook) -> None:
    sheet = book.add_worksheet("A")
    for number in range(10_000):
        sheet.write(0, 0, 2.46, book.add_format({"num_format": f'0.00 "{number}"'}))


# Damage by chance


def test_whatever_is_damaged_there_are_rows_or_a_refusal() -> None:
    """Honest files with bytes changed, lost, doubled and put in, CREELBOOK_FUZZ_CASES of them."""
    rows = [
        *OFFERS,
        [True, -1e-9, date(1999, 12, 31), "ş", None, "x" * 300],
        ["a\nb", '"', "'", ";"],
    ]
    csv = text(OFFERS, ";").encode() + 'Söhne;"a ""b""\nc";2,46\n'.encode() + b"x;y\n" * 20
    honest = {
        "a.xlsx": xlsx({"A": rows, "B": OFFERS}),
        "a.xls": xls({"A": rows, "B": OFFERS}),
        "a.ods": ods({"A": rows, "B": OFFERS}),
        "a.csv": csv,
    }
    names = [name for _, name in zip(range(FUZZ_CASES), itertools.cycle(honest), strict=False)]
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        slowest = max(
            pool.map(lambda case: _damaged(case[0], honest[case[1]], case[1]), enumerate(names))
        )
    assert slowest < LONGEST_S


def _damaged(seed: int, content: bytes, name: str) -> float:
    """Seconds it takes to open a file with that damage; anything but rows or Unreadable fails."""
    damaged = mutated(content, random.Random(seed))
    encoding = "mac_roman" if name == "a.csv" and seed % 3 == 0 else ""
    started = time.monotonic()
    try:
        if seed % 2:
            assert look_into(name, damaged, encoding=encoding).kind
        for line, cells in rows_of(name, damaged, encoding=encoding):
            assert line > 0
            assert cells[-1].kind != "blank"
            assert all(bool(cell.text) == (cell.kind != "blank") for cell in cells)
    except Unreadable:
        pass
    return time.monotonic() - started
