"""A frozen pack as a file that another house takes in, on whatever database, digit for digit."""

from __future__ import annotations

import json
from typing import Any

from server.actions.packs import LONGEST, plain_line, plain_text
from server.core.buyer_view import sound_choice
from server.core.errors import BadValue
from server.store import packs as store
from server.store.packs import FROZEN, ClothAsked, Content
from server.store.session import Engine, reading, writing

FILE_FORM = "creelbook meeting pack 1"  # first thing an exported file says of itself


def pack_file(engine: Engine, reference: str) -> bytes:
    """A frozen pack as a file that another house, on another database, can take in."""
    with reading(engine) as session:
        stored = store.pack_of(session, reference)
        content = store.content_of_pack(session, reference)
    document = {
        "form": FILE_FORM,
        "digest": content.digest,
        "words": stored.words,
        "shown": list(stored.shown),
        "follows": stored.follows,
        "basis_name": stored.basis_name,
        "basis_changes": dict(stored.basis_changes),
        "cloths": [
            {"code": each.code, "variant": each.variant, "pairs": list(each.pairs)}
            for each in stored.cloths
        ],
        "pack": content.pack,
        "given": content.given,
    }
    return json.dumps(document, ensure_ascii=False).encode()


def take_in(engine: Engine, content: bytes, person_id: int) -> str:
    """Store a pack from a file; gives its reference.

    Raises BadValue when it is no pack, was altered, or is here already.
    """
    document = _document(content)
    kept = Content(document["pack"], document["given"])
    if kept.digest != document["digest"]:
        raise BadValue(
            "The content of this file is not what was exported; a figure may have been altered.",
            field="file",
            value=str(document["digest"])[:12],
            remedy="Export the pack again where it was frozen.",
        )
    pack = store.read_content(kept).pack
    values = {
        "reference": plain_line(pack.reference, "reference", 60),
        "title": plain_line(pack.title, "title", LONGEST["title"]),
        "buyer": plain_line(pack.buyer, "buyer", LONGEST["buyer"], empty=True),
        "meeting": pack.meeting,
        "notes": plain_text(pack.notes, "notes"),
        "words": plain_text(document["words"], "words"),
        "state": FROZEN,
        "basis_name": document["basis_name"][:120],
        "basis_changes": document["basis_changes"],
        "shown": list(sound_choice(document["shown"])),
        "follows": document["follows"][:60],
        "frozen_at": pack.made_at,
        "engine": pack.engine[:20],
        "digest": kept.digest,
    }
    cloths = [
        ClothAsked(each["code"][:60], each["variant"][:80], tuple(each["pairs"]))
        for each in document["cloths"]
    ]
    with writing(engine, person_id) as session:
        return store.add_frozen(session, values, kept, cloths)


_FORM = {
    "digest": str,
    "words": str,
    "shown": list,
    "follows": str,
    "basis_name": str,
    "basis_changes": dict,
    "cloths": list,
    "pack": str,
    "given": str,
}


def _document(content: bytes) -> dict[str, Any]:
    """The parts of an exported file. Raises BadValue."""
    try:
        document = json.loads(content)
        json.dumps(document, ensure_ascii=False).encode()  # refuses halves of characters
    except (ValueError, RecursionError):
        document = None
    if not isinstance(document, dict) or document.get("form") != FILE_FORM:
        raise BadValue(
            "This file is no exported meeting pack.",
            field="file",
            remedy="Choose a file that “Export the pack” gave.",
        )
    wrong = [name for name, kind in _FORM.items() if not isinstance(document.get(name), kind)]
    texts: list[object] = [] if wrong else [document["follows"], document["basis_name"]]
    if not wrong:
        changes: dict[str, object] = document["basis_changes"]
        texts += [*document["shown"], *changes, *changes.values()]
        texts += [part for each in document["cloths"] for part in _parts(each)]
    if wrong or not all(isinstance(each, str) and each.isprintable() for each in texts):
        raise BadValue(
            f"This file lacks {', '.join(wrong) or 'plain texts'}.",
            field="file",
            remedy="Export the pack again where it was frozen.",
        )
    return document


def _parts(cloth: object) -> list[object]:
    """The texts of one cloth of a file; one thing that is no text where it is no cloth."""
    if not isinstance(cloth, dict) or not isinstance(cloth.get("pairs"), list):
        return [None]
    return [cloth.get("code"), cloth.get("variant"), *cloth["pairs"]]
