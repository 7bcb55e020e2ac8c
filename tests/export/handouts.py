"""Packs to print, and what a PDF file holds, as poppler's programs see it."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from dataclasses import replace
from datetime import date
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from server.core.break_even import break_evens_of
from server.core.change import change
from server.core.costing import Costing, bought
from server.core.freeze import Heading, Pool, assemble, freeze_comparison, freeze_variant
from server.core.pack import FrozenPair, Pack
from server.export.handout_pdf import write_handout
from tests.builders import FROZEN_AT, demo_book, demo_comparison, demo_comparisons, pack_of

Pixels = NDArray[np.uint8]
ENGINE = "0.3.0"  # as the reference images have it, whatever the version is now


@cache
def demo_pack() -> Pack:
    """Every construction of the demonstration."""
    return pack_of(
        *demo_comparisons(), engine=ENGINE, notes="Prices of the mills hold until Friday."
    )


@cache
def variant_pack() -> Pack:
    """DN-1375 as it stands and with three picks less."""
    compared = demo_comparison("DN-1375")
    assert compared.leader is not None
    yarns = tuple(bought(member, member.slot) for member in compared.leader.members)
    before = Costing(compared.construction, compared.basis, compared.assumptions, yarns)
    cloth = replace(compared.construction, loom_ppi=compared.construction.loom_ppi - 3)
    found = change(before, replace(before, construction=cloth), demo_book().rates)
    pool = Pool()
    cloths = (
        freeze_comparison(compared, pool, ties=break_evens_of(compared)),
        freeze_variant("fewer picks", "loom picks 38 in place of 41", found, pool),
    )
    heading = Heading("2026-03-12-tarn-0002", "Fewer picks", "Tarn & Fell", date(2026, 3, 12))
    return assemble(heading, compared.basis, cloths, pool, engine=ENGINE, made_at=FROZEN_AT)


def with_pairs(pack: Pack, count: int) -> Pack:
    """A pack whose only cloth has so many pairs, all of one leader."""
    cloth = pack.cloths[0]
    pairs = tuple(
        replace(cloth.pairs[at % len(cloth.pairs)], key=f"P{at}", label=f"P{at:03}")
        for at in range(count)
    )
    kept: dict[str, Any] = {} if count else {"ladder": (), "excluded": (), "ties": ()}
    changed = replace(cloth, pairs=pairs, pair_count=count, possible_count=count, **kept)
    return replace(pack, cloths=(changed,))


def handout(pack: Pack) -> bytes:
    """The PDF file of a pack."""
    file = BytesIO()
    write_handout(pack, file)
    return file.getvalue()


def program(name: str) -> str:
    """One of poppler's programs; without it a test says so, in CI it fails."""
    path = shutil.which(name)
    if path is None:
        reason = f"no {name} on this machine: apt-get install poppler-utils"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    return path


def told_by(name: str, pdf: bytes, *options: str, file: str = "-") -> bytes:
    """What a poppler program says of a PDF file."""
    command = [program(name), *options, "-", *([file] if file else [])]
    done = subprocess.run(command, input=pdf, capture_output=True, timeout=60, check=True)
    return done.stdout


def text_of(pdf: bytes) -> str:
    """The words of a PDF file as they stand on its pages."""
    return told_by("pdftotext", pdf, "-layout").decode()


def words_of(pdf: bytes) -> str:
    """The words in reading order, blanks and breaks as one blank each."""
    told = told_by("pdftotext", pdf).decode()
    return re.sub(r"\s+", " ", told.replace("\N{ZERO WIDTH SPACE}", ""))


def about(pdf: bytes) -> dict[str, str]:
    """Title, author, pages and the like."""
    lines = told_by("pdfinfo", pdf, file="").decode().splitlines()
    return {name: value.strip() for name, _, value in (line.partition(":") for line in lines)}


def images_of(pdf: bytes, dpi: int, folder: Path) -> list[Pixels]:
    """Every page in grey, one byte a pixel, rows down."""
    subprocess.run(
        [program("pdftoppm"), "-gray", "-r", str(dpi), "-", str(folder / "page")],
        input=pdf, capture_output=True, timeout=60, check=True,
    )  # fmt: skip
    return [grey_of(path.read_bytes()) for path in sorted(folder.glob("page-*.pgm"))]


def grey_of(pgm: bytes) -> Pixels:
    """A picture from a binary PGM file."""
    kind, width, height = pgm.split(maxsplit=3)[:3]
    assert kind == b"P5"
    size = int(width) * int(height)
    return np.frombuffer(pgm[-size:], np.uint8).reshape(int(height), int(width))


def pgm_of(pixels: Pixels) -> bytes:
    """A picture as a binary PGM file."""
    height, width = pixels.shape
    return f"P5\n{width} {height}\n255\n".encode() + pixels.tobytes()


def leader(pack: Pack) -> FrozenPair:
    """The first pair of the first cloth."""
    return pack.cloths[0].pairs[0]
