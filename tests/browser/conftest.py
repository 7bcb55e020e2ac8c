"""A real browser on the running demonstration; without one the tests say so, in CI they fail."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, sync_playwright

QUIET = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update",
]  # fmt: skip


@pytest.fixture(scope="session")
def demo_address() -> Iterator[str]:
    """Address of `python -m server demo`, started as the README says."""
    yield from started_demo()


def started_demo() -> Iterator[str]:
    """A running demonstration, ended when its user has done."""
    process = subprocess.Popen(
        [sys.executable, "-m", "server", "demo", "--port", "0"],
        stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    try:
        assert process.stdout is not None
        line = process.stdout.readline()
        found = re.search(r"http://[\d.:]+", line)
        assert found, f"the demo printed {line!r}"
        yield found[0]
    finally:
        process.terminate()
        process.wait(10)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's Chromium."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        reason = "no Chromium on this machine: apt-get install chromium"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=QUIET)
        yield browser
        browser.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page whose console must stay free of errors."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    complaints: list[str] = []
    page.on(
        "console",
        lambda said: complaints.append(said.text) if said.type in ("error", "warning") else None,
    )
    page.on("pageerror", lambda error: complaints.append(str(error)))
    yield page
    context.close()
    assert complaints == []


def faults_of(browser: Browser, address: str, width: int, colours: str) -> list[str]:
    """What an accessibility engine finds on a page, and whether anything is wider than the screen.

    width: of the screen [px]; colours: light or dark
    """
    context = browser.new_context(
        viewport={"width": width, "height": 900},
        color_scheme="dark" if colours == "dark" else "light",
    )
    page = context.new_page()
    page.goto(address)
    faults = [
        f"{each['id']}: {[node['target'] for node in each['nodes']][:3]}"
        for each in Axe().run(page).response["violations"]
    ]
    wider = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    context.close()
    return faults + ([f"{wider} px wider than the screen"] if wider > 0 else [])
