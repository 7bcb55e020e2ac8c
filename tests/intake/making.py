"""Files made at test time: honest ones of every kind, and pieces to make dishonest ones of."""

from __future__ import annotations

import io
import os
import random
import struct
import zipfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape, quoteattr

import xlsxwriter
import xlwt

from server.intake.sheets import rows_of

ODS_TYPE = b"application/vnd.oasis.opendocument.spreadsheet"
OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
SHEET = "xl/worksheets/sheet1.xml"
SHEET_XML = (
    '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    "{}</sheetData></worksheet>"
)
Rows = Sequence[Sequence[Any]]

OFFERS: Rows = [
    ["Supplier", "Yarn", "Count", "Price", "Quantity", "Valid"],
    ["Garuda Spinners", "Ring carded", "Ne 7/1", 2.46, 15900, date(2026, 3, 12)],
    ["Delta, Ltd", "Open end", "Ne 8/1", 1.99, 20000, date(2026, 3, 31)],
]


def xlsx(
    sheets: Mapping[str, Rows], *, change: Callable[[xlsxwriter.Workbook], None] | None = None
) -> bytes:
    """A workbook by name of sheet. change: what else is done to it before it is closed."""
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True})
    day = book.add_format({"num_format": "yyyy-mm-dd"})
    moment = book.add_format({"num_format": "yyyy-mm-dd hh:mm"})
    for name, rows in sheets.items():
        sheet = book.add_worksheet(name)
        for row, values in enumerate(rows):
            for column, value in enumerate(values):
                if isinstance(value, datetime):
                    sheet.write_datetime(row, column, value, moment)
                elif isinstance(value, date):
                    sheet.write_datetime(row, column, value, day)
                else:
                    sheet.write(row, column, value)
    if change is not None:
        change(book)
    book.close()
    return out.getvalue()


def xls(sheets: Mapping[str, Rows]) -> bytes:
    """An old workbook by name of sheet."""
    book = xlwt.Workbook()
    day = xlwt.easyxf(num_format_str="yyyy-mm-dd")
    for name, rows in sheets.items():
        sheet = book.add_sheet(name)
        for row, values in enumerate(rows):
            for column, value in enumerate(values):
                if isinstance(value, date):
                    sheet.write(row, column, value, day)
                elif value is not None:
                    sheet.write(row, column, value)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def ods(sheets: Mapping[str, Rows]) -> bytes:
    """An OpenDocument workbook by name of sheet."""
    return ods_of("".join(map(_ods_table, sheets, sheets.values())))


def ods_of(tables: str, *, manifest: str = "<manifest/>") -> bytes:
    """An OpenDocument workbook around its tables as XML."""
    content = (
        '<?xml version="1.0" encoding="UTF-8"?><office:document-content '
        'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
        'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
        'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0">'
        f"<office:body><office:spreadsheet>{tables}</office:spreadsheet></office:body>"
        "</office:document-content>"
    )
    return zipped(
        {
            "mimetype": ODS_TYPE,
            "META-INF/manifest.xml": manifest.encode(),
            "content.xml": content.encode(),
        }
    )


def _ods_table(name: str, rows: Rows) -> str:
    lines = "".join(
        f"<table:table-row>{''.join(map(ods_cell, values))}</table:table-row>" for values in rows
    )
    return f"<table:table table:name={quoteattr(name)}>{lines}</table:table>"


def ods_cell(value: Any, more: str = "") -> str:
    """One cell. more: further attributes."""
    if value is None:
        return f"<table:table-cell {more}/>"
    if isinstance(value, bool):
        kind = f'office:value-type="boolean" office:boolean-value="{str(value).lower()}"'
    elif isinstance(value, int | float):
        kind = f'office:value-type="float" office:value="{value!r}"'
    elif isinstance(value, date):
        kind = f'office:value-type="date" office:date-value="{value.isoformat()}"'
    else:
        kind = 'office:value-type="string"'
    return (
        f"<table:table-cell {kind} {more}><text:p>{escape(str(value))}</text:p></table:table-cell>"
    )


def text(rows: Rows, separator: str = ",") -> str:
    """The rows as lines; cells with the separator in them are quoted."""
    return "".join(
        separator.join(f'"{cell}"' if separator in str(cell) else str(cell) for cell in row) + "\n"
        for row in rows
    )


# Archives


def zipped(
    members: Mapping[str, bytes] | Iterable[tuple[zipfile.ZipInfo | str, bytes]],
    *,
    compression: int = zipfile.ZIP_DEFLATED,
) -> bytes:
    """An archive of the members."""
    pairs = members.items() if isinstance(members, Mapping) else members
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", compression) as archive:
        for name, content in pairs:
            archive.writestr(name, content, compress_type=compression)
    return out.getvalue()


def unzipped(content: bytes) -> dict[str, bytes]:
    """The members of an archive."""
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def with_parts(content: bytes, parts: Mapping[str, bytes]) -> bytes:
    """An archive with some of its members put in or replaced."""
    return zipped(unzipped(content) | dict(parts))


def with_sheet(cells: str) -> bytes:
    """A workbook whose one sheet is made of this XML."""
    return with_parts(xlsx({"A": [["x"]]}), {SHEET: SHEET_XML.format(cells).encode()})


def restated(content: bytes, member: str, *, size: int | None = None, flag: int = 0) -> bytes:
    """The archive's directory with another size or a flag for a member; the data stay."""
    name = member.encode()
    at = content.rfind(b"PK\x01\x02", 0, content.rindex(name))
    changed = bytearray(content)
    if size is not None:
        struct.pack_into("<I", changed, at + 24, size)
    changed[at + 8] |= flag
    return bytes(changed)


def ole(stream: str) -> bytes:
    """Something that looks like an old Office file with one named stream."""
    coded = stream.encode("utf-16-le") + b"\0\0"
    entry = coded.ljust(64, b"\0") + struct.pack("<HBB", len(coded), 2, 1)
    return OLE.ljust(512, b"\0") + entry.ljust(512, b"\0")


# Looking


def texts(name: str, content: bytes, **options: Any) -> list[tuple[int, list[str]]]:
    """Line and texts of each row."""
    return [
        (line, [cell.text for cell in cells]) for line, cells in rows_of(name, content, **options)
    ]


def children() -> set[str]:
    """Process ids of our children."""
    found = set()
    for status in Path("/proc").glob("[0-9]*/status"):
        try:
            if f"PPid:\t{os.getpid()}\n" in status.read_text():
                found.add(status.parent.name)
        except OSError:
            continue
    return found


# Damage


def mutated(content: bytes, chance: random.Random) -> bytes:
    """The content with a few things wrong; of an archive, mostly inside one of its large parts."""
    if content.startswith(b"PK") and chance.random() < 0.8:
        members = unzipped(content)
        (name,) = chance.choices(list(members), weights=[len(part) for part in members.values()])
        return zipped(members | {name: _scratched(members[name], chance)})
    return _scratched(content, chance)


def _scratched(content: bytes, chance: random.Random) -> bytes:
    """Bytes changed; in what is no old Office file, which is all places, also lost and put in."""
    changed = bytearray(content)
    ways = 2 if content.startswith(OLE) and chance.random() < 0.9 else 6
    for _ in range(chance.choice([1, 1, 2, 5, 20])):
        at = chance.randrange(len(changed) + 1)
        length = chance.choice([1, 1, 2, 4, 16, 200])
        way = chance.randrange(ways)
        if way == 0:
            changed[at : at + length] = chance.randbytes(len(changed[at : at + length]))
        elif way == 1:
            odd = chance.choice([b"\xff\xff\xff\xff", b"\0\0\0\0", b"9999", b"-1e9"])
            changed[at : at + 4] = odd[: len(changed[at : at + 4])]
        elif way == 2:
            del changed[at : at + length]
        elif way == 3:
            changed[at:at] = changed[at : at + length] * chance.choice([1, 2, 50])
        elif way == 4:
            signs = [b"<", b">", b'"', b"&", b"\0", b"\r\n", b";", b"\xff"]
            changed[at:at] = chance.choice(signs)
        elif chance.random() < 0.2:
            del changed[at:]
    return bytes(changed)
