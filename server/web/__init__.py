"""Pages: read the request, call one action, fill a view, render."""

from __future__ import annotations

from fastapi import FastAPI


def attach(app: FastAPI) -> None:
    """Add every page. Order matters where an address could match twice."""
    from server.web import (
        api_guide,
        calculators,
        charts,
        compare,
        compare_list,
        constructions,
        errors,
        home,
        offer,
        offers,
        pair,
        records,
        should_cost,
    )

    for page in (
        records,
        home,
        compare_list,
        compare,
        pair,
        offers,
        offer,
        constructions,
        should_cost,
        calculators,
        charts,
        api_guide,
    ):
        app.include_router(page.router, include_in_schema=False)
    errors.attach(app)
