"""Pages: read the request, call one action, fill a view, render."""

from __future__ import annotations

from fastapi import FastAPI


def attach(app: FastAPI) -> None:
    """Add every page. Order matters where an address could match twice."""
    from server.web import (
        api_guide,
        calculators,
        change,
        charts,
        compare,
        compare_list,
        constructions,
        edit_many,
        errors,
        freshness,
        home,
        intake,
        intake_columns,
        offer,
        offer_files,
        offer_gate,
        offer_questions,
        offer_tests,
        offers,
        pair,
        price_history,
        records,
        requotes,
        saved_views,
        should_cost,
        side_by_side,
        variants,
    )

    for page in (
        edit_many,
        side_by_side,
        price_history,
        records,
        intake,
        intake_columns,
        home,
        compare_list,
        compare,
        pair,
        offers,
        saved_views,
        offer_questions,
        offer_gate,
        offer_files,
        offer_tests,
        offer,
        freshness,
        requotes,
        change,
        variants,
        constructions,
        should_cost,
        calculators,
        charts,
        api_guide,
    ):
        app.include_router(page.router, include_in_schema=False)
    errors.attach(app)
