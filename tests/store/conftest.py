"""Fixtures of the store's tests; see `databases`."""

from __future__ import annotations

from tests.store.databases import address, bare_engine, demo, engine, person

__all__ = ["address", "bare_engine", "demo", "engine", "person"]
