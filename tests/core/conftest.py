"""Fixtures of the engine's tests."""

from __future__ import annotations

import pytest

from server.store.book import Book
from tests.builders import demo_book


@pytest.fixture(scope="session")
def book() -> Book:
    """Everything in the demonstration."""
    return demo_book()
