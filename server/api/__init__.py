"""The JSON interface under /api/v1, described by OpenAPI."""

from __future__ import annotations

from fastapi import FastAPI


def attach(app: FastAPI) -> None:
    """Add every API route."""
    from server.api import (
        calculators,
        change,
        compare,
        gate,
        intakes,
        offer_parts,
        records,
        what_moves,
    )

    for part in (change, offer_parts, gate, intakes, what_moves, records, compare, calculators):
        app.include_router(part.router, prefix="/api/v1")
