"""What changed between two packs as data and as rows: the same figures in every form."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from server.core.construction import DIRECTIONS
from server.core.pack import Pack
from server.core.sheet import Input
from server.core.walk import CAUSES, Moved, Step
from server.core.what_changed import ClothChange, Side, Touched, WhatChanged, day_of
from server.export.documents import stated_basis

CHANGED_HEADINGS = (
    "construction", "variant", "state", "pair_before", "pair_after", "step", "cause",
    "amount", "share_of_before", "total", "unit", "season_metres", "season_amount", "inputs",
    "notes",
)  # fmt: skip


TouchedBy = Mapping[str, Touched]  # address of a record -> who touched it last


def changed_rows(found: WhatChanged) -> Iterator[list[Any]]:
    """One line for each step of each cloth, first what it was; come and gone ones in one line."""
    unit = f"{found.currency}/m"
    for each in found.cloths:
        about = [
            each.cloth.code,
            each.cloth.variant,
            each.state,
            _key(each.before),
            _key(each.after),
        ]
        if each.walk is None:
            value = next((s.value for s in (each.after, each.before) if s is not None), None)
            yield [*about, 0, "", None, None, value, unit, each.metres, None, "", each.reason]
            continue
        start = each.walk.before
        yield [*about, 0, "Before", None, None, start, unit, each.metres, None, "", ""]
        for place, step in enumerate(each.walk.steps, start=1):
            yield [
                *about,
                place,
                CAUSES[step.cause].label,
                step.amount,
                share_of(step.amount, start),
                step.total,
                unit,
                each.metres,
                each.season(step.amount),
                "; ".join(moved_words(moved, found.currency) for moved in step.moved),
                " ".join(step.notes),
            ]


def changes_document(found: WhatChanged, touched: TouchedBy) -> dict[str, Any]:
    """Two packs held against each other as data."""
    totals = found.totals
    return {
        "before": _pack(found.before),
        "after": {**_pack(found.after), "today": found.until_today},
        "figure": found.figure,
        "unit": f"{found.currency}/m",
        "causes": [
            {"key": each.key, "label": each.label, "about": each.about} for each in found.causes
        ],
        "constructions": [_cloth(each, found.currency, touched) for each in found.cloths],
        "season": {
            "unit": found.currency,
            "constructions": totals.cloths,
            "without_season_metres": totals.left_out,
            "metres": totals.metres,
            "before": totals.before,
            "after": totals.after,
            "amounts": totals.amounts,
        },
    }


def share_of(amount: float, before: float) -> float | None:
    """An amount as a share of what the cloth was before; None where that was nothing."""
    return amount / before if before else None


def moved_words(moved: Moved, currency: str) -> str:
    """`Price as quoted, warp: 2.4 USD/kg → 2.55 USD/kg (offer Q14, Alder Mill, 2026-03-02)`."""
    entry = moved.entry
    was, now = (_said(each, currency) for each in (moved.before, moved.after))
    on = f", {entry.on.isoformat()}" if entry.on else ""
    place = f", {found}" if (found := place_of(moved)) else ""
    return f"{entry.label}{place}: {was} → {now} ({entry.source or 'source not given'}{on})"


def place_of(moved: Moved) -> str:
    """The yarn an input belongs to, where its label does not say so: `warp2`."""
    place, dot, _ = moved.name.partition(".")
    known = dot and place.startswith(DIRECTIONS)
    return place if known and place not in moved.entry.label.lower().split() else ""


def _said(entry: Input | None, currency: str) -> str:
    if entry is None:
        return "none"
    return f"{float(entry.value):g} {entry.unit.replace('¤', currency)}".strip()


def _pack(pack: Pack) -> dict[str, Any]:
    return {
        "reference": pack.reference,
        "title": pack.title,
        "day": day_of(pack).isoformat(),
        "engine": pack.engine,
        "basis": stated_basis(pack.basis),
    }


def _cloth(each: ClothChange, currency: str, touched: TouchedBy) -> dict[str, Any]:
    walked = each.walk
    return {
        "construction": each.cloth.code,
        "name": each.cloth.name,
        "variant": each.cloth.variant,
        "state": each.state,
        "pair_before": _key(each.before),
        "pair_after": _key(each.after),
        "before": each.before.value if each.before else None,
        "after": each.after.value if each.after else None,
        "difference": walked.difference if walked else None,
        "reason": each.reason,
        "season_metres": each.metres,
        "steps": [
            _step(step, each, currency, touched) for step in (walked.steps if walked else ())
        ],
    }


def _key(side: Side | None) -> str:
    return side.pair.key if side and side.pair else ""


def _step(step: Step, each: ClothChange, currency: str, touched: TouchedBy) -> dict[str, Any]:
    assert each.walk is not None
    return {
        "cause": step.cause,
        "label": CAUSES[step.cause].label,
        "amount": step.amount,
        "share_of_before": share_of(step.amount, each.walk.before),
        "total": step.total,
        "season_amount": each.season(step.amount),
        "offers": list(step.names),
        "notes": list(step.notes),
        "inputs": [_moved(moved, currency, touched) for moved in step.moved],
    }


def _moved(moved: Moved, currency: str, touched: TouchedBy) -> dict[str, Any]:
    entry = moved.entry
    return {
        "input": moved.name,
        "label": entry.label,
        "place": place_of(moved),
        "before": _entry(moved.before, currency),
        "after": _entry(moved.after, currency),
        "record": entry.where,
        "touched": _touched(touched.get(moved.after.where) if moved.after else None),
    }


def _entry(entry: Input | None, currency: str) -> dict[str, Any] | None:
    if entry is None:
        return None
    return {
        "value": float(entry.value),
        "unit": entry.unit.replace("¤", currency),
        "as_entered": entry.as_entered,
        "source": entry.source,
        "on": entry.on.isoformat() if entry.on else None,
    }


def _touched(touched: Touched | None) -> dict[str, Any] | None:
    if touched is None:
        return None
    return {
        "by": touched.person,
        "at": touched.at.isoformat(),
        "what": "entered" if touched.entered else "changed",
    }
