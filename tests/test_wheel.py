"""The wheel holds templates, static files, migrations and the demo, and runs by itself."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path
from urllib.request import urlopen

ROOT = Path(__file__).parents[1]


def test_the_wheel_runs_as_creelbook_outside_the_checkout(tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)],
        cwd=ROOT, check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    (wheel,) = tmp_path.glob("creelbook-*.whl")
    site = tmp_path / "site"
    with zipfile.ZipFile(wheel) as packed:
        names = packed.namelist()
        packed.extractall(site)
    entry_points = next(name for name in names if name.endswith("entry_points.txt"))
    assert "creelbook = server.__main__:main" in (site / entry_points).read_text("utf-8")
    assert not [name for name in names if name.split("/")[0] in ("tests", "templates", "static")]
    process = subprocess.Popen(
        [sys.executable, "-c", "from server.__main__ import main; main()", "demo", "--port", "0"],
        cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(site)}, stdout=subprocess.PIPE,
        text=True,
    )  # fmt: skip
    try:
        assert process.stdout is not None
        found = re.search(r"http://[\d.:]+", process.stdout.readline())
        assert found
        with urlopen(f"{found[0]}/compare/DN-1375", timeout=20) as answer:
            assert "Cheapest possible: OE/OE" in answer.read().decode()
        with urlopen(f"{found[0]}/static/css/base.css", timeout=20) as answer:
            assert answer.status == 200
    finally:
        process.terminate()
        process.wait(10)
