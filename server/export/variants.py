"""A kept change as a record: what page, CSV and API say of a variant."""

from __future__ import annotations

from typing import Any

from server.core.change import Changed
from server.store.variants import Variant

VARIANT_COLUMNS = (
    "id", "name", "change", "notes", "owner", "promoted_version", "yarns", "fabric_cost_per_m",
    "fabric_cost_difference_per_m", "cost_difference_per_m2", "ounces", "ounces_difference",
    "loom_output_difference_share", "missing",
)  # fmt: skip


def variant_record(variant: Variant, changed: Changed | None, missing: str) -> dict[str, Any]:
    """A variant with its figures today; they are empty when it cannot be worked out."""
    about: dict[str, Any] = dict.fromkeys(VARIANT_COLUMNS)
    about |= {
        "id": variant.id,
        "name": variant.name,
        "change": variant.query,
        "notes": variant.notes,
        "owner": variant.owner,
        "promoted_version": variant.promoted_version,
        "missing": missing,
    }
    if changed is not None:
        now, was = changed.swap.figures, changed.before.figures
        about |= {
            "yarns": changed.swap.key,
            "fabric_cost_per_m": now["fabric_cost"],
            "fabric_cost_difference_per_m": now["fabric_cost"] - was["fabric_cost"],
            "cost_difference_per_m2": now["fabric_per_area"] - was["fabric_per_area"],
            "ounces": now["ounces"],
            "ounces_difference": now["ounces"] - was["ounces"],
            "loom_output_difference_share": now["loom_output"] / was["loom_output"] - 1,
        }
    return about
