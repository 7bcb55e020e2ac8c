"""The real program on a real SQLite database that holds the demonstration.

The database is made once for a run; each test gets a copy of its file and may change it at will.
"""

from __future__ import annotations

import shutil
import warnings
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from sqlalchemy import Engine

from server.app import create_app
from server.core.how_close import score_lines
from server.request import House
from server.settings import Settings
from tests.builders import demo_engine
from tests.core.examples import counted, read_cases

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it would like another HTTP library; this one does
    from starlette.testclient import TestClient


@pytest.fixture(scope="session")
def seeded_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A SQLite file, migrated and holding the demonstration. Not to be changed."""
    folder = tmp_path_factory.mktemp("seeded")
    engine = demo_engine(folder)
    engine.dispose()
    return folder / "demo.sqlite"


@pytest.fixture
def demo_app(seeded_file: Path, tmp_path: Path) -> FastAPI:
    """The program on a copy of the demonstration of its own."""
    file = tmp_path / "own.sqlite"
    shutil.copy(seeded_file, file)
    return create_app(Settings(database_url=f"sqlite:///{file}", demo=True))


@pytest.fixture
def client(demo_app: FastAPI) -> Iterator[TestClient]:
    """A visitor of the demonstration. Errors of the program itself fail the test."""
    with TestClient(demo_app) as visitor:
        yield visitor


@pytest.fixture
def house(demo_app: FastAPI) -> House:
    """The house behind the visitor's pages, for looking into its database."""
    house: House = demo_app.state.house
    return house


@pytest.fixture
def house_engine(house: House) -> Engine:
    """The engine on the visitor's own database."""
    return house.engine


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Say how many worked examples the run went through, and how well offer lines were read."""
    reports = [each for group in terminalreporter.stats.values() for each in group]
    told = {
        value
        for report in reports
        for name, value in getattr(report, "user_properties", ())
        if name == "offer_lines"
    }
    if told:
        terminalreporter.section("offer lines read")
        for line in sorted(told):
            terminalreporter.write_line(line)
    ran = any(
        "test_worked_examples" in getattr(report, "nodeid", "")
        for reports in terminalreporter.stats.values()
        for report in reports
    )
    if ran:
        terminalreporter.section("worked examples")
        for line in counted(read_cases()):
            terminalreporter.write_line(line)
        terminalreporter.section("how close are we")
        for line in score_lines():
            terminalreporter.write_line(line)
