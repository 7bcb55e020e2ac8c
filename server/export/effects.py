"""Effects, core, twist and width of a pair as data; its figures stand in the pair's own sheet."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from server.core.composition import components_of, label_percentages
from server.core.twist_cost import TwistCost
from server.core.whole_pair import WholePair, draft_effects
from server.export.columns import PAIR_COLUMNS, as_record


def effects_document(whole: WholePair) -> dict[str, Any]:
    """What the yarns of a pair make of its cloth."""
    twill, rigid = whole.twill, whole.effects.rigid
    label = _label(whole)
    return {
        "effect": whole.pair.effect,
        "patterns": {
            member.slot.name: member.offer.yarn.pattern.text
            for member in whole.effects.patterned
            if member.offer.yarn.pattern is not None
        },
        "twist_on_twill": {
            "hand": twill.hand,
            "twist": twill.twist or "unknown",
            "relation": twill.relation or None,
            "sentence": twill.sentence,
        },
        "composition": {
            "of": "mass of yarn; size, dye and finish left out",
            "cloth": [
                {
                    "component": each.name,
                    "share": whole.figures[f"cloth.{each.key}_share"],
                    "whole_percent": label[each.key],
                }
                for each in whole.effects.components
            ],
            "yarns": {
                member.slot.name: [
                    {
                        "component": each.name,
                        "filament": each.place or None,
                        "share": whole.figures[f"{member.slot.name}.{each.key}_share"],
                    }
                    for each in components_of(member.offer.yarn)
                ]
                for member in (whole.pair.members if whole.effects.components else ())
            },
            "unknown": [member.offer.code for member in whole.effects.unknown],
        },
        "drafts": [
            {
                "slot": each.slot,
                "draft": each.draft,
                "stated": each.stated,
                "elastane_share_of_yarn": each.elastane,
                "elastane_share_of_cloth": each.elastane_of_cloth,
                "core_per_kg": each.per_kg,
                "core_per_metre": each.per_metre,
                "more_per_metre": each.more,
            }
            for each in draft_effects(whole)
        ],
        "core_cost_needs": list(whole.effects.unpriced),
        "rigid_width_loss": {"share": rigid.loss, "source": rigid.source} if rigid else None,
    }


def effects_rows(whole: WholePair) -> list[list[Any]]:
    """The same as rows of the CSV of a pair: key, figure, value, unit."""
    label, twill = _label(whole), whole.twill
    rows: list[list[Any]] = [
        ["effect", "Effect in the cloth", whole.pair.effect, ""],
        ["twist_on_twill", twill.sentence, twill.relation, ""],
    ]
    rows += [
        [f"cloth.{each.key}_percent", f"{each.name}, whole per cent of the cloth",
         label[each.key], "%"]
        for each in whole.effects.components
    ]  # fmt: skip
    for each in draft_effects(whole):
        at = f"{each.slot} at draft {each.draft:g}"
        key = f"{each.slot}.draft_{each.draft:g}"
        rows.append([f"{key}.elastane", f"Elastane, {at}", each.elastane, "share"])
        if each.per_metre is not None:
            rows.append([f"{key}.per_metre", f"Core, {at}", each.per_metre,
                         f"{whole.comparison.basis.currency}/m"])  # fmt: skip
    return rows


def twist_costs_document(costs: Iterable[TwistCost]) -> list[dict[str, Any]]:
    """What each twist costs in a comparison."""
    return [
        {
            "twist": each.twist,
            "places": list(each.places),
            "asked": each.asked,
            "pair": as_record(PAIR_COLUMNS, each.pair) if each.pair else None,
            "without": as_record(PAIR_COLUMNS, each.without) if each.without else None,
            "yarn_cost_more": each.more("yarn_cost"),
            "fabric_cost_more": each.more("fabric_cost"),
            "reason": each.reason,
        }
        for each in costs
    ]


def _label(whole: WholePair) -> dict[str, int]:
    return label_percentages(
        {each.key: whole.figures[f"cloth.{each.key}_share"] for each in whole.effects.components}
    )
