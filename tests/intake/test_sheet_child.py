"""The child process behind the sheets: what it may do, and what becomes of one that fails."""

from __future__ import annotations

import itertools
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from server.intake import sheets
from server.intake.files import Unreadable
from server.intake.sheets import look_into, rows_of
from tests.builders import ROOT
from tests.intake.making import children, text, texts


def test_the_readers_are_never_loaded_into_the_web_process() -> None:
    lines = (
        "import sys; from server.intake import sheets; "
        "assert sheets.look_into('a.csv', b'a;b\\n'); "
        "print({'python_calamine', 'clevercsv', 'chardet'} & set(sys.modules))"
    )
    seen = subprocess.run([sys.executable, "-c", lines], cwd=ROOT, capture_output=True, check=True)
    assert seen.stdout.strip() == b"set()"


def test_it_works_wherever_the_program_was_started(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "json.py").write_text("raise SystemExit('the wrong json')")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    assert texts("a.csv", b"a;b\n") == [(1, ["a", "b"])]


def test_the_child_limits_itself() -> None:
    lines = (
        "import resource as r; from server.intake.sheet_child import _limit_itself as l; l(); "
        "print([r.getrlimit(x)[0] for x in (r.RLIMIT_AS, r.RLIMIT_CPU, r.RLIMIT_CORE, "
        "r.RLIMIT_FSIZE, r.RLIMIT_NOFILE)])"
    )
    seen = subprocess.run([sys.executable, "-c", lines], cwd=ROOT, capture_output=True, check=True)
    assert seen.stdout.decode().strip() == str([768 * 1024 * 1024, 10, 0, 0, 64])


@pytest.mark.parametrize(
    ("doing", "message"),
    [
        ("while True: pass", "was given up after 10 s of computing"),
        ("bytearray(10**9)", "could not be opened"),
        (
            "import tempfile; tempfile.TemporaryFile().write(b'x' * 99_999); print('\"end\"')",
            "could not be opened",
        ),
    ],
)
def test_a_limit_that_is_passed_ends_the_child(
    doing: str, message: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    limited = "import server.intake.sheet_child as c; c.MAX_COMPUTING_S = 1; c._limit_itself()"
    start = f"import sys; sys.path.insert(0, sys.argv[1]); {limited}\n{doing}"
    monkeypatch.setattr(sheets, "_START", start)
    with pytest.raises(Unreadable, match=message):
        texts("a.csv", b"a;b\n")


def test_a_child_sees_none_of_our_secrets(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CREELBOOK_DATABASE_URL", "postgresql://secret")
    monkeypatch.setattr(
        sheets,
        "_START",
        "import os, json; print(json.dumps([1, [' '.join(os.environ)], 't'])); print('\"end\"')",
    )
    ((_, (cell,)),) = rows_of("a.csv", b"a\n")
    assert "CREELBOOK" not in cell.text


@pytest.mark.parametrize(
    ("child", "message"),
    [
        ("import os; os.abort()", "could not be opened: it is damaged"),
        ("import os, signal; os.kill(os.getpid(), signal.SIGXCPU)", "after 10 s of computing"),
        ("pass", "could not be opened"),
        ("import time; time.sleep(60)", "not read within 2 s"),
        ("import os, time; os.close(1); time.sleep(60)", "could not be opened"),
        ("print('nonsense')", "makes no sense"),
        ("print('[' * 100_000)", "makes no sense"),
        ("print('[1, [2]]')", "makes no sense"),
        ('print(\'[1, ["a"], "z"]\')', "makes no sense"),
        ("print('{\"refused\": 5}')", "makes no sense"),
        ('print(\'{"refused": ["is odd.", "Mend it."]}\')', "is odd"),
        ("while True: sys.stdout.write('x' * 9999)", "more text than any price list"),
        ("while True: print('[1, [\"' + 'y' * 99_999 + '\"], \"t\"]')", "more text than any"),
    ],
)
def test_a_child_that_fails_is_an_error_and_is_gone(
    child: str, message: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sheets, "_START", f"import sys; sys.stdin.buffer.read()\n{child}")
    monkeypatch.setattr(sheets, "TIMEOUT_S", 2.0)
    monkeypatch.setattr(sheets, "MAX_ANSWER_BYTES", 20_000_000)
    before = children()
    with pytest.raises(Unreadable, match=message) as refusal:
        texts("a.csv", b"a;b\n" * 100_000)
    assert refusal.value.remedy
    with pytest.raises(Unreadable):
        look_into("a.csv", b"a;b\n")
    assert children() == before


def test_a_child_is_gone_when_nobody_wants_more_rows() -> None:
    content = text([[f"row {number}", "x" * 200] for number in range(20_000)]).encode()
    before = children()
    rows = rows_of("a.csv", content)
    assert children() == before, "nothing starts before the first row is wanted"
    assert len(list(itertools.islice(rows, 2))) == 2
    assert children() > before
    del rows
    assert children() == before


def test_what_the_caller_does_between_rows_is_not_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheets, "TIMEOUT_S", 2.0)
    content = text([[f"row {number}", "x" * 200] for number in range(2_000)]).encode()
    rows = rows_of("a.csv", content)
    next(rows)
    time.sleep(2.5)
    assert sum(1 for _ in rows) == 1_999


def test_threads_can_read_at_the_same_time() -> None:
    contents = [text([[f"yarn {n}", row] for row in range(50)]).encode() for n in range(8)]
    with ThreadPoolExecutor(4) as pool:
        read = list(pool.map(lambda content: texts("a.csv", content), contents))
    assert [rows[0][1][0] for rows in read] == [f"yarn {n}" for n in range(8)]


def test_only_so_many_files_are_read_at_one_time(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheets, "WAIT_S", 0.2)
    content = text([["count"], ["7/1"]]).encode()
    held = [sheets.rows_of("a.csv", content) for _ in range(sheets.MOST_CHILDREN)]
    firsts = [next(rows) for rows in held]
    assert len(firsts) == sheets.MOST_CHILDREN
    with pytest.raises(sheets.Unreadable, match="other files are being read"):
        list(sheets.rows_of("b.csv", content))
    for rows in held:
        rows.close()  # type: ignore[attr-defined]
    assert len(list(sheets.rows_of("b.csv", content))) == 2
