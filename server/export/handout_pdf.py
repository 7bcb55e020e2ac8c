"""The handout as a PDF file, set by typst from templates/handout.

Texts reach the templates as data, never as markup; fonts are those of static/vendor; typst reads
no file outside templates/handout and nothing from the network.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from datetime import UTC, datetime, time
from pathlib import Path
from typing import Any, BinaryIO

from server.core.errors import CreelbookError, shorten
from server.core.pack import Pack
from server.export.handout import Handout, frozen_at, handout_of
from server.export.handout_letters import MISSING_NOTE, REPLACED, letters_of, plain, printable
from server.places import STATIC, TEMPLATES

ROOT = TEMPLATES / "handout"
FONTS = STATIC / "vendor" / "dejavu-sans-2.37"
TIMEOUT_S = 90.0
MOST_CHILDREN = 2  # handouts set at one time, each with memory of its own
_CHILD = Path(__file__).with_name("handout_child.py")
_KEPT_SETTINGS = ("PATH", "LD_LIBRARY_PATH", "SYSTEMROOT", "LANG")
_places = threading.BoundedSemaphore(MOST_CHILDREN)


def write_handout(pack: Pack, file: BinaryIO) -> None:
    """Write the handout of a pack; the same pack gives the same bytes."""
    document = document_of(handout_of(pack))
    file.write(_set(document, made_at=_moment(pack)))


def document_of(handout: Handout) -> dict[str, Any]:
    """The handout as the templates take it, with letters the font has.

    Each page says by itself when a character had to be replaced on it.
    """
    letters = letters_of(FONTS / "DejaVuSans.ttf") & letters_of(FONTS / "DejaVuSans-Bold.ttf")
    document: dict[str, Any] = printable(handout, letters)
    document["name"] = plain(document["title"])
    pages = [each for each in (*document["pages"], document["appendix"]) if each]
    first = {key: each for key, each in document.items() if key not in ("pages", "appendix")}
    for page, of in ((document, first), *((each, each) for each in pages)):
        page["missing"] = MISSING_NOTE if REPLACED in json.dumps(of, ensure_ascii=False) else ""
    return document


def _moment(pack: Pack) -> datetime:
    """When the file was made, as it says: when the pack was frozen; of a draft, its meeting."""
    return frozen_at(pack) or datetime.combine(pack.meeting, time(), UTC)


def _set(document: dict[str, Any], *, made_at: datetime) -> bytes:
    """The pages as bytes of a PDF file, set by a process that lives for this one handout."""
    question = {
        "root": str(ROOT),
        "main": str(ROOT / "handout.typ"),
        "fonts": str(FONTS),
        "data": json.dumps(document),
        "moment": made_at.isoformat(),
    }
    kept = {name: os.environ[name] for name in _KEPT_SETTINGS if name in os.environ}
    with _places:
        try:
            done = subprocess.run(
                [sys.executable, "-P", str(_CHILD)],
                input=json.dumps(question).encode(),
                capture_output=True,
                env={**kept, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
                timeout=TIMEOUT_S,
                check=False,
            )
        except subprocess.TimeoutExpired as late:
            raise _not_set(f"it took more than {TIMEOUT_S:g} s.") from late
    if done.returncode or not done.stdout.startswith(b"%PDF"):
        told = done.stderr.decode(errors="replace").strip().splitlines()
        raise _not_set(shorten(told[-1], 200) if told else "its process ended unexpectedly.")
    return done.stdout


def _not_set(why: str) -> CreelbookError:
    return CreelbookError(
        f"The handout could not be made: {why}",
        field="handout",
        remedy="Take fewer constructions or pairs into the pack; the pages and the workbook have "
        "the same figures.",
    )
