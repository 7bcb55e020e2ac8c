"""Speed and memory of the workbook: a pack of 50 constructions with 20 pairs each.

python -m pytest tests/benchmarks/workbook_speed.py -s
"""

from __future__ import annotations

import tempfile
import time
import tracemalloc
from dataclasses import replace
from functools import cache

from server.core.compare import compare
from server.core.freeze import Heading, Pool, assemble, freeze_comparison
from server.core.pack import Cloth, Pack
from server.export.workbook import write_workbook
from tests.builders import DAY, FROZEN_AT, demo_book

CONSTRUCTIONS, PAIRS = 50, 20
MOST_SECONDS = 8.0  # of one processor, of the 20 that workbook and handout have together
MOST_MEMORY = 48e6  # bytes beyond the pack itself
MOST_GROWTH = 1.6  # of the memory for twice the constructions, to that for as many


@cache
def large_pack(constructions: int = CONSTRUCTIONS) -> Pack:
    """Constructions of the demonstration, each with its own picks and ends."""
    book, basis = demo_book(), demo_book().basis()
    assumptions = book.assumption_set(basis.assumption_set)
    pool = Pool()
    cloths: list[Cloth] = []
    place = 0
    while len(cloths) < constructions:
        plain = book.constructions[place % len(book.constructions)]
        place += 1
        cloth = replace(
            plain,
            code=f"{plain.code}-{place:03d}",
            loom_ppi=plain.loom_ppi * (1 + place / 1000),
            total_ends=plain.total_ends + place,
        )
        compared = compare(cloth, basis, assumptions, book.rates, book.current_offers, book.limits)
        frozen = freeze_comparison(compared, pool)
        if len(frozen.pairs) >= PAIRS:
            cloths.append(replace(frozen, pairs=frozen.pairs[:PAIRS]))
    heading = Heading("large", "A large pack", "Nobody", DAY)
    return assemble(heading, basis, cloths, pool, engine="trial", made_at=FROZEN_AT)


def memory_of(pack: Pack) -> int:
    """Most memory that is held at once while the workbook is written [bytes]."""
    with tempfile.TemporaryFile() as file:
        tracemalloc.start()
        try:
            write_workbook(pack, file)
            return tracemalloc.get_traced_memory()[1]
        finally:
            tracemalloc.stop()


def test_fifty_constructions_of_twenty_pairs_are_written_in_time() -> None:
    pack = large_pack()
    told: list[float] = []
    with tempfile.TemporaryFile() as file:
        start, busy = time.perf_counter(), time.process_time()
        write_workbook(pack, file, lambda done: told.append(time.perf_counter() - start))
        seconds, busy = time.perf_counter() - start, time.process_time() - busy
        size = file.seek(0, 2)
    figures = sum(len(pair.figures) for cloth in pack.cloths for pair in cloth.pairs)
    print(
        f"\n{CONSTRUCTIONS} constructions × {PAIRS} pairs, {figures:,} figures: {seconds:.1f} s "
        f"({busy:.1f} s of processor), "
        f"{size / 1e6:.1f} MB; first construction told after {told[0]:.1f} s, last {told[-1]:.1f} s"
    )
    assert len(told) == CONSTRUCTIONS
    assert busy < MOST_SECONDS


def test_memory_stays_small_and_grows_less_than_the_pack() -> None:
    half, whole = memory_of(large_pack(CONSTRUCTIONS // 2)), memory_of(large_pack())
    print(f"\nmost memory beyond the pack: {half / 1e6:.0f} MB for half, {whole / 1e6:.0f} MB")
    assert whole < MOST_MEMORY
    assert whole / half < 2 * MOST_GROWTH


def main() -> None:
    """Print every figure."""
    test_fifty_constructions_of_twenty_pairs_are_written_in_time()
    test_memory_stays_small_and_grows_less_than_the_pack()


if __name__ == "__main__":
    main()
