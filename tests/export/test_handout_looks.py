"""The pages of the handout look as they did when somebody looked at them.

Each page is drawn, made small, blurred and held against the picture in `looks/`, as a whole and
tile by tile: a column that moved by a millimetre, a lost line or a longer bar is noticed, another
smoothing of letters is not. When a change is meant, look at the new pages and renew the pictures:

    CREELBOOK_NEW_LOOKS=1 .venv/bin/python -m pytest -n 0 tests/export/test_handout_looks.py
"""

from __future__ import annotations

import gzip
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from server.core.buyer_view import OPEN_BOOK, PRICE_AND_WEIGHT, for_buyer
from server.core.pack import Pack
from server.export import handout_pdf
from tests.builders import ROOT
from tests.export.handouts import (
    Pixels,
    demo_pack,
    grey_of,
    handout,
    images_of,
    pgm_of,
    variant_pack,
    with_pairs,
)

LOOKS = Path(__file__).parent / "looks"
DPI, SMALLER = 135, 3  # drawn, and made smaller so that the smoothing of letters counts little
TILE = 16  # side of a tile of the small page, 9 mm [px]
MOST_MEAN, MOST_TILE = 3.0, 11.0  # difference of two pages, and of their worst tile [of 255]
RENEW = "CREELBOOK_NEW_LOOKS"


def _plain(pack: Pack) -> Pack:
    """The pack as if frozen by one version of the program."""
    return replace(pack, engine="0.0.0")


PACKS: dict[str, tuple[Callable[[], Pack], tuple[int, ...]]] = {
    "internal": (lambda: _plain(demo_pack()), (1, 3, 6, 10, 11)),
    "buyer": (lambda: _plain(for_buyer(demo_pack(), PRICE_AND_WEIGHT)), (1, 3, 10)),
    "open": (lambda: _plain(for_buyer(demo_pack(), OPEN_BOOK)), (3,)),
    "variant": (lambda: _plain(variant_pack()), (3,)),
    "draft": (lambda: _plain(replace(with_pairs(demo_pack(), 60), made_at=None)), (2, 3)),
}
"""What is looked at: a pack, and the numbers of its pages."""


def small(page: Pixels, by: int = SMALLER) -> Pixels:
    """A page so many times smaller, each pixel the mean of those it stands for."""
    height, width = (side // by for side in page.shape)
    parts = page[: height * by, : width * by].reshape(height, by, width, by)
    return np.asarray(parts.mean(axis=(1, 3)).round(), dtype=np.uint8)


def blurred(page: Pixels) -> NDArray[np.float64]:
    """Each pixel as the mean of the nine around it."""
    wide = np.pad(page.astype(float), 1, mode="edge")
    height, width = page.shape
    parts = [wide[y : y + height, x : x + width] for y in range(3) for x in range(3)]
    return np.asarray(np.mean(parts, axis=0))


def differences(page: Pixels, known: Pixels) -> tuple[float, float]:
    """Mean difference of two small pages and of their worst tile [of 255]."""
    if page.shape != known.shape:
        return 255.0, 255.0
    apart = np.abs(blurred(page) - blurred(known))
    down, across = (-(-side // TILE) for side in page.shape)
    whole = np.zeros((down * TILE, across * TILE))
    whole[: page.shape[0], : page.shape[1]] = apart
    tiles = whole.reshape(down, TILE, across, TILE).mean(axis=(1, 3))
    return float(apart.mean()), float(tiles.max())


def is_alike(page: Pixels, known: Pixels) -> bool:
    """Whether two small pages look the same."""
    mean, tile = differences(page, known)
    return mean <= MOST_MEAN and tile <= MOST_TILE


def known_page(name: str, number: int) -> Pixels:
    """The small page that somebody looked at."""
    return grey_of(gzip.decompress((LOOKS / f"{name}-{number:02}.pgm.gz").read_bytes()))


@pytest.mark.parametrize("name", PACKS)
def test_the_pages_look_as_they_did(name: str, tmp_path: Path) -> None:
    make, numbers = PACKS[name]
    pages = images_of(handout(make()), DPI, tmp_path)
    wrong = []
    for number in numbers:
        page, known = small(pages[number - 1]), LOOKS / f"{name}-{number:02}.pgm.gz"
        if os.environ.get(RENEW):
            LOOKS.mkdir(exist_ok=True)
            known.write_bytes(gzip.compress(pgm_of(page), 9, mtime=0))
        if not known.exists():
            wrong.append(f"page {number}: there is no picture of it yet")
            continue
        mean, tile = differences(page, known_page(name, number))
        if not is_alike(page, known_page(name, number)):
            wrong.append(
                f"page {number}: {mean:.1f} of 255 apart (most {MOST_MEAN}), its worst tile "
                f"{tile:.1f} (most {MOST_TILE}); it looked like {known.relative_to(ROOT)}"
            )
    assert not wrong, (
        f"The handout “{name}” looks different.\n"
        + "\n".join(wrong)
        + f"\nThe new pages are {tmp_path}/page-*.pgm. If they are right, renew the pictures: "
        f"{RENEW}=1 .venv/bin/python -m pytest -n 0 tests/export/test_handout_looks.py"
    )


def moved(page: Pixels, *, rows: slice, columns: slice, by: int) -> Pixels:
    """A page with one area of it moved to the right, what it leaves white."""
    changed = page.copy()
    changed[rows, columns] = 255
    changed[rows, columns.start + by : columns.stop + by] = page[rows, columns]
    return changed


def test_a_moved_column_and_a_lost_line_are_noticed(tmp_path: Path) -> None:
    page = images_of(handout(PACKS["internal"][0]()), DPI, tmp_path)[2]
    known = small(page)
    height, width = page.shape
    one_mm = round(DPI / 25.4)
    table = slice(round(height * 0.36), round(height * 0.58))
    column = slice(round(width * 0.56), round(width * 0.62))
    assert not is_alike(small(moved(page, rows=table, columns=column, by=one_mm)), known)
    lost = page.copy()
    lost[table.start :] = np.roll(page[table.start :], -3 * one_mm, axis=0)
    assert not is_alike(small(lost), known)


@pytest.mark.parametrize(
    ("before", "after", "number"),
    [
        ("inset: (x: 1.1mm, y: row)", "inset: (x: 1.4mm, y: row)", 3),
        ("width: room * (each.end", "width: 0.7 * room * (each.end", 3),
        ('if data.draft != "" { draft-mark(data.draft) }', 'draft-mark("D")', 1),
        ("[#strong(each.label) #each.text]", "[#each.text]", 3),
    ],
    ids=["wider columns", "shorter bars", "a mark in the background", "codes left out"],
)
def test_a_changed_template_is_noticed(
    before: str, after: str, number: int, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    root = tmp_path / "handout"
    root.mkdir()
    changed = 0
    for path in handout_pdf.ROOT.glob("*.typ"):
        text = path.read_text("utf-8")
        changed += text.count(before)
        (root / path.name).write_text(text.replace(before, after), "utf-8")
    assert changed
    monkeypatch.setattr(handout_pdf, "ROOT", root)
    page = images_of(handout(PACKS["internal"][0]()), DPI, tmp_path)[number - 1]
    assert not is_alike(small(page), known_page("internal", number))


@pytest.mark.parametrize("by", [2, 4])
def test_another_smoothing_of_letters_is_not_noticed(by: int, tmp_path: Path) -> None:
    pdf = handout(PACKS["internal"][0]())
    pages = []
    for dpi, smaller in ((DPI, SMALLER), (DPI * by // SMALLER, by)):
        folder = tmp_path / str(dpi)
        folder.mkdir()
        pages.append(small(images_of(pdf, dpi, folder)[2], smaller))
    height, width = (min(sides) for sides in zip(*(page.shape for page in pages), strict=True))
    assert is_alike(*(page[:height, :width] for page in pages))
