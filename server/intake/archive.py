"""What a zip archive holds, looked at without trusting a word it says about itself.

Workbooks of the kinds .xlsx and .ods are zip archives. Each member is unpacked here once, piece by
piece and only to be counted, because an archive may state other sizes than it unpacks to. Nothing
is kept and no XML is parsed.

Objects embedded in a sheet (a PDF certificate, another workbook) are left alone: the reader never
opens them, they count towards the limits, and refusing them would refuse honest offers. Links to
other files are never followed either, because only the values kept in the file itself are read.
"""

from __future__ import annotations

import io
import stat
import struct
import zipfile
import zlib
from collections.abc import Iterator
from zipfile import ZipInfo

MAX_MEMBERS = 200
MAX_UNPACKED_BYTES = 60_000_000
MAX_RATIO = 200
RATIO_FROM_BYTES = 1_000_000  # a small member may well shrink to a two-hundredth
_PIECE_BYTES = 65_536
_SMALL_BYTES = 1_000_000  # what is read of a member that names the kind
_ENTRY_MARK = b"PK\x01\x02"
_ODS = b"application/vnd.oasis.opendocument.spreadsheet"
LEFT_ALONE = ("xl/embeddings/", "object", "xl/media/", "pictures/", "thumbnails/")
_PACKED = (
    b"PK\x03\x04",
    b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1",
    b"\x1f\x8b\x08",
    b"7z\xbc\xaf\x27\x1c",
)
_BINARY = "xl/workbook.bin"
_OTHERS = (
    (_BINARY, "a binary workbook (.xlsb)"),
    ("word/", "a Word document (.docx)"),
    ("ppt/", "a PowerPoint presentation (.pptx)"),
    ("index/document.iwa", "a Numbers document"),
    ("index.zip", "a Numbers document"),
)
_SAVE_AGAIN = "Open it in your spreadsheet program, save it as .xlsx and send the new file."
_SEND_TABLE = "Send the table itself as .xlsx, .xls, .ods or .csv."
_ONLY_VALUES = "Copy the table into a new workbook, paste values only, and send that as .xlsx."


class Refused(Exception):
    """A file that is not read on. what: the rest of a sentence that begins with its name."""

    def __init__(self, what: str, remedy: str) -> None:
        super().__init__(what)
        self.what = what
        self.remedy = remedy


def kind_of_archive(content: bytes) -> str:
    """The kind, "xlsx" or "ods"; any other archive, and one that means harm, is Refused."""
    members = _members(content)
    names = [plain(member.filename) for member in members]
    for name, member in zip(names, members, strict=True):
        _refuse_member(name, member)
    kind = _kind(content, dict(zip(names, members, strict=True)))
    if len(set(names)) < len(names):
        raise Refused("holds two parts of the same name.", _SAVE_AGAIN)
    _refuse_size(sum(member.file_size for member in members), "would unpack to")
    unpacked = 0
    for name, member in zip(names, members, strict=True):
        unpacked += _unpacked_bytes(content, name, member, MAX_UNPACKED_BYTES - unpacked)
    return kind


def _members(content: bytes) -> list[ZipInfo]:
    """The directory, read only when it is short: a long one costs memory by itself."""
    entries = content.count(_ENTRY_MARK)
    if entries > MAX_MEMBERS:
        raise Refused(
            f"is an archive of {entries:,} parts; at most {MAX_MEMBERS} are read.",
            "Send only the sheets that matter, without pictures.",
        )
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            return archive.infolist()
    except (zipfile.BadZipFile, NotImplementedError, ValueError, OverflowError, struct.error) as no:
        raise _damaged() from no


def _damaged() -> Refused:
    return Refused("is damaged or was cut off on the way.", _SAVE_AGAIN)


def plain(name: str) -> str:
    """A member's name as the readers compare it."""
    return name.replace("\\", "/").lower()


def _kind(content: bytes, members: dict[str, ZipInfo]) -> str:
    if "[content_types].xml" in members and "xl/workbook.xml" in members:
        types = _beginning(content, members["[content_types].xml"])
        if b"macroEnabled" in types or any(map(_is_macro, members)):
            raise Refused("holds macros (programs inside the workbook).", _without_macros())
        return "xlsx"
    if "mimetype" in members and _beginning(content, members["mimetype"]).startswith(_ODS):
        _refuse_ods(content, members)
        return "ods"
    for part, what in _OTHERS:
        if any(name.startswith(part) for name in members):
            remedy = _SAVE_AGAIN if part == _BINARY else _SEND_TABLE
            raise Refused(f"is {what}, which is not read here.", remedy)
    raise Refused(
        "is a zip archive, not a workbook.", "Unpack it and send the workbook or table inside."
    )


def _is_macro(name: str) -> bool:
    return name.endswith("vbaproject.bin") or name.startswith(("xl/macrosheets/", "basic/"))


def _without_macros() -> str:
    return "Save it as .xlsx (a workbook without macros) and send the new file."


def _refuse_ods(content: bytes, members: dict[str, ZipInfo]) -> None:
    manifest = members.get("meta-inf/manifest.xml")
    if manifest is not None and b"encryption-data" in _beginning(content, manifest):
        raise locked()
    if any(map(_is_macro, members)):
        raise Refused("holds macros (programs inside the workbook).", _without_macros())


def locked() -> Refused:
    """The refusal of a file that only a password opens."""
    return Refused(
        "is protected by a password, so nothing in it can be read.",
        "Take the password off in your spreadsheet program, save it and send it again.",
    )


def _refuse_member(name: str, member: ZipInfo) -> None:
    """Refuse a member that no spreadsheet program writes."""
    if name.startswith("/") or name[1:2] == ":" or ".." in name.split("/"):
        raise Refused("holds a part that points outside the file.", _SAVE_AGAIN)
    if stat.S_ISLNK(member.external_attr >> 16):
        raise Refused("holds a link to another file in place of a part.", _SAVE_AGAIN)
    if member.flag_bits & 0x1:
        raise locked()
    if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise Refused("is packed in a way that no spreadsheet program uses.", _SAVE_AGAIN)


def _refuse_size(size: int, how: str) -> None:
    if size > MAX_UNPACKED_BYTES:
        raise Refused(
            f"{how} more than {MAX_UNPACKED_BYTES // 1_000_000} MB.",
            "Delete the sheets and pictures you do not need, and send the rest.",
        )


def _unpacked_bytes(content: bytes, name: str, member: ZipInfo, left: int) -> int:
    """Bytes the member really unpacks to; stops as soon as a limit is passed."""
    size, kept = 0, b""
    looked_at = not name.startswith(LEFT_ALONE)
    for piece in _pieces(content, member):
        if looked_at and size == 0 and piece.startswith(_PACKED):
            raise Refused("holds another packed file inside.", _ONLY_VALUES)
        size += len(piece)
        if size > left:
            _refuse_size(MAX_UNPACKED_BYTES + 1, "unpacks to")
        if size > RATIO_FROM_BYTES and size > MAX_RATIO * member.compress_size:
            raise Refused(
                f"holds a part packed more than {MAX_RATIO} times smaller than it is.", _ONLY_VALUES
            )
        if looked_at:
            kept = _refuse_entities(kept + piece.replace(b"\0", b""))
    if size != member.file_size:
        raise Refused("states a wrong size for one of its parts.", _SAVE_AGAIN)
    return size


def _refuse_entities(text: bytes) -> bytes:
    """Refuse XML that brings its own abbreviations or files; the end goes before the next piece."""
    if b"<!DOCTYPE" in text or b"<!ENTITY" in text:
        raise Refused("holds XML with definitions of its own (DOCTYPE, ENTITY).", _SAVE_AGAIN)
    return text[-10:]


def _beginning(content: bytes, member: ZipInfo) -> bytes:
    """The first bytes of a small member."""
    kept = b""
    for piece in _pieces(content, member):
        kept += piece
        if len(kept) > _SMALL_BYTES:
            break
    return kept


def _pieces(content: bytes, member: ZipInfo) -> Iterator[bytes]:
    """The member unpacked, in pieces; Refused if it is damaged."""
    packed = _packed(content, member)
    if member.compress_type == zipfile.ZIP_STORED:
        for start in range(0, len(packed), _PIECE_BYTES):
            yield bytes(packed[start : start + _PIECE_BYTES])
        return
    inflater = zlib.decompressobj(-zlib.MAX_WBITS)
    try:
        for start in range(0, len(packed), _PIECE_BYTES):
            yield from _inflated(inflater, bytes(packed[start : start + _PIECE_BYTES]))
    except zlib.error as fault:
        raise _damaged() from fault
    if not inflater.eof:
        raise _damaged()


def _inflated(inflater: zlib._Decompress, packed: bytes) -> Iterator[bytes]:
    """What one piece unpacks to, itself in pieces."""
    while True:
        piece = inflater.decompress(packed, _PIECE_BYTES)
        if piece:
            yield piece
        packed = inflater.unconsumed_tail
        if not packed and len(piece) < _PIECE_BYTES:
            return


def _packed(content: bytes, member: ZipInfo) -> memoryview:
    """The packed bytes of a member, where the directory says they are."""
    header = content[member.header_offset : member.header_offset + 30]
    if len(header) < 30 or not header.startswith(b"PK\x03\x04"):
        raise _damaged()
    name_bytes, extra_bytes = struct.unpack("<HH", header[26:30])
    start = member.header_offset + 30 + name_bytes + extra_bytes
    packed = memoryview(content)[start : start + member.compress_size]
    if len(packed) < member.compress_size:
        raise _damaged()
    return packed
