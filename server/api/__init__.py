"""The JSON interface under /api/v1, described by OpenAPI."""

from __future__ import annotations

from fastapi import FastAPI


def attach(app: FastAPI) -> None:
    """Add every API route."""
    from server.api import (
        calculators,
        change,
        cloth,
        compare,
        gate,
        intakes,
        negotiation,
        offer_parts,
        packs,
        records,
        scenarios,
        ties,
        what_changed,
        what_moves,
    )

    for part in (
        change,
        cloth,
        ties,
        offer_parts,
        gate,
        packs,
        intakes,
        what_moves,
        what_changed,
        negotiation,
        records,
        compare,
        scenarios,
        calculators,
    ):
        app.include_router(part.router, prefix="/api/v1")
