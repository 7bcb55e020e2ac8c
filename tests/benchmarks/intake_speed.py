"""A sheet of 20,000 offers through a running server: time, progress, memory; killed half-way.

The sheet has 24 columns. The server is the real program on a SQLite file; everything goes over
HTTP on loopback as a browser would send it. Memory is the server's own resident set; the reader is
a child process with limits of its own.

    python -m pytest -n 0 -s tests/benchmarks/intake_speed.py
"""

from __future__ import annotations

import random
import re
import signal
import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, timedelta
from pathlib import Path
from subprocess import Popen

import httpx
import pytest

from tests.benchmarks.page_speed import running
from tests.intake.making import xlsx

ROWS = 20_000
HEADINGS = [
    "Supplier", "Ref", "Description", "Count (Ne)", "Process", "Twist", "Price USD/kg", "Delivery",
    "Payment", "Lead time (days)", "MOQ (t)", "Valid until", "Regain %", "Count tol %",
    "Tenacity cN/tex", "CVm %", "Hairiness", "Count CV", "Slub", "Lot", "Test method",
    "Break 1 from", "Break 1 price", "Remarks",
]  # fmt: skip
SUPPLIERS = ("Vayuna Cotton Spinners", "Nilabagh Spinning", "Kaveriyam Spinners",
             "Marrow Creek Spinning")  # fmt: skip


def sheet(rows: int) -> bytes:
    """An invented price list, below a title."""
    chance = random.Random(7)
    first = date(2026, 4, 1)
    lines = [
        [
            chance.choice(SUPPLIERS), f"R{n}", "carded weaving yarn",
            f"{chance.randint(10, 40) / 2}/1", chance.choice(("OE", "ring", "ring carded")), "Z",
            round(chance.uniform(1.8, 3.4), 3),
            chance.choice(("FOB Mundra", "CIF Veracruz", "FOB Karachi")),
            chance.choice(("LC sight", "LC 60 days", "TT advance")), chance.randint(14, 45),
            chance.choice((5, 10, 20)), first + timedelta(chance.randint(0, 40)), 8.5, 1.5,
            round(chance.uniform(11, 17), 1), round(chance.uniform(12, 16), 1),
            round(chance.uniform(5, 9), 1), 1.2, "", f"L{n % 97}", "ISO 2062", 40,
            round(chance.uniform(1.5, 1.79), 2), "",
        ]
        for n in range(rows)
    ]  # fmt: skip
    return xlsx({"Offers": [["Price list"], [], HEADINGS, *lines]})


def resident_mb(process: Popen[str]) -> float:
    """Memory of a process that is in RAM [MB]."""
    status = Path(f"/proc/{process.pid}/status").read_text()
    found = re.search(r"VmRSS:\s+(\d+)", status)
    assert found
    return int(found[1]) / 1024


@contextmanager
def demo(file: Path) -> Iterator[tuple[Popen[str], httpx.Client]]:
    """A demonstration on a file of its own, and a visitor."""
    with running("-m", "server", "demo", "--port", "0", "--database", str(file)) as process:
        assert process.stdout is not None
        address = re.search(r"http://[\d.:]+", process.stdout.readline())
        assert address
        with httpx.Client(base_url=address[0], timeout=60, follow_redirects=True) as visitor:
            visitor.get("/offers")
            yield process, visitor


def received(visitor: httpx.Client, content: bytes) -> str:
    """Upload, and match the columns as proposed; gives the path of the intake."""
    answer = visitor.post(
        "/intake/new", data={"received_on": "2026-03-02"}, files={"file": ("prices.xlsx", content)}
    )
    assert answer.status_code == 200, answer.text[:400]
    path = answer.url.path.removesuffix("/columns")
    chosen = re.findall(r'name="(c\d+)".*?<option value="(\w*)" selected', answer.text, re.DOTALL)
    answer = visitor.post(
        f"{path}/columns", data={**dict(chosen), "sheet": "Offers", "heading_line": "3"}
    )
    assert answer.status_code == 200, answer.text[:400]
    return path


def worked(visitor: httpx.Client, process: Popen[str], path: str) -> tuple[set[int], float]:
    """Wait until the page has no progress bar; the percents seen and the most memory [MB]."""
    seen: set[int] = set()
    most = 0.0
    while True:
        page = visitor.get(path)
        most = max(most, resident_mb(process))
        bar = re.search(r'<progress[^>]*max="(\d+)" value="(\d+)"', page.text)
        if not bar:
            return seen, most
        seen.add(100 * int(bar[2]) // int(bar[1]))
        time.sleep(0.25)


def offers_in(file: Path) -> int:
    """Offers in the database file, and that it is sound."""
    with sqlite3.connect(file) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        return int(connection.execute("SELECT count(*) FROM offer").fetchone()[0])


def test_twenty_thousand_offers_come_in_under_a_minute_and_fifty_megabytes(tmp_path: Path) -> None:
    content, file = sheet(ROWS), tmp_path / "many.sqlite"
    with demo(file) as (process, visitor):
        before, start = resident_mb(process), time.perf_counter()
        path = received(visitor, content)
        reading, most_reading = worked(visitor, process, path)
        read = time.perf_counter()
        visitor.post(f"{path}/store", data={"leave_out_faulty": "yes"})
        storing, most_storing = worked(visitor, process, path)
        stored = time.perf_counter()
        grown = max(most_reading, most_storing) - before
        page = visitor.get(path).text
    assert "20000 offers were stored" in page
    assert offers_in(file) == 40 + ROWS
    print(
        f"\n{len(content) / 1e6:.1f} MB, {ROWS} rows of {len(HEADINGS)}: uploaded, matched and "
        f"read in {read - start:.1f} s, stored in {stored - read:.1f} s; {stored - start:.1f} s; "
        f"progress seen at {len(reading)} and {len(storing)} moments; server {before:.0f} MB at "
        f"first, grown by at most {grown:.0f} MB"
    )
    assert stored - start < 60
    assert grown < 50
    assert len(reading) > 2
    assert len(storing) > 2


@pytest.mark.parametrize("share", [10, 50, 80])
def test_killed_half_way_nothing_is_left_behind(tmp_path: Path, share: int) -> None:
    file = tmp_path / "killed.sqlite"
    with demo(file) as (process, visitor):
        path = received(visitor, sheet(4_000))
        worked(visitor, process, path)
        visitor.post(f"{path}/store", data={"leave_out_faulty": "yes"})
        for _ in range(2_000):
            bar = re.search(r'max="(\d+)" value="(\d+)"', visitor.get(path).text)
            if bar is None or 100 * int(bar[2]) >= share * int(bar[1]):
                break
            time.sleep(0.01)
        process.send_signal(signal.SIGKILL)
        process.wait(10)
    assert bar is not None, "it was stored before it could be killed"
    assert offers_in(file) == 40
    with demo(file) as (process, visitor):
        assert "Store 4000 offers" in visitor.get(path).text
    print(f"\nkilled at {share} % of storing: 0 of 4000 offers stored, the database is sound")
