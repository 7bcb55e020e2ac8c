"""Two things in an old .xls workbook that its reader does not tell: errors and passwords.

An .xls file is a small file system (sectors chained by a table) with one stream of records. Only
what leads to cells with errors (#REF!) and to the password is read; whatever does not fit is left
to the reader to refuse. Only the child process imports this module.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator

from server.intake.archive import locked

Errors = dict[int, dict[int, str]]
"""Text by row and then by column, both counted from 0."""

_TEXTS = {
    0x00: "#NULL!",
    0x07: "#DIV/0!",
    0x0F: "#VALUE!",
    0x17: "#REF!",
    0x1D: "#NAME?",
    0x24: "#NUM!",
    0x2A: "#N/A",
}
_SHEET, _END, _ERROR, _PASSWORD = 0x85, 0x0A, 0x205, 0x2F
_FORMULAS = (0x06, 0x206, 0x406)
_LAST_SECTOR = 0xFFFFFFFA  # numbers from here on mean: no further sector


def error_cells(content: bytes) -> list[Errors]:
    """Of each sheet in the order of the workbook; Refused if a password is asked for."""
    try:
        stream = _workbook_stream(content)
        heads = list(_records(stream, 0))
        if any(kind == _PASSWORD for kind, _ in heads):
            raise locked()
        starts = [struct.unpack_from("<I", body)[0] for kind, body in heads if kind == _SHEET]
        return [_errors(stream, start) for start in starts]
    except (struct.error, IndexError, OverflowError):
        return []


def _errors(stream: bytes, start: int) -> Errors:
    """The cells that show an error, of the sheet that begins there."""
    errors: Errors = {}
    for kind, body in _records(stream, start):
        if kind == _ERROR and len(body) >= 8 and body[7] == 1:
            code = body[6]
        elif kind in _FORMULAS and body[12:14] == b"\xff\xff" and body[6] == 2:
            code = body[8]
        else:
            continue
        row, column = struct.unpack_from("<HH", body)
        errors.setdefault(row, {})[column] = _TEXTS.get(code, "#ERROR")
    return errors


def _records(stream: bytes, start: int) -> Iterator[tuple[int, bytes]]:
    """Kind and body of each record up to the end of the part that begins there."""
    while start + 4 <= len(stream):
        kind, length = struct.unpack_from("<HH", stream, start)
        if kind == _END:
            return
        yield kind, stream[start + 4 : start + 4 + length]
        start += 4 + length


def _workbook_stream(content: bytes) -> bytes:
    """The stream named Workbook (Book before 1997), from its chain of sectors."""
    size = 1 << content[30]
    first_of_directory, short_stream = struct.unpack_from("<I4xI", content, 48)
    chain = _sector_table(content, size)
    directory = _joined(content, size, chain, first_of_directory)
    entries = {
        directory[at : at + 64].decode("utf-16-le", "replace").split("\0")[0]: at
        for at in range(0, len(directory) - 127, 128)
    }
    at = entries.get("Workbook", entries.get("Book", -1))
    first, length = struct.unpack_from("<II", directory, at + 116)
    if length >= short_stream:
        return _joined(content, size, chain, first)[:length]
    return _short_stream(content, size, chain, directory, first)[:length]


def _short_stream(
    content: bytes, size: int, chain: list[int], directory: bytes, first: int
) -> bytes:
    """A stream kept in small sectors, which themselves lie in the stream of the root entry."""
    small = 1 << content[32]
    holder = _joined(content, size, chain, struct.unpack_from("<I", directory, 116)[0])
    table = _joined(content, size, chain, struct.unpack_from("<I", content, 60)[0])
    small_chain = list(struct.unpack_from(f"<{len(table) // 4}I", table))
    return b"".join(
        holder[number * small : (number + 1) * small] for number in _numbers(small_chain, first)
    )


def _sector_table(content: bytes, size: int) -> list[int]:
    """For each sector the number of the next one of its chain."""
    parts = list(struct.unpack_from("<109I", content, 76))
    following = struct.unpack_from("<I", content, 68)[0]
    while following < _LAST_SECTOR and len(parts) * size < len(content):
        listed = struct.unpack_from(f"<{size // 4}I", content, (following + 1) * size)
        parts += listed[:-1]
        following = listed[-1]
    chain: list[int] = []
    for part in parts:
        if part < _LAST_SECTOR:
            chain += struct.unpack_from(f"<{size // 4}I", content, (part + 1) * size)
    return chain


def _joined(content: bytes, size: int, chain: list[int], first: int) -> bytes:
    """The sectors of one chain."""
    return b"".join(
        content[(number + 1) * size : (number + 2) * size] for number in _numbers(chain, first)
    )


def _numbers(chain: list[int], number: int) -> Iterator[int]:
    """The numbers of one chain; a chain that bites its tail ends after each has come once."""
    for _ in chain:
        if number >= _LAST_SECTOR:
            return
        yield number
        number = chain[number]
