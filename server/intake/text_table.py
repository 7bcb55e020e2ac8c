"""A text file as a table: its separator found, its lines counted as an editor counts them.

Only the child process imports this module, and the detector with it.
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator
from itertools import chain, islice

from clevercsv.detect import Detector

from server.intake.archive import Refused
from server.intake.tables import SEPARATORS, Row, Table, too_large

_NO_SEPARATOR = "\x1f"  # splits nothing: each line is one cell
_SAMPLE_LINES = 100
_SAMPLE_CHARACTERS = 20_000
_SAMPLE_LINE_CHARACTERS = 2_000  # the detector takes the square of the time for a longer line
_END = "\x1e end of text \x1e"  # alone in the last row, unless a quotation mark is still open


def text_table(content: bytes, encoding: str, separator: str) -> tuple[str, Table]:
    """Separator and table. separator: "," ";" tab or "|" as chosen, "" to find out."""
    text = content.decode(encoding).removeprefix("\ufeff")
    zero = text.find("\0")
    if zero >= 0:
        line = text.count("\n", 0, zero) + 1
        raise Refused(
            f"holds a NUL character, which no text has (line {line:,}).",
            "Save the table as CSV (UTF-8) in your spreadsheet program and send that.",
        )
    stated = _stated_separator(text)
    separator = separator or stated or separator_of(text)
    return separator, Table("", lambda: _rows(text, separator, skip_first=bool(stated)))


def separator_of(text: str) -> str:
    """The sign between cells, "" if there is none."""
    lines = islice(io.StringIO(text[:_SAMPLE_CHARACTERS]), _SAMPLE_LINES)
    sample = "".join(line.rstrip("\n")[:_SAMPLE_LINE_CHARACTERS] + "\n" for line in lines)
    try:
        dialect = Detector().detect(sample, delimiters=SEPARATORS)
    except Exception:  # whatever its fault is, counting still works
        dialect = None
    found = dialect.delimiter if dialect is not None else None
    return found if found in SEPARATORS else _most_regular(sample)


def _most_regular(sample: str) -> str:
    """The separator that cuts most lines into the same number of cells."""
    scores: dict[str, tuple[int, int]] = {}
    for separator in SEPARATORS:
        widths = Counter(len(row) for row in csv.reader(io.StringIO(sample), delimiter=separator))
        width, lines = max(widths.items(), key=lambda each: (each[0] > 1, each[1]), default=(1, 0))
        scores[separator] = (lines, width) if width > 1 else (0, 0)
    best = max(scores, key=lambda each: scores[each])
    return best if scores[best][0] > 0 else ""


def _stated_separator(text: str) -> str:
    """The separator of a first line "sep=;", which some programs write; "" without one."""
    line = re.split(r"[\r\n]", text[:8], maxsplit=1)[0]
    return line[4] if line.lower().startswith("sep=") and line[4:] in SEPARATORS else ""


def _rows(text: str, separator: str, *, skip_first: bool) -> list[Row]:
    """All rows with the line each begins in; TooLarge if they are too many or too wide."""
    rows: list[Row] = []
    count = columns = 0
    for line, texts in _cut(text, separator):
        if skip_first and line == 1:
            continue
        texts = [cell if cell.strip() else "" for cell in texts]
        kinds = "".join("t" if cell else "b" for cell in texts).rstrip("b")
        if not kinds:
            continue
        count, columns = count + 1, max(columns, len(kinds))
        if too_large("", count, columns) is None:
            rows.append((line, texts, kinds))
    refusal = too_large("", count, columns)
    if refusal is not None:
        raise refusal
    return rows


def _cut(text: str, separator: str) -> Iterator[tuple[int, list[str]]]:
    """Line number and cells of each row; Refused if a quotation mark stays open."""
    csv.field_size_limit(len(text) + len(_END) + 1)
    lines = chain(io.StringIO(text, newline=""), [_END])
    reader = csv.reader(lines, delimiter=separator or _NO_SEPARATOR)
    line, texts = 1, [""]
    while True:
        line, texts = reader.line_num + 1, next(reader)
        if texts == [_END]:
            return
        if texts and texts[-1].endswith(_END):
            raise Refused(
                f"has a quotation mark that is never closed (in the row of line {line:,}).",
                "Close or remove that quotation mark and send the file again.",
            )
        yield line, texts
