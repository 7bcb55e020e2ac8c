"""The list of offers at 20,000 offers beside 200, as ratios inside one run.

Two programs run, each in one worker, started here, on loopback, each with the demonstration and
invented offers. The same pages are asked of both in turn; a page's ratio is that of the quickest
answers. Where a filter leaves fewer rows of few than of many, the page of many is held against the
whole page of few, so that pages of as many rows are compared. Statements and memory are counted at
the larger one.

    python -m pytest -n 0 -s tests/benchmarks/list_speed.py
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from http.client import HTTPConnection
from pathlib import Path
from statistics import median
from urllib.parse import urlsplit

from starlette.testclient import TestClient

from server.app import create_app
from server.settings import Settings
from server.store.session import Engine
from tests.benchmarks.page_speed import free_port, resident_mb, running, wait_for
from tests.builders import demo_engine
from tests.list_addresses import statements
from tests.many_offers import add_many

FEW, MANY = 200, 20_000
SORTS = ("offer", "supplier", "country", "process", "average_ne", "quoted_on", "valid_until",
         "lead_days", "goods_price", "landed_price", "same_basis_price")  # fmt: skip
FILTERS = (
    "q=ring", "q=zzzz", "q=ostrel+7%2F1&sort=landed_price", "spinning=air-jet", "effect=slub",
    "supplier=Kaveriyam+Spinners", "country=India&sort=-same_basis_price", "state=open",
    "state=unproven&sort=landed_price", "state=expired&sort=valid_until", "state=replaced",
    "quoted_from=2026-02-20", "valid_from=2026-03-12&valid_to=2026-03-20&sort=lead_days",
)  # fmt: skip
PAGES = tuple(f"/offers?sort={sign}{sort}" for sort in SORTS for sign in ("", "-")) + tuple(
    f"/offers?{query}" for query in FILTERS
)
ROUNDS = 15


def test_a_page_of_many_offers_is_as_quick_as_one_of_few(tmp_path: Path) -> None:
    with ExitStack() as stack:
        few, _ = stack.enter_context(house(tmp_path / "few", FEW))
        many, process_id = stack.enter_context(house(tmp_path / "many", MANY))
        begun = time.perf_counter()
        answer(few, "/offers")
        few_s = time.perf_counter() - begun
        begun = time.perf_counter()
        answer(many, "/offers")
        first_s = time.perf_counter() - begun
        ratios: dict[str, float] = {}
        plain: list[tuple[float, float]] = []
        for page in PAGES:
            beside = page if rows_of(few, page) >= rows_of(many, page) else "/offers"
            times = [(timed(few, beside), timed(many, page)) for _ in range(ROUNDS)]
            quickest = min(one for one, _ in times), min(other for _, other in times)
            ratios[page] = quickest[1] / quickest[0]
            plain.append(quickest)
        deep_ratio = timed_deep(many) / timed(many, "/offers?sort=landed_price")
        begun = time.perf_counter()
        size = len(answer(many, "/offers.csv"))
        csv_s = time.perf_counter() - begun
        begun = time.perf_counter()
        change_a_rate(many)
        answer(many, "/offers?sort=landed_price")
        anew_s = time.perf_counter() - begun
        memory_mb = resident_mb(process_id)
    worst = max(ratios, key=lambda page: ratios[page])
    print(
        f"\n{len(PAGES)} pages of the list, {FEW} against {MANY} offers: quickest answers "
        f"{median(one for one, _ in plain) * 1000:.1f} ms against "
        f"{median(other for _, other in plain) * 1000:.1f} ms, ratio "
        f"{median(ratios.values()):.2f}, worst {ratios[worst]:.2f} at {worst}; tenth page "
        f"{deep_ratio:.2f} of the first; first page with all priced {first_s:.1f} s (of few "
        f"{few_s:.2f} s), after a change of a rate {anew_s:.1f} s; CSV {size / 1e6:.1f} MB in "
        f"{csv_s:.1f} s; resident {memory_mb:.0f} MB"
    )
    assert max(ratios.values()) <= 3, {page: round(r, 2) for page, r in ratios.items() if r > 3}
    assert deep_ratio <= 2
    assert memory_mb < 250


def test_a_page_costs_ten_statements_at_most_at_any_number_of_offers(tmp_path: Path) -> None:
    counted: dict[int, list[int]] = {}
    for count in (FEW, MANY):
        engine = seeded(tmp_path / str(count), count)
        client = TestClient(create_app(Settings(database_url=str(engine.url), demo=True)))
        client.get("/offers")
        counted[count] = []
        for page in PAGES:
            with statements(client.app.state.house.engine) as seen:  # type: ignore[attr-defined]
                assert client.get(page).status_code == 200
            counted[count].append(len(seen))
        engine.dispose()
    print(f"\nstatements a page: {max(counted[FEW])} of {FEW}, {max(counted[MANY])} of {MANY}")
    assert max(counted[MANY]) <= max(counted[FEW]) <= 10


def seeded(folder: Path, count: int) -> Engine:
    """A database with so many offers."""
    folder.mkdir()
    engine = demo_engine(folder)
    add_many(engine, count - 40)
    return engine


@contextmanager
def house(folder: Path, count: int) -> Iterator[tuple[str, int]]:
    """Address and process of a running program with so many offers."""
    seeded(folder, count).dispose()
    port = free_port()
    database = str(folder / "demo.sqlite")
    with running("-m", "server", "demo", "--port", str(port), "--database", database) as process:
        address = f"http://127.0.0.1:{port}"
        wait_for(f"{address}/health", 60)
        yield address, process.pid


def answer(address: str, path: str) -> bytes:
    """What a page holds."""
    host = urlsplit(address)
    connection = HTTPConnection(host.hostname or "", host.port or 80, timeout=120)
    connection.request("GET", path)
    got = connection.getresponse()
    assert got.status == 200, path
    text = got.read()
    connection.close()
    return text


def rows_of(address: str, path: str) -> int:
    """How many rows a page shows."""
    return answer(address, path).count(b'name="offer"')


def timed(address: str, path: str) -> float:
    """Seconds to an answer."""
    begun = time.perf_counter()
    answer(address, path)
    return time.perf_counter() - begun


def timed_deep(address: str) -> float:
    """Seconds to the tenth page, reached from page to page."""
    path = "/offers?sort=landed_price"
    for _ in range(9):
        html = answer(address, path).decode()
        start = html.rindex('<a href="', 0, html.index('rel="next"')) + len('<a href="')
        path = html[start : html.index('"', start)].replace("&amp;", "&")
    return min(timed(address, path) for _ in range(5))


def change_a_rate(address: str) -> None:
    """Enter another exchange rate."""
    host = urlsplit(address)
    connection = HTTPConnection(host.hostname or "", host.port or 80)
    body = "base=USD&quote=MXN&rate=15.00&valid_from=2026-03-02&source=trial"
    headers = {"content-type": "application/x-www-form-urlencoded"}
    connection.request("POST", "/rates/exchange/new", body, headers)
    assert connection.getresponse().status == 303
    connection.close()
