"""A zipped workbook packed anew for its reader, with only the parts that hold cells.

Three things are put right on the way. Pictures and embedded objects stay behind. Error values,
which the reader would give as blanks, become the text a person sees (#REF!). A sheet that reaches
too far is replaced by its last corner cell alone: the reader would set aside memory for every cell
up to there, and the corner is enough to say how far it reaches.

Only the child process imports this module.
"""

from __future__ import annotations

import io
import re
import zipfile
from xml.parsers.expat import ParserCreate

from server.intake.archive import LEFT_ALONE, plain
from server.intake.tables import MAX_COLUMNS, MAX_ROWS, too_large

_SHEET_DATA = re.compile(rb"<(?:\w+:)?sheetData\b")
_FAR = re.compile(  # a row of five digits from 20,000 on, or a column after GR, the 200th
    rb"\br=[\"'](?:[A-Z]{1,3}(?:[2-9][0-9]{4}|[0-9]{6,7})|(?:[A-Z]{3}|G[S-Z]|[H-Z][A-Z])[0-9])"
)
_FILLED = re.compile(
    rb"<(?:\w+:)?c\b[^<>]*?\br=[\"']([A-Z]{1,3})([0-9]{1,7})[\"'][^<>]*(?<!/)>\s*<(?!/)"
)
_ERROR = re.compile(rb"(<(?:\w+:)?c\b[^<>]*?\bt=[\"'])e(?=[\"'])")
_ODS_ERROR = re.compile(rb"office:string-value=\"\"(?=\s+calcext:value-type=\"error\")")
_ODS_WIDE = re.compile(
    rb"<table:table-cell\b(?=[^<>]*office:value-type)[^<>]*"
    rb"table:number-columns-repeated=\"([0-9]{1,9})\""
)
_ODS_TALL = re.compile(
    rb"<table:table-row\b[^<>]*table:number-rows-repeated=\"([0-9]{1,9})\"[^<>]*(?<!/)>"
)
_CORNER = (
    b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    b'<row r="%d"><c r="%s%d"><v>1</v></c></row></sheetData></worksheet>'
)


def repacked(content: bytes) -> bytes:
    """The workbook with the parts its reader needs; TooLarge for cells repeated without end."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(out, "w") as new:
        for member in old.infolist():
            name = plain(member.filename)
            if not name.startswith(LEFT_ALONE):
                part = _put_right(name, old.read(member))
                new.writestr(member.filename.replace("\\", "/"), part)
    return out.getvalue()


def _put_right(name: str, part: bytes) -> bytes:
    if name == "content.xml":
        return _ods_content(part)
    if name.startswith("xl/") and _SHEET_DATA.search(part):
        return _xlsx_sheet(part)
    return part


def _xlsx_sheet(part: bytes) -> bytes:
    """One sheet, or its last corner cell if it reaches too far."""
    filled = _FILLED.findall(part) if _FAR.search(part) else []
    row = max((int(row) for _, row in filled), default=0)
    column = max({letters for letters, _ in filled}, key=_column_number, default=b"A")
    if row > MAX_ROWS or _column_number(column) > MAX_COLUMNS:
        return _CORNER % (row, column, row)
    has_error = b't="e"' in part or b"t='e'" in part
    return _ERROR.sub(rb"\1str", part) if has_error else part


def _column_number(letters: bytes) -> int:
    """The number of a column by its letters: A is 1, XFD 16,384."""
    number = 0
    for letter in letters:
        number = 26 * number + letter - 64
    return number


def _ods_content(part: bytes) -> bytes:
    """All sheets; TooLarge where one filled cell or row stands for more than are read.

    XML that is not whole is an ExpatError: the reader would look for its end for ever.
    """
    ParserCreate().Parse(part, True)
    columns = max(map(int, _ODS_WIDE.findall(part)), default=0)
    refusal = too_large("", _most_repeated_row(part), columns)
    if refusal is not None:
        raise refusal
    return _ODS_ERROR.sub(b"", part)


def _most_repeated_row(part: bytes) -> int:
    """How often the row with cells in it that is repeated most often is repeated."""
    most = 0
    for row in _ODS_TALL.finditer(part):
        end = part.find(b"</table:table-row>", row.end())
        if end < 0:
            break  # and the reader refuses what was cut off
        if b"value-type" in part[row.end() : end]:
            most = max(most, int(row[1]))
    return most
