"""Files that mean harm or are no tables, each with its refusal: the cases of test_hostile_files.

A case is the file's name, how it is made, and what the refusal and its remedy say.
"""

from __future__ import annotations

import gzip
import random
import struct
import zipfile
from collections.abc import Callable

import pytest

from tests.intake.making import (
    OFFERS,
    OLE,
    SHEET,
    ods,
    ods_cell,
    ods_of,
    ole,
    restated,
    text,
    unzipped,
    with_parts,
    with_sheet,
    xls,
    xlsx,
    zipped,
)  # fmt: skip

Case = tuple[str, Callable[[], bytes], str, str]

MEGABYTE = 1_000_000
STRINGS = "xl/sharedStrings.xml"
ENTITIES = (
    b'<?xml version="1.0"?><!DOCTYPE lol [<!ENTITY a "lol"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">'
    b'<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]><sst><si><t>&c;</t></si></sst>'
)
EXTERNAL = (
    b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY x SYSTEM "file:///etc/hostname">]>'
    b"<sst><si><t>&x;</t></si></sst>"
)


def book() -> bytes:
    return xlsx({"Offers": OFFERS})


def noise(size: int) -> bytes:
    """Letters that pack to about a half."""
    return bytes(random.Random(1).choices(range(97, 113), k=size))


def packed_well(size: int) -> bytes:
    """Letters that pack to a fiftieth: not well enough to give them away."""
    piece = noise(10_000) + b"b" * 290_000
    return (piece * (size // len(piece) + 1))[:size]


# Archives that mean harm


def bomb() -> bytes:
    return with_parts(book(), {SHEET: b"<worksheet>" + b"0" * 20 * MEGABYTE})


def declares_a_gigabyte() -> bytes:
    return restated(book(), SHEET, size=10**9)


def lies_small() -> bytes:
    return restated(with_sheet(f"<!-- {'x y ' * 300} -->"), SHEET, size=100)


def lies_large() -> bytes:
    """States 1,000 bytes and unpacks to 66 MB."""
    part = packed_well(66 * MEGABYTE)
    return restated(with_parts(book(), {SHEET: part}), SHEET, size=1_000)


def many_large_parts() -> bytes:
    part = packed_well(9 * MEGABYTE)
    return with_parts(book(), {f"xl/part{n}.xml": part for n in range(8)})


def many_entries() -> bytes:
    """A directory of 100,000 entries in 8 MB."""
    entry = struct.pack("<IHHHHHHIIIHHHHHII", 0x02014B50, *[0] * 15, 0)
    whole = zipped({"[Content_Types].xml": b"<Types/>"})
    at = whole.index(b"PK\x01\x02")
    end = struct.pack("<IHHHHIIH", 0x06054B50, 0, 0, 0, 0, 100_000 * len(entry), at, 0)
    return whole[:at] + entry * 100_000 + end


def odd_member(name: str, mode: int = 0o100644) -> Callable[[], bytes]:
    def make() -> bytes:
        member = zipfile.ZipInfo(name)
        member.external_attr = mode << 16
        return zipped([*unzipped(book()).items(), (member, b"/etc/passwd")])

    return make


def twice_the_same_part() -> bytes:
    with pytest.warns(UserWarning, match="Duplicate name"):
        return zipped([*unzipped(book()).items(), (SHEET, b"<worksheet/>")])


def entity_across_pieces() -> bytes:
    return with_parts(book(), {STRINGS: b"<sst>" + b" " * 65_525 + ENTITIES})


def entity_in_utf_16() -> bytes:
    return with_parts(book(), {STRINGS: ENTITIES.decode().encode("utf-16")})


def thousand_sheets() -> bytes:
    return xlsx({f"S{n}": [] for n in range(1_000)})


HARMFUL_ARCHIVES = [
    ("a.xlsx", bomb, "packed more than 200 times smaller", "paste values only"),
    ("a.xlsx", declares_a_gigabyte, "would unpack to more than 60 MB", "Delete the sheets"),
    ("a.xlsx", lies_small, "states a wrong size", "save it as .xlsx"),
    ("a.xlsx", lies_large, "unpacks to more than 60 MB", "Delete the sheets"),
    ("a.xlsx", many_large_parts, "would unpack to more than 60 MB", "Delete the sheets"),
    ("a.xlsx", many_entries, "archive of 100,000 parts; at most 200", "Send only the sheets"),
    ("a.xlsx", thousand_sheets, r"archive of 1,0\d\d parts; at most 200", "Send only the sheets"),
    ("a.xlsx", lambda: with_parts(book(), {STRINGS: ENTITIES}), "DOCTYPE, ENTITY", "save it as"),
    ("a.xlsx", lambda: with_parts(book(), {STRINGS: EXTERNAL}), "DOCTYPE, ENTITY", "save it as"),
    ("a.xlsx", entity_across_pieces, "DOCTYPE, ENTITY", "save it as"),
    ("a.xlsx", entity_in_utf_16, "DOCTYPE, ENTITY", "save it as"),
    ("a.ods", lambda: with_parts(ods({"A": OFFERS}), {"content.xml": EXTERNAL}), "DOCTYPE", "save"),
    ("a.xlsx", lambda: with_parts(book(), {"xl/x.bin": book()}), "another packed file", "values"),
    ("a.xlsx", lambda: with_parts(book(), {"xl/x.bin": ole("a")}), "another packed file", "values"),
    ("a.xlsx", odd_member("xl/link", 0o120777), "a link to another file", "save it as .xlsx"),
    ("a.xlsx", odd_member("../../etc/cron.d/x"), "points outside the file", "save it as .xlsx"),
    ("a.xlsx", odd_member("/etc/passwd"), "points outside the file", "save it as .xlsx"),
    ("a.xlsx", odd_member("C:\\autoexec.bat"), "points outside the file", "save it as .xlsx"),
    ("a.xlsx", odd_member("xl\\..\\..\\x"), "points outside the file", "save it as .xlsx"),
    ("a.xlsx", twice_the_same_part, "two parts of the same name", "save it as .xlsx"),
    ("a.xlsx", lambda: zipped(unzipped(book()), compression=zipfile.ZIP_LZMA),
     "packed in a way that no spreadsheet program uses", "save it as .xlsx"),
    ("a.xlsx", lambda: restated(book(), SHEET, flag=1), "protected by a password", "password off"),
    ("a.ods", lambda: ods_of("", manifest="<manifest><manifest:encryption-data/></manifest>"),
     "protected by a password", "Take the password off"),
]  # fmt: skip


# Macros, passwords and other kinds


def macro_workbook() -> bytes:
    types = unzipped(book())["[Content_Types].xml"].replace(
        b"spreadsheetml.sheet.main", b"sheet.macroEnabled.main"
    )
    return with_parts(book(), {"[Content_Types].xml": types})


def locked_xls() -> bytes:
    """An .xls whose first harmless record says that a password is asked for."""
    content = xls({"A": OFFERS})
    at = content.index(b"\x5c\x00\x70\x00")
    return content[:at] + b"\x2f\x00" + content[at + 2 :]


def office_file(part: str) -> Callable[[], bytes]:
    return lambda: zipped({"[Content_Types].xml": b"<Types/>", part: b"<x/>"})


HTML = b"\xef\xbb\xbf \n<HTML><body><table><tr><td>2.46</td></tr></table></body></HTML>"
XML_2003 = b'<?xml version="1.0"?><?mso-application progid="Excel.Sheet"?><Workbook/>'
TABLE = "Send the table itself"
OTHER_KINDS = [
    ("a.xlsm", macro_workbook, "holds macros", "Save it as .xlsx"),
    ("a.xlsx", macro_workbook, "holds macros", "Save it as .xlsx"),
    ("a.xlsx", lambda: with_parts(book(), {"xl/vbaProject.bin": ole("VBA")}), "macros", "xlsx"),
    ("a.xlsx", lambda: with_parts(book(), {"xl/macrosheets/s.xml": b"<a/>"}), "macros", "xlsx"),
    ("a.ods", lambda: with_parts(ods({"A": OFFERS}), {"Basic/x.xml": b"<a/>"}), "macros", "xlsx"),
    ("a.xls", lambda: ole("_VBA_PROJECT_CUR"), "holds macros", "Save it as .xlsx"),
    ("a.xlsb", office_file("xl/workbook.bin"), r"a binary workbook \(\.xlsb\)", "as .xlsx"),
    ("a.xlsx", lambda: ole("EncryptedPackage"), "protected by a password", "Take the password off"),
    ("a.xls", locked_xls, "protected by a password", "Take the password off"),
    ("a.docx", office_file("word/document.xml"), "is a Word document", TABLE),
    ("a.xlsx", office_file("ppt/presentation.xml"), "is a PowerPoint presentation", TABLE),
    ("a.numbers", office_file("Index/Document.iwa"), "is a Numbers document", TABLE),
    ("a.zip", lambda: zipped({"offers.csv": text(OFFERS).encode()}), "is a zip archive", "Unpack"),
    ("a.doc", lambda: ole("WordDocument"), "is a Word document", TABLE),
    ("a.ppt", lambda: ole("PowerPoint Document"), "is a PowerPoint", TABLE),
    ("a.msg", lambda: ole("__nameid_version1.0"), "is an e-mail message", "its attachment"),
    ("a.xls", lambda: OLE + b"\0" * 600, "old Office file without a workbook", "save it as .xlsx"),
    ("a.pdf", lambda: b"%PDF-1.7\n%\xe2\xe3\xcf\xd3", "is a PDF document", TABLE),
    ("a.csv", lambda: b"\x89PNG\r\n\x1a\n" + b"\0" * 50, "is a picture", TABLE),
    ("a.jpg", lambda: b"\xff\xd8\xff\xe0" + b"\0" * 50, "is a picture", TABLE),
    ("a.xlsx", lambda: b"\0\0\0\x20ftypheic" + b"\0" * 50, "is a picture or a film", TABLE),
    ("a.csv", lambda: gzip.compress(text(OFFERS).encode()), "is a gzip archive", TABLE),
    ("a.7z", lambda: b"7z\xbc\xaf\x27\x1c" + b"\0" * 50, "is a 7-zip archive", TABLE),
    ("a.xlsx", lambda: b"Rar!\x1a\x07\x01" + b"\0" * 50, "is a RAR archive", TABLE),
    ("a.csv", lambda: b"MZ\x90" + b"\0" * 500, "is a program", TABLE),
    ("a.xls", lambda: b"\x7fELF" + b"\0" * 500, "is a program", TABLE),
    ("a.csv", lambda: b"BM" + struct.pack("<IHHI", 900, 0, 0, 54), r"a picture \(BMP\)", TABLE),
    ("a.csv", lambda: "a;b\n".encode("utf-32"), "is text in UTF-32", TABLE),
    ("a.xls", lambda: b"\x09\x04\x06\x00" + b"\0" * 90, "Excel file of before 1995", TABLE),
    ("a.xls", lambda: HTML, r"is a web page \(HTML\)", "save it as .xlsx"),
    ("a.xls", lambda: XML_2003, "is an XML file", "save it as .xlsx"),
    ("a.xls", lambda: b"MIME-Version: 1.0\nX: y\n", "is a web archive", "save it as .xlsx"),
    ("a.xls", book, "is really an .xlsx workbook", "rename it to end in .xlsx"),
    ("a.csv", book, "is really an .xlsx workbook", "rename it to end in .xlsx"),
    ("a.xlsx", lambda: text(OFFERS).encode(), "is really a text file", "rename it to end in .csv"),
]  # fmt: skip


# Damage, and tables without end


def corner_cells() -> bytes:
    return with_sheet(
        '<row r="1"><c r="A1"><v>1</v></c></row>'
        '<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'
    )


def corner_cells_in_disguise() -> bytes:
    """The same without saying where each cell is: the reader has to count."""
    wide = "<row>" + "<c/>" * 16_383 + "<c><v>1</v></c></row>"
    return with_sheet(
        wide + "<row/>" * 1_048_574 + f"<row><c><v>{noise(100_000).decode()}</v></c></row>"
    )


def ods_repeated(columns: int, rows: int) -> Callable[[], bytes]:
    cell = ods_cell(5, f'table:number-columns-repeated="{columns}"')
    row = f'<table:table-row table:number-rows-repeated="{rows}">{cell}</table:table-row>'
    return lambda: ods_of(f'<table:table table:name="A">{row}</table:table>')


def ods_cut_off() -> bytes:
    """Whole as an archive, but its XML ends within a table."""
    content = ods({"A": OFFERS})
    return with_parts(content, {"content.xml": unzipped(content)["content.xml"][:-100]})


def ods_without_end() -> bytes:
    """100 MB of rows, each of them within the limits, 400 million cells when laid out."""
    cell = ods_cell(5, 'table:number-columns-repeated="200"')
    row = f'<table:table-row table:number-rows-repeated="20000">{cell}</table:table-row>'
    return ods_of(f'<table:table table:name="A">{row * 100}</table:table>')


def one_string_everywhere(characters: int) -> Callable[[], bytes]:
    """A text that each of half a million cells refers to."""
    strings = f"<sst><si><t>{'y' * characters}</t></si></sst>".encode()
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    return lambda: with_parts(
        with_sheet(
            "".join(
                f'<row r="{row}">'
                + "".join(f'<c r="{letter}{row}" t="s"><v>0</v></c>' for letter in letters)
                + "</row>"
                for row in range(1, 20_051)
            )
        ),
        {STRINGS: strings},
    )


def no_cell_ever_closes() -> bytes:
    """For each of many cells, a search to the end of the part: an hour of work, if allowed."""
    cells = noise(40_000).replace(b"a", b"<c ") * 100
    return with_parts(book(), {SHEET: b'<worksheet><sheetData r="XFD1">' + cells})


def long_cell(kind: str) -> Callable[[], bytes]:
    value = "z" * 200_001
    if kind == "xlsx":
        return lambda: with_sheet(
            f'<row r="3"><c r="B3" t="inlineStr"><is><t>{value}</t></is></c></row>'
        )
    return lambda: f"a;b\nc;d\n1;{value}\n".encode()


def tall(rows: int) -> list[list[str]]:
    return [[f"yarn {row}"] for row in range(rows)]


def zeros_in_the_middle() -> bytes:
    lines = text(OFFERS).encode() * 200
    return lines[:7_000] + b"\0" + lines[7_000:]


TOO_MANY_ROWS = "has 20,051 rows.*; at most 20,050 are read"
CELL = r"has a cell of 200,001 characters \(row 3, column 2\)"
DAMAGED = "damaged or was cut off"
BROKEN = [
    ("a.csv", lambda: b"", "is empty", "send it again"),
    ("a.xlsx", lambda: b"\xef\xbb\xbf \r\n\t", "is empty", "send it again"),
    ("a.csv", lambda: random.Random(7).randbytes(50_000), "is not text, and no workbook", TABLE),
    ("a.csv", zeros_in_the_middle, r"holds a NUL byte.*\(line \d+\)", "Save the table as CSV"),
    ("a.csv", lambda: "Garn;Preis\n".encode("utf-16-le"), "UTF-16 .* without", "Choose utf-16-le"),
    ("a.csv", lambda: "Garn;Preis\n".encode("utf-16-be"), "UTF-16 .* without", "Choose utf-16-be"),
    ("a.csv", lambda: "a;b\0\n".encode("utf-16"), r"holds a NUL character.*\(line 1\)", "as CSV"),
    ("a.csv", lambda: b"\xff\xfea", "begins as UTF-16 text but is damaged", "Save the table"),
    ("a.csv", lambda: b"1," * 99_999 + b"1\n", "has 100,000 columns; at most 200", "Delete"),
    ("a.csv", lambda: b"1;" * 200 + b"1\n", "has 201 columns; at most 200", "Delete"),
    ("a.xlsx", lambda: xlsx({"A": [["x"] * 201]}), "has 201 columns in sheet A", "Delete"),
    ("a.xls", lambda: xls({"A": [["x"] * 201]}), "has 201 columns in sheet A", "Delete"),
    ("a.ods", ods_repeated(201, 1), "has 201 columns", "Delete what you do not need"),
    ("a.csv", lambda: text(tall(20_051)).encode(), TOO_MANY_ROWS, "split the table"),
    ("a.xlsx", lambda: xlsx({"A": tall(20_051)}), TOO_MANY_ROWS, "split the table"),
    ("a.xls", lambda: xls({"A": tall(20_051)}), TOO_MANY_ROWS, "split the table"),
    ("a.ods", lambda: ods({"A": tall(20_051)}), TOO_MANY_ROWS, "split the table"),
    ("a.csv", long_cell("csv"), CELL, "a quotation mark too few"),
    ("a.xlsx", long_cell("xlsx"), CELL, "Shorten that cell"),
    ("a.csv", lambda: b"x" * 100 * MEGABYTE, "is 100.0 MB; at most 10 MB", "send the rest"),
    ("a.csv", lambda: b"x\n" * 4 * MEGABYTE, "has 4,000,000 lines; at most 500,000", "blank lines"),
    ("a.csv", lambda: b"\r" * 4 * MEGABYTE + b"x", "has 4,000,000 lines", "Delete the blank lines"),
    ("a.csv", lambda: b"a\n" + b"x" * 2 * MEGABYTE, r"2,000,000 bytes \(line 2\)", "on a line of"),
    ("a.csv", lambda: b'a;b\n"c;d\ne;f\n', r"never closed \(in the row of line 2\)", "Close"),
    ("a.xlsx", corner_cells, "has 16,384 columns in sheet A", "Delete what you do not need"),
    ("a.xlsx", corner_cells_in_disguise, "could not be opened: it is damaged, or far", "save it"),
    ("a.ods", ods_repeated(1_000_000, 1), "has 1,000,000 columns", "Delete what you do not need"),
    ("a.ods", ods_repeated(1, 1_000_000), "has 1,000,000 rows", "Delete what you do not need"),
    ("a.ods", ods_without_end, "could not be opened: it is damaged, or far larger", "save it"),
    ("a.xlsx", one_string_everywhere(32_000), "could not be opened: .* far larger", "save it"),
    ("a.xlsx", one_string_everywhere(400), "more text than any price list", "the one sheet"),
    ("a.xlsx", no_cell_ever_closes, DAMAGED, "save it as .xlsx"),
    ("a.xls", lambda: xls({f"S{n}": [] for n in range(1_000)}), "has 1,000 sheets", "that matter"),
    ("a.ods", lambda: ods({f"S{n}": [] for n in range(1_000)}), "has 1,000 sheets", "that matter"),
    ("a.xlsx", lambda: book()[:-30], DAMAGED, "save it as .xlsx"),
    ("a.xlsx", lambda: book()[:2_000], DAMAGED, "save it as .xlsx"),
    ("a.ods", lambda: ods({"A": OFFERS})[:-200], DAMAGED, "save it as .xlsx"),
    ("a.ods", ods_cut_off, DAMAGED, "save it as .xlsx"),
    ("a.xls", lambda: xls({"A": OFFERS})[:3_000], "or was cut off", "save it as .xlsx"),
    ("a.xls", lambda: xls({"A": tall(2_000)})[:-5_000], "or was cut off", "save it as .xlsx"),
    ("a.xlsx", lambda: with_sheet('<row r="1"><c r="A1" t="s"><v>99</v></c></row>'), DAMAGED, "it"),
    ("a.xlsx", lambda: with_parts(book(), {"xl/workbook.xml": b"<workbook"}), DAMAGED, "save it"),
    ("a.xlsx", lambda: with_parts(book(), {"xl/_rels/workbook.xml.rels": b"<a/>"}), DAMAGED, "it"),
]  # fmt: skip

CASES: list[Case] = [*HARMFUL_ARCHIVES, *OTHER_KINDS, *BROKEN]
