"""The process that reads one file and answers one question about it; `sheets` starts it.

It limits itself before it looks at anything, because its readers may be made to fill the memory
or to compute without end. The question is a line of JSON followed by the file. The answer is lines
of JSON: what was asked for, then "end"; or at any point {"refused": [what, remedy]}.
"""

from __future__ import annotations

import json
import os
import resource
import sys
from collections.abc import Iterator
from typing import Any, BinaryIO

from server.core.errors import shorten
from server.intake.archive import Refused
from server.intake.tables import MAX_COMPUTING_S, Table, TooLarge

MEMORY_BYTES = 768 * 1024 * 1024
OPEN_FILES = 64
_SAVE_AGAIN = "Open it in your spreadsheet program, save it as .xlsx or CSV and send the new file."


def main() -> None:
    """Answer the question on standard input, on a private copy of standard output."""
    _limit_itself()
    answers = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # a stray print must not spoil an answer
    question = json.loads(sys.stdin.buffer.readline())
    try:
        for answer in _answered(question, sys.stdin.buffer.read()):
            _write(answers, answer)
        last: Any = "end"
    except BaseException as fault:  # the readers' own faults are no Exception
        last = {"refused": _reason(fault)}
    _write(answers, last)
    answers.flush()


def _limit_itself() -> None:
    """Take away memory, time, files, and the right to leave a copy of the memory behind."""
    for what, wanted, spare in (
        (resource.RLIMIT_AS, MEMORY_BYTES, 0),
        (resource.RLIMIT_CPU, MAX_COMPUTING_S, 1),  # the softer limit is the one that says why
        (resource.RLIMIT_CORE, 0, 0),
        (resource.RLIMIT_FSIZE, 0, 0),
        (resource.RLIMIT_NOFILE, OPEN_FILES, 0),
    ):
        hard = resource.getrlimit(what)[1]
        limits = [wanted, wanted + spare]
        if hard != resource.RLIM_INFINITY:
            limits = [min(each, hard) for each in limits]
        resource.setrlimit(what, (limits[0], limits[1]))


def _write(answers: BinaryIO, answer: Any) -> None:
    text = json.dumps(answer, ensure_ascii=False, separators=(",", ":"))
    answers.write(text.encode() + b"\n")


def _reason(fault: BaseException) -> list[str]:
    """What is the matter and what to do, for the sentence that begins with the file's name."""
    if isinstance(fault, Refused):
        return [fault.what, fault.remedy]
    if isinstance(fault, MemoryError):
        size = MEMORY_BYTES // 1024 // 1024
        return [
            f"needs more than {size} MB of memory to be opened.",
            "Save the one sheet you need as CSV (UTF-8) and send that.",
        ]
    return ["is damaged or was cut off on the way.", _SAVE_AGAIN]


def _answered(question: dict[str, Any], content: bytes) -> Iterator[Any]:
    """The answer to one question, thing by thing."""
    separator, tables = _opened(question, content)
    if question["ask"] == "sheets":
        yield {"separator": separator, "sheets": _sizes(tables)}
        return
    given = 0
    for row in _chosen(tables, question["sheet"]).rows():
        if row[0] < question["first"]:
            continue
        if given == question["most"]:
            return
        given += 1
        yield row


def _opened(question: dict[str, Any], content: bytes) -> tuple[str, list[Table]]:
    """Separator and tables; only the reader that is needed is loaded."""
    if question["kind"] == "text":
        from server.intake.text_table import text_table

        separator, table = text_table(content, question["encoding"], question["separator"])
        return separator, [table]
    from server.intake.workbook import workbook_tables

    return "", workbook_tables(content, question["kind"])


def _sizes(tables: list[Table]) -> list[tuple[str, int, int]]:
    """Name, rows and columns of each; TooLarge only if nothing is left that could be read."""
    sizes, refusals, readable = [], [], False
    for table in tables:
        try:
            rows, columns = table.size()
            readable = readable or rows > 0
        except TooLarge as refusal:
            rows, columns = refusal.rows, refusal.columns
            refusals.append(refusal)
        sizes.append((table.name, rows, columns))
    if refusals and not readable:
        raise refusals[0]
    return sizes


def _chosen(tables: list[Table], name: str) -> Table:
    for table in tables:
        if name in ("", table.name):
            return table
    if not tables:
        raise Refused("has no sheet with cells in it.", _SAVE_AGAIN)
    raise Refused(f"has no sheet named {shorten(name, 31)}.", "Choose one of the sheets it has.")
