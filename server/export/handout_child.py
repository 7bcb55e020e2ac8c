"""The process that sets one handout; `handout_pdf` starts it.

Typst keeps what it has set for the next time and never lets go of it, so each handout has a process
of its own, and memory and processor are limited before anything is read. The question is a line of
JSON; the answer is the PDF file. When there is none the last line of standard error says why. Runs
by its path, so that it starts quickly: nothing of the program is imported here.
"""

from __future__ import annotations

import json
import os
import resource
import sys
from datetime import datetime
from typing import Any

import typst

MEMORY_BYTES = 2 * 1024 * 1024 * 1024
COMPUTING_S = 60
ACCESSIBLE: list[typst.PDFStandard] = ["ua-1"]  # tagged, with title and language


def main() -> None:
    """Answer the question on standard input, on a private copy of standard output."""
    _limit_itself()
    answer = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # a stray print must not spoil the file
    answer.write(_set(json.load(sys.stdin.buffer)))
    answer.close()


def _limit_itself() -> None:
    """Take away memory, time, and the right to write files."""
    for what, wanted in (
        (resource.RLIMIT_AS, MEMORY_BYTES),
        (resource.RLIMIT_CPU, COMPUTING_S),
        (resource.RLIMIT_CORE, 0),
        (resource.RLIMIT_FSIZE, 0),
    ):
        hard = resource.getrlimit(what)[1]
        most = wanted if hard == resource.RLIM_INFINITY else min(wanted, hard)
        resource.setrlimit(what, (most, most))


def _set(question: dict[str, Any]) -> bytes:
    """The file.

    root, main, fonts: where templates and fonts are; data: the document as JSON
    moment: when the file says it was made
    """

    def compiled(standards: list[typst.PDFStandard]) -> bytes:
        return typst.compile(
            question["main"],
            root=question["root"],
            font_paths=[question["fonts"]],
            ignore_system_fonts=True,
            sys_inputs={"data": question["data"]},
            pdf_standards=standards,
            timestamp=datetime.fromisoformat(question["moment"]),
        )

    try:
        return compiled(ACCESSIBLE)
    except typst.TypstError:  # a letter that only turns out missing when it is joined to others
        return compiled([])


if __name__ == "__main__":
    main()
