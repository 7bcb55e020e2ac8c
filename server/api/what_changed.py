"""What changed between two meeting packs, or a pack and today, as JSON."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Path, Query, Request

from server.actions.what_changed import LONGEST, TODAY, changes_of, read_asked
from server.api.records import WRONG
from server.export.what_changed import changes_document
from server.request import house_of

router = APIRouter(tags=["meetings"])
Reference = Annotated[str, Path(description="Reference of the pack", max_length=LONGEST)]
Against = Annotated[
    str,
    Query(
        max_length=LONGEST,
        description=f"Reference of another pack, or {TODAY}; the pack it follows when empty",
    ),
]
Text = Annotated[str, Query(max_length=LONGEST)]
_READ: dict[int | str, dict[str, Any]] = {code: WRONG[code] for code in (404, 409, 422, 503)}


@router.get("/meetings/{reference}/changed", responses=_READ)
def what_changed(
    request: Request,
    reference: Reference,
    against: Against = "",
    cloth: Annotated[str, Query(max_length=LONGEST, description="One construction alone")] = "",
    variant: Text = "",
    before: Annotated[str, Query(max_length=LONGEST, description="Pair of the earlier pack")] = "",
    after: Annotated[str, Query(max_length=LONGEST, description="Pair of the later pack")] = "",
) -> dict[str, Any]:
    """Each construction's difference by cause, in order and without a rest, with what moved."""
    asked = {
        "against": against,
        "cloth": cloth,
        "variant": variant,
        "before": before,
        "after": after,
    }
    changes = changes_of(house_of(request).engine, reference, read_asked(asked))
    return changes_document(changes.found, changes.touched)
