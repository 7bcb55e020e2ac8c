"""Page speed as ratios inside one run: the comparison page beside a bare page of the same size.

The bare page is FastAPI and Jinja2 with every text a constant: it loops over the same number of
table cells and gives the same number of bytes. Both run in one uvicorn worker each, started here,
on loopback, and answer the same number of requests over the same number of connections.

    python -m pytest -n 0 -s tests/benchmarks/page_speed.py
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import urlsplit
from urllib.request import urlopen

REQUESTS, CONNECTIONS, REPEATS = 2_400, 8, 3
PAGE = "/compare/DN-1375"
BARE = '''
import sys
from fastapi import FastAPI
from fastapi.responses import HTMLResponse
from jinja2 import Environment
rows, cells, size = (int(part) for part in sys.argv[2:5])
template = Environment(autoescape=True).from_string(
    "<!doctype html><title>bare</title><table>{% for row in rows %}<tr>{% for cell in row %}"
    "<td>{{ cell }}</td>{% endfor %}</tr>{% endfor %}</table>{{ rest }}")
table = [["2.594"] * cells] * rows
bare = len(template.render(rows=table, rest=""))
rest = "x" * max(0, size - bare)
app = FastAPI()
@app.get("/")
def page():
    return HTMLResponse(template.render(rows=table, rest=rest))
import uvicorn
uvicorn.run(app, host="127.0.0.1", port=int(sys.argv[1]), log_level="error", access_log=False)
'''  # fmt: skip


@contextmanager
def running(*command: str) -> Iterator[subprocess.Popen[str]]:
    """A server process, ended at the end."""
    process = subprocess.Popen(
        [sys.executable, *command], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    )
    try:
        yield process
    finally:
        process.terminate()
        process.wait(10)


def wait_for(address: str, limit_s: float = 20.0) -> float:
    """Seconds until the address answers."""
    begun = time.perf_counter()
    while time.perf_counter() - begun < limit_s:
        try:
            with urlopen(address, timeout=5):
                return time.perf_counter() - begun
        except OSError:
            time.sleep(0.01)
    raise TimeoutError(address)


def free_port() -> int:
    """A port nobody listens on."""
    import socket

    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def requests_per_second(address: str) -> float:
    """Answered requests a second over several keep-alive connections."""

    host = urlsplit(address)

    def client() -> None:
        connection = HTTPConnection(host.hostname or "", host.port or 80)
        for _ in range(REQUESTS // CONNECTIONS):
            connection.request("GET", host.path)
            answer = connection.getresponse()
            assert answer.status == 200
            answer.read()
        connection.close()

    threads = [threading.Thread(target=client) for _ in range(CONNECTIONS)]
    begun = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return REQUESTS / (time.perf_counter() - begun)


def resident_mb(pid: int) -> float:
    """Resident memory of a process, its children apart [MB]."""
    status = Path(f"/proc/{pid}/status").read_text(encoding="ascii")
    return int(re.search(r"VmRSS:\s+(\d+) kB", status)[1]) / 1024  # type: ignore[index]


def test_the_comparison_page_keeps_up_with_a_bare_page(tmp_path: Path) -> None:
    port, bare_port = free_port(), free_port()
    database = tmp_path / "demo.sqlite"
    with running("-m", "server", "demo", "--port", str(port), "--database", str(database)):
        seeded_s = wait_for(f"http://127.0.0.1:{port}/health")
    begun = time.perf_counter()
    with running("-m", "server", "demo", "--port", str(port), "--database", str(database)) as app:
        wait_for(f"http://127.0.0.1:{port}{PAGE}")
        started_s = time.perf_counter() - begun
        address = f"http://127.0.0.1:{port}{PAGE}"
        html = urlopen(address).read().decode()
        rows, cells = html.count("<tr"), html.count("<td") + html.count("<th")
        script = tmp_path / "bare.py"
        script.write_text(BARE, encoding="utf-8")
        shape = (str(rows), str(round(cells / rows)), str(len(html.encode())))
        with running(str(script), str(bare_port), *shape):
            bare_address = f"http://127.0.0.1:{bare_port}/"
            wait_for(bare_address)
            for each in (address, bare_address):
                requests_per_second(each)
            pairs = [
                (requests_per_second(address), requests_per_second(bare_address))
                for _ in range(REPEATS)
            ]
            memory_mb = resident_mb(app.pid)
    ratio = max(ours / bare for ours, bare in pairs)
    print(
        f"\ncomparison page {len(html.encode()) / 1000:.0f} kB: "
        f"{max(ours for ours, _ in pairs):.0f} requests/s, bare page of the same size "
        f"{max(bare for _, bare in pairs):.0f} requests/s, ratio {ratio:.2f}; start to first "
        f"comparison {started_s:.2f} s (with migrating and seeding {seeded_s:.2f} s); "
        f"resident {memory_mb:.0f} MB; {os.cpu_count()} cores"
    )
    assert ratio >= 1 / 3
    assert memory_mb < 200
    assert started_s < 2
