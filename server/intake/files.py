"""What a file really is, told from its content before anything is parsed.

The name only has to agree with the content. What is not a workbook or a text table is refused
with a sentence that says what it seems to be and what to send instead.
"""

from __future__ import annotations

import codecs
import io
import itertools
import re
from pathlib import PurePosixPath

from server.core.errors import CreelbookError, shorten
from server.intake.archive import Refused, kind_of_archive, locked

MAX_BYTES = 10_000_000
MAX_LINE_BYTES = 1_000_000
MAX_LINES = 500_000  # blank ones and those inside cells included
PREVIEW_CHARACTERS = 300
PREVIEWED = ("cp1252", "cp1254", "cp1250", "iso-8859-9", "cp1251", "gb18030", "mac_roman")
ENCODINGS = (
    "utf-8", "utf-16", "utf-16-le", "utf-16-be", *PREVIEWED,
    "iso-8859-1", "iso-8859-2", "iso-8859-5", "iso-8859-7", "iso-8859-15",
    "cp437", "cp850", "cp852", "cp857", "cp866", "cp1253", "cp1255", "cp1256", "cp1257", "cp1258",
    "koi8-r", "gbk", "big5", "shift_jis", "cp932", "euc_jp", "euc_kr", "cp949",
)  # fmt: skip
_CANONICAL = {codecs.lookup(name).name: name for name in ENCODINGS}
_KINDS = {
    "xlsx": "an .xlsx workbook",
    "xls": "an .xls workbook",
    "ods": "an .ods workbook",
    "text": "a text file",
}
_ENDINGS = {
    "xlsx": "xlsx", "xltx": "xlsx", "xls": "xls", "xlt": "xls", "ods": "ods", "ots": "ods",
    "csv": "text", "tsv": "text", "tab": "text", "txt": "text",
    "xlsm": "other", "xlsb": "other", "pdf": "other", "zip": "other", "gz": "other",
    "doc": "other", "docx": "other", "htm": "other", "html": "other", "png": "other",
    "jpg": "other", "jpeg": "other", "exe": "other", "numbers": "other",
}  # fmt: skip
_BEGINNINGS = (
    (b"%PDF-", "a PDF document"),
    (b"\x89PNG\r\n", "a picture (PNG)"),
    (b"\xff\xd8\xff", "a picture (JPEG)"),
    (b"GIF8", "a picture (GIF)"),
    (b"II*\0", "a picture (TIFF)"),
    (b"MM\0*", "a picture (TIFF)"),
    (b"\x1f\x8b", "a gzip archive"),
    (b"7z\xbc\xaf\x27\x1c", "a 7-zip archive"),
    (b"Rar!\x1a\x07", "a RAR archive"),
    (b"\xfd7zXZ\0", "an xz archive"),
    (b"BZh91AY&SY", "a bzip2 archive"),
    (b"\x28\xb5\x2f\xfd", "a Zstandard archive"),
    (b"\x7fELF", "a program"),
    (b"SQLite format 3\0", "a database"),
    (b"PAR1", "a Parquet file"),
    (b"{\\rtf", "a rich-text document (RTF)"),
    (b"\xff\xfe\0\0", "text in UTF-32"),
    (b"\0\0\xfe\xff", "text in UTF-32"),
    (b"\x09\x00\x04\x00", "an Excel file of before 1995"),
    (b"\x09\x02\x06\x00", "an Excel file of before 1995"),
    (b"\x09\x04\x06\x00", "an Excel file of before 1995"),
)
_HTML = re.compile(rb"<(?:!doctype html|html|head|meta|body|table|style|div|p|title)[\s>]", re.I)
_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ZIP = (b"PK\x03\x04", b"PK\x05\x06", b"PK\x07\x08")
_CONTROLS = bytes(set(range(32)) - set(b"\t\n\v\f\r\x1a\x1b"))
_BINARY_SHARE = 0.02  # of control characters; text has next to none
_LOOKED_AT_BYTES = 65_536
_SEND_TABLE = "Send the table itself as .xlsx, .xls, .ods or .csv."
_SAVE_CSV = "Save the table as CSV (UTF-8) or as .xlsx in your spreadsheet program and send that."
_SAVE_XLSX = "Open it in your spreadsheet program, save it as .xlsx and send the new file."


class Unreadable(CreelbookError):
    """A file that is not read: what it is, or where it breaks a limit, and what to send instead."""

    code = "unreadable_file"

    def __init__(self, name: str, what: str, remedy: str) -> None:
        shown = shown_name(name)
        super().__init__(
            f"{shown or 'The pasted text'} {what}", field="file", value=shown, remedy=remedy
        )


class EncodingUnclear(Unreadable):
    """Text of which nobody can tell how its letters are written down.

    previews: (encoding, first characters decoded by it) for each encoding that fits
    """

    def __init__(self, name: str, previews: tuple[tuple[str, str], ...]) -> None:
        super().__init__(
            name,
            "is text, but neither UTF-8 nor UTF-16 with its mark, so its letters are unclear.",
            "Choose the encoding in which the letters look right, or save it as CSV (UTF-8).",
        )
        self.previews = previews


def shown_name(name: str) -> str:
    """The file's name, short and without the characters that nobody can see."""
    return shorten("".join(each if each.isprintable() else "�" for each in name[:200]))


def kind_of(name: str, content: bytes, *, encoding: str = "") -> str:
    """One of "xlsx", "xls", "ods", "text"; Unreadable if it is none or breaks a limit.

    name: the file's name, "" for pasted text
    encoding: of text, as the person chose it; "" if nobody did
    """
    try:
        kind = _kind(content, encoding)
    except Refused as refused:
        raise Unreadable(name, refused.what, refused.remedy) from refused
    stated = _ENDINGS.get(_ending(name), kind)
    if stated != kind:
        raise _misnamed(name, kind)
    return kind


def encoding_of(name: str, content: bytes, asked: str = "") -> str:
    """The encoding a text is read in; EncodingUnclear if it has to be asked for.

    asked: the encoding a person chose, "" for none; Unreadable if unknown or not fitting
    """
    if asked:
        return _asked_encoding(name, content, asked)
    found = "utf-16" if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) else "utf-8"
    if _fault(content, found) is None:
        return found
    if found == "utf-16":
        raise Unreadable(name, "begins as UTF-16 text but is damaged.", _SAVE_CSV)
    raise EncodingUnclear(name, _previews(content))


def _ending(name: str) -> str:
    return PurePosixPath(name.replace("\\", "/")).suffix.lower().lstrip(".").strip()


def _misnamed(name: str, kind: str) -> Unreadable:
    right = {"text": "csv"}.get(kind, kind)
    return Unreadable(
        name,
        f"is really {_KINDS[kind]}, although its name ends in .{_ending(name)}.",
        f"If that is what you meant to send, rename it to end in .{right}; "
        "otherwise save it again in the right format.",
    )


def _kind(content: bytes, encoding: str) -> str:
    """What the content is, by its first bytes; Refused for what is not read."""
    if not content.strip(b" \t\r\n\0\xef\xbb\xbf\xff\xfe"):
        raise Refused("is empty.", "Check that the file was saved, and send it again.")
    if len(content) > MAX_BYTES:
        raise Refused(
            f"is {len(content) / 1e6:,.1f} MB; at most {MAX_BYTES // 1_000_000} MB are read.",
            "Delete the sheets, rows and pictures you do not need, and send the rest.",
        )
    if content.startswith(_ZIP):
        return kind_of_archive(content)
    if content.startswith(_OLE):
        return _kind_of_ole(content)
    _refuse_others(content)
    _refuse_binary(content, encoding)
    _refuse_many_lines(content)
    _refuse_long_line(content)
    return "text"


def _kind_of_ole(content: bytes) -> str:
    """What an OLE file (the frame of old Office files) holds, by the streams it names."""
    if _has_stream(content, "EncryptedPackage"):
        raise locked()
    if _has_stream(content, "_VBA_PROJECT_CUR"):
        raise Refused(
            "holds macros (programs inside the workbook).",
            "Save it as .xlsx (a workbook without macros) and send the new file.",
        )
    if _has_stream(content, "Workbook") or _has_stream(content, "Book"):
        return "xls"
    if _has_stream(content, "WordDocument"):
        raise Refused("is a Word document (.doc), which is not read here.", _SEND_TABLE)
    if _has_stream(content, "PowerPoint Document"):
        raise Refused("is a PowerPoint presentation, which is not read here.", _SEND_TABLE)
    if _has_stream(content, "__nameid_version1.0"):
        raise Refused("is an e-mail message.", "Save its attachment and send that.")
    raise Refused("is an old Office file without a workbook in it, or was cut off.", _SAVE_XLSX)


def _has_stream(content: bytes, stream: str) -> bool:
    """Whether a directory entry of an OLE file has the name: 64 bytes, then the name's length."""
    coded = stream.encode("utf-16-le") + b"\0\0"
    at = content.find(coded)
    while at >= 0:
        if at % 128 == 0 and content[at + 64 : at + 66] == len(coded).to_bytes(2, "little"):
            return True
        at = content.find(coded, at + 1)
    return False


def _refuse_others(content: bytes) -> None:
    """Refuse what is known by its beginning and is no table."""
    for beginning, what in _BEGINNINGS:
        if content.startswith(beginning):
            raise Refused(f"is {what}, which is not read here.", _SEND_TABLE)
    head = content[:2000]
    if head.startswith((b"MZ", b"BM")) and b"\0" in head:
        what = "a program" if head.startswith(b"MZ") else "a picture (BMP)"
        raise Refused(f"is {what}, which is not read here.", _SEND_TABLE)
    if head[4:8] == b"ftyp" or (head.startswith(b"RIFF") and head[8:12] == b"WEBP"):
        raise Refused("is a picture or a film, which is not read here.", _SEND_TABLE)
    start = head.removeprefix(codecs.BOM_UTF8).lstrip().lower()
    if _HTML.match(start):
        raise Refused("is a web page (HTML), whatever its name says.", _SAVE_XLSX)
    if start.startswith(b"<?xml"):
        raise Refused("is an XML file, whatever its name says.", _SAVE_XLSX)
    if start.startswith(b"mime-version:"):
        raise Refused("is a web archive (MHTML), whatever its name says.", _SAVE_XLSX)


def _refuse_binary(content: bytes, encoding: str) -> None:
    """Refuse what is not text at all."""
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) or _is_utf_16(encoding):
        return
    head = content[:_LOOKED_AT_BYTES]
    zeros = [head[start::2].count(0) / max(1, len(head[start::2])) for start in (0, 1)]
    if max(zeros) > 0.4 and min(zeros) < 0.1:
        side = "utf-16-le" if zeros[1] > zeros[0] else "utf-16-be"
        raise Refused(
            "seems to be UTF-16 text without the mark that says so.",
            f"Choose {side} as the encoding, or save it as CSV (UTF-8).",
        )
    controls = len(head) - len(head.translate(None, _CONTROLS))
    if controls > _BINARY_SHARE * len(head):
        raise Refused("is not text, and no workbook either.", _SEND_TABLE)
    zero = content.find(b"\0")
    if zero >= 0:
        line = content.count(b"\n", 0, zero) + 1
        raise Refused(f"holds a NUL byte, which no text has (line {line:,}).", _SAVE_CSV)


def _is_utf_16(encoding: str) -> bool:
    return encoding.lower().replace("_", "-").startswith("utf-16")


def _refuse_many_lines(content: bytes) -> None:
    """Refuse more lines than the rows that are read could fill."""
    lines = max(content.count(b"\n"), content.count(b"\r"))
    if lines > MAX_LINES:
        raise Refused(
            f"has {lines:,} lines; at most {MAX_LINES:,} are looked at.",
            "Delete the blank lines and the rows you do not need, and send the rest.",
        )


def _refuse_long_line(content: bytes) -> None:
    """Refuse a line that is longer than any row could be."""
    if len(content) <= MAX_LINE_BYTES:
        return
    for number, line in enumerate(io.BytesIO(content), 1):
        if len(line) > MAX_LINE_BYTES:
            longest = max(map(len, line.split(b"\r")))
            if longest > MAX_LINE_BYTES:
                raise Refused(
                    f"has a line of {longest:,} bytes (line {number}); "
                    f"at most {MAX_LINE_BYTES:,} are read.",
                    "Check that each row stands on a line of its own, and send it again.",
                )


def _asked_encoding(name: str, content: bytes, asked: str) -> str:
    try:
        encoding = _CANONICAL[codecs.lookup(asked).name]
    except (LookupError, ValueError) as unknown:
        raise Unreadable(
            name,
            f"was to be read as {shorten(asked, 20)!r}, an encoding nobody here knows.",
            f"Choose one of {', '.join(PREVIEWED)}, utf-8 or utf-16.",
        ) from unknown
    position = _fault(content, encoding)
    if position is not None:
        raise Unreadable(
            name,
            f"is not text in {encoding}: the bytes from number {position + 1:,} on do not fit.",
            "Choose another encoding, or save it as CSV (UTF-8).",
        )
    return encoding


def _fault(content: bytes, encoding: str) -> int | None:
    """About where the bytes stop making sense (0-based), None if they make sense to the end."""
    decoder = codecs.getincrementaldecoder(encoding)()
    for start in itertools.count(0, _LOOKED_AT_BYTES):
        piece = content[start : start + _LOOKED_AT_BYTES]
        try:
            decoder.decode(piece, final=not piece)
        except UnicodeError as fault:
            return start + getattr(fault, "start", 0)
        if not piece:
            break
    return None


def _previews(content: bytes) -> tuple[tuple[str, str], ...]:
    """How the text looks, from its beginning or from the first line with a letter in doubt."""
    doubtful = re.search(rb"[\x80-\xff]", content)
    at = doubtful.start() if doubtful else 0
    start = 0 if at < PREVIEW_CHARACTERS else content.rfind(b"\n", 0, at) + 1
    start = start if at - start < PREVIEW_CHARACTERS else at
    piece = content[start : start + 4 * PREVIEW_CHARACTERS]
    return tuple(
        (encoding, _decoded(piece, encoding)[:PREVIEW_CHARACTERS])
        for encoding in PREVIEWED
        if _fault(content, encoding) is None
    )


def _decoded(piece: bytes, encoding: str) -> str:
    """As much of the piece as decodes; a letter cut through at its end is left out."""
    return codecs.getincrementaldecoder(encoding)().decode(piece, final=False)
