"""Files attached to an offer: looked at before they are kept, given back as they came."""

from __future__ import annotations

from pathlib import PurePosixPath

from server.core.errors import BadValue
from server.intake.files import MAX_BYTES, Unreadable, kind_of, shown_name
from server.store.attachments import (
    Attachment,
    attach_file,
    attachments,
    content_of,
    detach_file,
)
from server.store.session import Engine, reading, writing

KINDS = ("TDS", "laboratory report", "origin record", "other")
KIND_LABELS = {
    "TDS": "technical data sheet (TDS)",
    "laboratory report": "laboratory report",
    "origin record": "cotton-origin record",
    "other": "other",
}
LONGEST_NOTE = 500
_BEGINNINGS = (
    (b"%PDF-", "pdf"), (b"\x89PNG\r\n\x1a\n", "png"), (b"\xff\xd8\xff", "jpeg"),
)  # fmt: skip
_ENDINGS = {
    "pdf": ("pdf",), "png": ("png",), "jpeg": ("jpg", "jpeg"), "xlsx": ("xlsx",), "xls": ("xls",),
    "ods": ("ods",), "text": ("csv", "txt"),
}  # fmt: skip
_TAKEN = "Send a .pdf, .png, .jpeg, .xlsx, .xls, .ods, .csv or .txt file of at most 10 MB."


def files_of(engine: Engine, code: str) -> tuple[Attachment, ...]:
    """The files of an offer. Raises NotFound."""
    with reading(engine) as session:
        return attachments(session, code)


def attach(
    engine: Engine, code: str, *, name: str, content: bytes, kind: str, note: str, person_id: int
) -> int:
    """Keep a file with an offer; gives the attachment's id. Raises BadValue, Unreadable, NotFound.

    name: as the file is called where it comes from; kind: one of KINDS
    """
    plain = plain_name(name)
    _look_at(plain, content)
    if kind not in KINDS:
        raise BadValue(
            f"“{kind[:40]}” is no kind of file.",
            field="kind",
            value=kind,
            remedy=f"Choose one of: {', '.join(KINDS)}.",
        )
    if len(note) > LONGEST_NOTE or any(not _is_text(sign) for sign in note):
        raise BadValue(
            f"The note is longer than {LONGEST_NOTE} characters or holds signs that are no text.",
            field="note",
            value=note,
            remedy="Shorten it, as plain text.",
        )
    with writing(engine, person_id) as session:
        return attach_file(session, code, name=plain, content=content, kind=kind, note=note.strip())


def file_of(engine: Engine, code: str, attachment_id: int) -> tuple[str, bytes]:
    """Name and content of a file of an offer. Raises NotFound."""
    with reading(engine) as session:
        return content_of(session, code, attachment_id)


def detach(engine: Engine, code: str, attachment_id: int, person_id: int) -> None:
    """Remove a file from an offer; the history keeps that it was there. Raises NotFound."""
    with writing(engine, person_id) as session:
        detach_file(session, code, attachment_id)


def plain_name(name: str) -> str:
    """The file's own name, without folders and without signs that nobody can see."""
    own = name.replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(sign for sign in own if sign.isprintable()).strip()[:200]


def _is_text(sign: str) -> bool:
    return sign in "\n\t" or (ord(sign) >= 32 and not 0xD800 <= ord(sign) <= 0xDFFF)


def _look_at(name: str, content: bytes) -> None:
    """Refuse what is not what it says, or no kind of file that is kept. Raises Unreadable."""
    if not name:
        raise BadValue("No file was chosen.", field="file", remedy="Choose a file to attach.")
    if len(content) > MAX_BYTES:
        raise Unreadable(name, f"is {len(content) / 1e6:,.1f} MB large; 10 MB are kept.", _TAKEN)
    ending = PurePosixPath(name).suffix.lower().lstrip(".")
    kind = next((kind for start, kind in _BEGINNINGS if content.startswith(start)), "")
    if not kind:
        try:
            kind = kind_of(name, content)
        except Unreadable as refused:
            what = str(refused.message).removeprefix(shown_name(name)).strip()
            raise Unreadable(name, what.replace("not read here", "not kept here"), _TAKEN) from None
    if ending not in _ENDINGS[kind]:
        really = {"text": "a text", "xls": "an xls", "xlsx": "an xlsx", "ods": "an ods"}
        what = really.get(kind, f"a {kind.upper() if kind != 'jpeg' else 'JPEG'}")
        said = f"its name ends in .{ending}" if ending else "its name has no ending"
        raise Unreadable(name, f"is {what} file, although {said}.", _TAKEN)
