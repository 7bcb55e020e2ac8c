"""Pages: read the request, call one action, fill a view, render."""

from __future__ import annotations

from fastapi import FastAPI


def attach(app: FastAPI) -> None:
    """Add every page. Order matters where an address could match twice."""
    from server.web import (
        api_guide,
        calculators,
        calibration,
        change,
        charts,
        compare,
        compare_list,
        constructions,
        cost_map,
        edit_many,
        errors,
        freshness,
        home,
        how_close,
        intake,
        intake_columns,
        offer,
        offer_files,
        offer_gate,
        offer_questions,
        offer_tests,
        offer_yarn,
        offers,
        pair,
        price_history,
        records,
        requotes,
        saved_views,
        scenarios,
        should_cost,
        side_by_side,
        ties,
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
        cost_map,
        pair,
        offers,
        saved_views,
        offer_questions,
        offer_gate,
        offer_files,
        offer_tests,
        offer_yarn,
        offer,
        freshness,
        requotes,
        how_close,
        calibration,
        change,
        variants,
        ties,
        constructions,
        should_cost,
        scenarios,
        calculators,
        charts,
        api_guide,
    ):
        app.include_router(page.router, include_in_schema=False)
    errors.attach(app)
