"""Sheets and rows of a file that arrived, read in a child process with limits.

A damaged or malicious file can end its reader or fill the memory, so the readers are never loaded
here: `sheet_child` is, in a process of its own that lives for one question. Its answer is read
line by line and never trusted to be short, in time or complete.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Generator, Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

from server.core.errors import shorten
from server.intake.files import EncodingUnclear, Unreadable, encoding_of, kind_of
from server.intake.tables import MAX_COMPUTING_S, SEPARATORS

__all__ = [
    "Cell", "EncodingUnclear", "Opened", "SheetInfo", "Unreadable", "look_into", "rows_of",
]  # fmt: skip

TIMEOUT_S = 20.0
MAX_ANSWER_BYTES = 100_000_000  # 20,000 rows of 200 cells of 25 bytes each
MAX_LINE_BYTES = 8_000_000
_BLOCK_BYTES = 65_536
MOST_CHILDREN = 4  # files read at one time, each with memory of its own
WAIT_S = 15.0  # for one of them to be done
_places = threading.BoundedSemaphore(MOST_CHILDREN)
_ROOT = Path(__file__).parents[2]
_START = (
    "import sys; sys.path.insert(0, sys.argv[1]); "
    "from server.intake.sheet_child import main; main()"
)
_KEPT_SETTINGS = ("PATH", "LD_LIBRARY_PATH", "SYSTEMROOT", "LANG")
_KINDS = {"t": "text", "n": "number", "d": "date", "b": "blank"}
_SAVE_LESS = "Save the one sheet you need as CSV (UTF-8) and send that."
_SAVE_AGAIN = "Open it in your spreadsheet program, save it as .xlsx or CSV and send the new file."


class Cell(NamedTuple):
    """One cell.

    text: as the file shows it; a number as plain decimals, a date as 2026-03-12, a blank as ""
    kind: "text", "number", "date" or "blank"; the cells of a text file are "text" or "blank"
    """

    text: str
    kind: str


@dataclass(frozen=True, slots=True)
class SheetInfo:
    """One sheet. rows, columns: up to the last one that is not blank. A text file has one, ""."""

    name: str
    rows: int
    columns: int


@dataclass(frozen=True)
class Opened:
    """What a file holds.

    kind: "xlsx", "xls", "ods" or "text"
    encoding, separator: of a text file, else ""; separator "" also if each line is one cell
    sheets: in the order of the file, hidden ones last; one that is too large to be read is among
        them as long as another can be read
    """

    kind: str
    encoding: str
    separator: str
    sheets: tuple[SheetInfo, ...]


def look_into(name: str, content: bytes, *, encoding: str = "", separator: str = "") -> Opened:
    """What the file holds; Unreadable, or EncodingUnclear for text nobody can tell the letters of.

    name: the file's name, "" for pasted text
    encoding, separator: of a text file, as chosen by a person; "" to find out
    """
    request = _request(name, content, encoding=encoding, separator=separator)
    with closing(_answers(name, content, {**request, "ask": "sheets"})) as answers:
        answer: Any = next(answers, None)
    try:
        sheets = tuple(
            SheetInfo(str(sheet), int(rows), int(columns))
            for sheet, rows, columns in answer["sheets"]
        )
        return Opened(request["kind"], request["encoding"], str(answer["separator"]), sheets)
    except (TypeError, ValueError, LookupError) as nonsense:
        raise _broken(name) from nonsense


def rows_of(
    name: str,
    content: bytes,
    *,
    sheet: str = "",
    encoding: str = "",
    separator: str = "",
    first: int = 1,
    most: int | None = None,
) -> Iterator[tuple[int, tuple[Cell, ...]]]:
    """Line number as seen in the file, and cells without trailing blanks, of each row not blank.

    A formula gives the value the file keeps for it, or a blank if it keeps none. Merged cells give
    their value in the first of them. Unreadable may also come after some rows were given.

    sheet: its name, "" for the first
    first: the line to begin with, counted from 1
    most: how many rows at most, None for all
    """
    request = _request(name, content, encoding=encoding, separator=separator)
    ask = {**request, "ask": "rows", "sheet": sheet, "first": first, "most": most}
    return _rows(name, content, ask)


def _rows(name: str, content: bytes, ask: dict[str, Any]) -> Iterator[tuple[int, tuple[Cell, ...]]]:
    with closing(_answers(name, content, ask)) as answers:
        for answer in answers:
            yield _row(name, answer)


def _request(name: str, content: bytes, *, encoding: str, separator: str) -> dict[str, Any]:
    """What every question to the child says, after the checks that need no child."""
    kind = kind_of(name, content, encoding=encoding)
    if separator and separator not in SEPARATORS:
        raise Unreadable(
            name,
            f"was to be read with {shorten(separator, 10)!r} between its cells.",
            "Choose comma, semicolon, tab or the upright stroke.",
        )
    if kind == "text":
        encoding = encoding_of(name, content, encoding)
        return {"kind": kind, "encoding": encoding, "separator": separator}
    return {"kind": kind, "encoding": "", "separator": ""}


def _row(name: str, answer: Any) -> tuple[int, tuple[Cell, ...]]:
    try:
        line, texts, kinds = answer
        cells = tuple(
            Cell(str(text), _KINDS[kind]) for text, kind in zip(texts, kinds, strict=True)
        )
        return int(line), cells
    except (TypeError, ValueError, KeyError) as nonsense:
        raise _broken(name) from nonsense


# The child


def _answers(name: str, content: bytes, request: dict[str, Any]) -> Generator[Any, None, None]:
    """What the child says, one thing at a time; the child is gone when this ends in any way."""
    if not _places.acquire(timeout=WAIT_S):
        raise Unreadable(name, "had to wait: other files are being read", "Try again in a moment.")
    try:
        child = _started()
    except OSError:
        _places.release()
        raise
    clock = _Clock(child)
    try:
        clock.send(json.dumps(request).encode() + b"\n", content)
        for line in _lines(name, clock):
            answer = json.loads(line)
            if answer == "end":
                return
            if isinstance(answer, dict) and "refused" in answer:
                what, remedy = answer["refused"]
                raise Unreadable(name, shorten(what, 300), shorten(remedy, 300))
            yield answer
        raise _died(name, child, clock)
    except (ValueError, TypeError, RecursionError) as nonsense:
        raise _broken(name) from nonsense
    finally:
        _end(child)
        _places.release()


def _started() -> subprocess.Popen[bytes]:
    """A child of the same interpreter, which sees neither our settings nor our terminal."""
    return subprocess.Popen(
        [sys.executable, "-I", "-c", _START, str(_ROOT)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env={name: os.environ[name] for name in _KEPT_SETTINGS if name in os.environ},
        start_new_session=True,
    )


def _end(child: subprocess.Popen[bytes]) -> None:
    child.kill()  # it holds nothing that could be lost
    child.wait()
    for pipe in (child.stdin, child.stdout):
        if pipe is not None:
            try:
                pipe.close()
            except OSError:
                continue  # part of the file was still waiting for the dead child


class _Clock:
    """Talks with the child, and kills it when waiting for it took too long altogether.

    Only waiting counts: what the caller does between two rows is not the file's fault.
    """

    def __init__(self, child: subprocess.Popen[bytes]) -> None:
        self.late = False
        self._child = child
        self._left_s = TIMEOUT_S

    def send(self, *parts: bytes) -> None:
        """Send the question and close the child's input; a dead child shows in its answer."""
        if self._child.stdin is not None:
            with self._waiting(), suppress(OSError), self._child.stdin as pipe:
                for part in parts:
                    pipe.write(part)

    def block(self) -> bytes:
        """The next bytes of the answer, b"" after the last."""
        if self._child.stdout is None:
            return b""
        with self._waiting():
            return os.read(self._child.stdout.fileno(), _BLOCK_BYTES)

    @contextmanager
    def _waiting(self) -> Iterator[None]:
        timer = threading.Timer(max(0.0, self._left_s), self._kill)
        timer.daemon = True
        started = time.monotonic()
        timer.start()
        try:
            yield
        finally:
            timer.cancel()
            self._left_s -= time.monotonic() - started

    def _kill(self) -> None:
        self.late = True
        self._child.kill()


def _lines(name: str, clock: _Clock) -> Iterator[bytes]:
    """The answer line by line; an endless line or answer is not followed."""
    rest, total = b"", 0
    while block := clock.block():
        total += len(block)
        *lines, rest = (rest + block).split(b"\n")
        yield from lines
        if len(rest) > MAX_LINE_BYTES or total > MAX_ANSWER_BYTES:
            raise Unreadable(name, "holds more text than any price list does.", _SAVE_LESS)


def _died(name: str, child: subprocess.Popen[bytes], clock: _Clock) -> Unreadable:
    """Why the answer stopped before its end."""
    with suppress(subprocess.TimeoutExpired):
        child.wait(1)
    if clock.late:
        return Unreadable(
            name, f"was not read within {TIMEOUT_S:g} s and was given up.", _SAVE_LESS
        )
    if child.returncode == -signal.SIGXCPU:
        return Unreadable(
            name,
            f"was given up after {MAX_COMPUTING_S} s of computing; no price list needs that.",
            _SAVE_LESS,
        )
    return Unreadable(
        name,
        "could not be opened: it is damaged, or far larger inside than it looks.",
        _SAVE_AGAIN,
    )


def _broken(name: str) -> Unreadable:
    return Unreadable(name, "could not be opened: what was read of it makes no sense.", _SAVE_AGAIN)
