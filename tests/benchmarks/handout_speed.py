"""The handout of a large pack, a page of 60 pairs, and the memory they take.

python -m pytest -n 0 -s tests/benchmarks/handout_speed.py
"""

from __future__ import annotations

import gc
import os
import re
import resource
import time
from dataclasses import replace
from io import BytesIO
from pathlib import Path

from server.core.compare import Comparison, compare
from server.core.pack import Pack
from server.export.handout_pdf import write_handout
from tests.builders import demo_book, pack_of

CONSTRUCTIONS, PAIRS, ROWS, REPEATS = 50, 20, 60, 3
MOST_S, MOST_ROWS_S = 6.0, 0.2
MOST_CHILD_MB, MOST_SERVER_MB = 700, 60


def large_pack(constructions: int) -> Pack:
    """Constructions of the demonstration, each with other picks and twenty pairs."""
    book = demo_book()
    basis = book.basis()
    assumptions = book.assumption_set(basis.assumption_set)
    wide = [each for each in book.constructions if each.code in ("DN-1375", "DN-1250", "DN-0975")]

    def compared(at: int) -> Comparison:
        of = wide[at % len(wide)]
        cloth = replace(of, code=f"DN-{at:04}", loom_ppi=of.loom_ppi + at / 10)
        return compare(cloth, basis, assumptions, book.rates, book.current_offers, book.limits)

    return pack_of(*(compared(at) for at in range(constructions)))


def resident_mb() -> float:
    """Resident memory of this process [MB]."""
    status = Path("/proc/self/status").read_text(encoding="ascii")
    found = re.search(r"VmRSS:\s+(\d+) kB", status)
    assert found
    return int(found[1]) / 1024


def largest_child_mb() -> float:
    """The most memory any child of this process ever had [MB]."""
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024


def seconds(pack: Pack) -> tuple[float, int]:
    """How long a handout takes, and its size [bytes]."""
    file = BytesIO()
    begun = time.perf_counter()
    write_handout(pack, file)
    return time.perf_counter() - begun, len(file.getvalue())


def test_sixty_rows_are_set_at_once() -> None:
    pack = large_pack(1)
    cloth = pack.cloths[0]
    pairs = tuple(replace(cloth.pairs[at % PAIRS], key=f"P{at}") for at in range(ROWS))
    pack = replace(pack, cloths=(replace(cloth, pairs=pairs),))
    took_s = min(seconds(replace(pack, title=f"Again {at}"))[0] for at in range(REPEATS))
    print(f"\n{ROWS} rows: {took_s * 1000:.0f} ms, in a process of {largest_child_mb():.0f} MB")
    assert took_s <= MOST_ROWS_S


def test_fifty_constructions_of_twenty_pairs_are_set_in_time() -> None:
    pack = large_pack(CONSTRUCTIONS)
    assert [len(each.pairs) for each in pack.cloths] == [PAIRS] * CONSTRUCTIONS
    gc.collect()
    before = resident_mb()
    found = [seconds(replace(pack, title=f"Again {at}")) for at in range(REPEATS)]
    gc.collect()
    stays = resident_mb() - before
    print(
        f"\n{CONSTRUCTIONS} constructions × {PAIRS} pairs: {min(found)[0]:.2f} s, "
        f"{found[0][1] / 1e6:.1f} MB of PDF, in a process of {largest_child_mb():.0f} MB; the "
        f"server keeps {stays:+.0f} MB after {REPEATS}; {os.cpu_count()} cores"
    )
    assert min(found)[0] <= MOST_S
    assert largest_child_mb() <= MOST_CHILD_MB
    assert stays <= MOST_SERVER_MB
