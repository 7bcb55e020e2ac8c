"""What a rate would move, as JSON, before it is stored."""

from __future__ import annotations

from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Body, Query, Request

from server.actions.nouns import NOUNS, Noun, read_entry
from server.actions.records import one_record
from server.actions.what_moves import RATES, WhatMoves, what_moves
from server.api.records import WRONG
from server.request import house_of

router = APIRouter()
Key = Annotated[str, Query(max_length=40, description="Key of the rate changed; a new one without")]
OnBasis = Annotated[str, Query(max_length=120, description="Name of the basis; else the first")]


def _add_route(noun: Noun) -> None:
    schema = noun.entry.model_json_schema()
    body = Body(
        title=schema["title"], description=str(noun.entry.__doc__), json_schema_extra=schema
    )

    @router.post(
        f"/{noun.path}/what-moves",
        tags=[noun.many],
        summary=f"What a changed {noun.one} would move",
        responses={code: WRONG[code] for code in (400, 404, 413, 422, 503)},
    )
    def moves(
        request: Request, given: dict[str, Any] = body, key: Key = "", basis: OnBasis = ""
    ) -> dict[str, Any]:
        """Each construction with its leader before and after; nothing is stored."""
        engine = house_of(request).engine
        values = read_entry(noun, given)
        changed = one_record(engine, noun, key).id if key else None
        return _document(what_moves(engine, noun, [(changed, values)], basis))


def _document(found: WhatMoves) -> dict[str, Any]:
    return {
        "basis": found.basis.name,
        "units": {
            "cost": f"{found.basis.currency}/m",
            "change": f"{found.basis.currency}/m",
            "largest": f"{found.basis.currency}/kg",
        },
        "moves": [
            {
                "construction": move.construction.code,
                "before": asdict(move.before),
                "after": asdict(move.after),
                "change": move.change,
                "leader_changes": move.leader_changes,
                "combination_changes": move.combination_changes,
                "offers_moved": move.offers,
                "largest": {"offer": move.largest[0], "change": move.largest[1]}
                if move.largest
                else None,
                "no_longer_priced": dict(move.lost),
                "standings_changed": move.restanding,
            }
            for move in found.moves
        ],
        "holds_from": found.held_from.isoformat() if found.held_from else None,
        "doubts": list(found.doubts),
        "not_looked_at": found.not_looked_at,
    }


for _path in RATES:
    _add_route(NOUNS[_path])
