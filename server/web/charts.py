"""Charts at their own addresses, drawn from the same figures as the pages."""

from __future__ import annotations

from functools import partial

from fastapi import APIRouter, Request
from starlette.responses import Response

from server.actions.compare import (
    compare_construction,
    figures_of,
    pair_of,
    sound_basis_change,
)
from server.actions.offers import landed_offer
from server.core.errors import BadValue, NotFound
from server.export.charts import NARROW_PX, WIDE_PX
from server.request import house_of
from server.web import cost_map, pictures, price_history, should_cost, what_changed
from server.web.numbers import Writer
from server.web.render import units_of

router = APIRouter()


def _drawn(request: Request, drawing: pictures.Drawing) -> Response:
    theme = request.query_params.get("theme", "light")
    if theme not in ("light", "dark"):
        raise BadValue(
            f"“{theme[:20]}” is no theme.",
            field="theme",
            value=theme,
            remedy="Choose light or dark.",
        )
    narrow = request.query_params.get("width") == "narrow"
    spec = drawing(theme, NARROW_PX if narrow else WIDE_PX)
    picture = house_of(request).charts.render(spec, form="svg")
    return Response(picture, media_type="image/svg+xml")


@router.get("/charts/compare/{code}/ladder.svg")
def ladder_chart(request: Request, code: str) -> Response:
    """Best pair of every combination, cheapest first."""
    comparison = compare_construction(
        house_of(request).engine,
        code,
        sound_basis_change(request.query_params),
        request.query_params.get("basis", ""),
    )
    if not comparison.ladder:
        raise NotFound(
            f"{code} has no possible pair to draw.",
            field="construction",
            value=code,
            remedy="Open the comparison to see why.",
        )
    writer = Writer(units_of(request), comparison.basis.currency)
    return _drawn(request, partial(pictures.ladder_spec, comparison, writer))


@router.get("/charts/compare/{code}/map.svg")
def map_chart(request: Request, code: str) -> Response:
    """Which option is the cheapest while two things move."""
    return _drawn(request, cost_map.drawing_of(request, code))


@router.get("/charts/compare/{code}/{warp}/{filling}/stack.svg")
def stack_chart(request: Request, code: str, warp: str, filling: str) -> Response:
    """Parts of the cost of a finished metre of one pair."""
    comparison = compare_construction(
        house_of(request).engine,
        code,
        sound_basis_change(request.query_params),
        request.query_params.get("basis", ""),
    )
    pair = pair_of(comparison, warp, filling)
    parts = pictures.stack_parts(comparison, figures_of(comparison, pair))
    writer = Writer(units_of(request), comparison.basis.currency)
    return _drawn(request, partial(pictures.stack_spec, pair.key, parts, writer))


@router.get("/charts/meetings/{reference}/changed.svg")
def changed_chart(request: Request, reference: str) -> Response:
    """What changed in one cloth of a pack, cause by cause."""
    return _drawn(request, what_changed.drawing_of(request, reference))


@router.get("/charts/offers/{code}/landed.svg")
def landed_chart(request: Request, code: str) -> Response:
    """From the goods to the landed price of one offer."""
    query = request.query_params
    change = sound_basis_change(query)
    landed = landed_offer(house_of(request).engine, code, change, query.get("basis", ""))
    landing = landed.landing
    if landing is None:
        raise NotFound(
            f"Offer {code} cannot be landed yet: {landed.missing}",
            field="offer",
            value=code,
            remedy="Enter what is missing.",
        )
    writer = Writer(units_of(request), landed.currency)
    return _drawn(request, partial(pictures.landed_spec, landing, landed.figures, writer))


@router.get("/charts/should-cost/routes.svg")
def routes_chart(request: Request) -> Response:
    """Ring beside rotor beside air-jet, stage by stage."""
    costs = should_cost.sound_costs(request)
    if not costs.routes:
        raise NotFound(
            "No route has all its assumptions.",
            field="assumptions",
            remedy="Enter them on the Assumptions page.",
        )
    writer = Writer(units_of(request), costs.currency)
    return _drawn(request, partial(pictures.routes_spec, list(costs.routes), writer))


@router.get("/charts/should-cost/counts.svg")
def counts_chart(request: Request) -> Response:
    """Should-cost against the count, a curve for each route."""
    return _drawn(request, should_cost.counts_drawing(request))


@router.get("/charts/suppliers/prices.svg")
def prices_chart(request: Request) -> Response:
    """Prices of one yarn of a supplier over time."""
    return _drawn(request, price_history.drawing_of(request))
