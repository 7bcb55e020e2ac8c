"""Fixtures of the engine's tests, and the count of worked examples at the end of a run."""

from __future__ import annotations

from typing import Any

import pytest

from server.store.book import Book
from tests.builders import demo_book
from tests.core.examples import counted, read_cases


@pytest.fixture(scope="session")
def book() -> Book:
    """Everything in the demonstration."""
    return demo_book()


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Say how many worked examples the run went through."""
    ran = any(
        "test_worked_examples" in getattr(report, "nodeid", "")
        for reports in terminalreporter.stats.values()
        for report in reports
    )
    if ran:
        terminalreporter.section("worked examples")
        for line in counted(read_cases()):
            terminalreporter.write_line(line)
