"""The change desk while somebody types: one field changed, the answer put into the page.

Two programs run, each in one worker, started here, on loopback: the demonstration alone, and with
5,000 invented offers beside it. Every request asks for a value that was never asked for before, so
that no answer is remembered. Counts move as well as threads, so that offers are looked at anew. A
bare page of the same size is asked in turn with them.

    python -m pytest -n 0 -s tests/benchmarks/change_speed.py
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from http.client import HTTPConnection
from itertools import count
from pathlib import Path
from statistics import median

from tests.benchmarks.page_speed import BARE, free_port, resident_mb, running, wait_for
from tests.builders import demo_engine
from tests.many_offers import add_many

MANY = 5_000
ROUNDS = 60
MOST_MS = 150.0
DESK = "/constructions/DN-1250/change?pair=Q14%2FQ20"
_never_asked = count(1)


def asked(kind: str) -> str:
    """An address of the desk that was not asked for before."""
    step = next(_never_asked) / 10_000
    return {
        "picks": f"{DESK}&loom_ppi={38 + step:.4f}",
        "count": f"{DESK}&filling_ne={7 + step:.4f}",
        "both, by season": f"{DESK}&quantity=season&filling_ne={7 + step:.4f}"
        f"&loom_ppi={39 - step:.4f}",
        "own rotor": f"{DESK}&filling_yarn=own+OE&OE.rotor_rpm={70_000 + step * 10_000:.0f}",
    }[kind]


KINDS = ("picks", "count", "both, by season", "own rotor")


@contextmanager
def desk(folder: Path, more: int) -> Iterator[tuple[HTTPConnection, int]]:
    """A running demonstration with some invented offers beside it, and its process."""
    folder.mkdir()
    engine = demo_engine(folder)
    if more:
        add_many(engine, more)
    engine.dispose()
    port = free_port()
    where = str(folder / "demo.sqlite")
    with running("-m", "server", "demo", "--port", str(port), "--database", where) as process:
        wait_for(f"http://127.0.0.1:{port}/health")
        yield HTTPConnection("127.0.0.1", port), process.pid


def timed_ms(connection: HTTPConnection, address: str) -> tuple[float, bytes]:
    """Time of one answer as the desk asks for it [ms], and the answer."""
    begun = time.perf_counter()
    connection.request("GET", address, headers={"hx-request": "true"})
    answer = connection.getresponse()
    body = answer.read()
    assert answer.status == 200, body[:300]
    return (time.perf_counter() - begun) * 1000, body


def test_changing_one_field_answers_while_somebody_types(tmp_path: Path) -> None:
    with ExitStack() as stack:
        few, few_id = stack.enter_context(desk(tmp_path / "few", 0))
        many, many_id = stack.enter_context(desk(tmp_path / "many", MANY))
        first_ms, body = timed_ms(few, asked("picks"))
        first_many_ms, _ = timed_ms(many, asked("picks"))
        bare = stack.enter_context(bare_page(tmp_path, body))
        times: dict[str, list[tuple[float, float]]] = {kind: [] for kind in KINDS}
        bare_ms = []
        for _ in range(ROUNDS):
            for kind in KINDS:
                times[kind].append((timed_ms(few, asked(kind))[0], timed_ms(many, asked(kind))[0]))
            bare_ms.append(timed_ms(bare, "/")[0])
        memory = resident_mb(few_id), resident_mb(many_id)
    print(f"\nchange desk, answer of {len(body) / 1000:.0f} kB; bare page {median(bare_ms):.1f} ms")
    print(f"first answer {first_ms:.0f} ms, with {MANY} offers {first_many_ms:.0f} ms")
    for kind, pairs in times.items():
        ours, of_many = (sorted(each) for each in zip(*pairs, strict=True))
        late = int(len(ours) * 0.95)
        print(
            f"{kind:>16}: {median(ours):5.1f} ms (p95 {ours[late]:.0f}), "
            f"{median(ours) / median(bare_ms):.1f} x bare; with {MANY} offers "
            f"{median(of_many):5.1f} ms (p95 {of_many[late]:.0f}), "
            f"{median(of_many) / median(ours):.2f} x the demonstration"
        )
        assert ours[late] < MOST_MS
        assert of_many[late] < 2 * MOST_MS
    print(f"resident {memory[0]:.0f} MB, with {MANY} offers {memory[1]:.0f} MB")


@contextmanager
def bare_page(folder: Path, like: bytes) -> Iterator[HTTPConnection]:
    """A bare FastAPI and Jinja2 page with as many cells and bytes as an answer of the desk."""
    script, port = folder / "bare.py", free_port()
    script.write_text(BARE, encoding="utf-8")
    rows, cells = like.count(b"<tr"), like.count(b"<td") + like.count(b"<th")
    shape = (str(rows), str(round(cells / rows)), str(len(like)))
    with running(str(script), str(port), *shape):
        wait_for(f"http://127.0.0.1:{port}/")
        yield HTTPConnection("127.0.0.1", port)
