"""A pair with its whole sheet, and what another draft of its elastane would make of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from server.core.compare import Comparison, Pair
from server.core.composition import ELASTANE, components_of, cost_key, key_of
from server.core.doubts import USUAL_DRAFT
from server.core.effects import Effects, sheet_with_effects
from server.core.errors import NotFound
from server.core.sheet import Explanation, Input, Sheet
from server.core.twill import TwistOnTwill, twist_on_twill

DRAFT_STEPS = (-0.6, -0.3, 0.0, 0.3, 0.6)
MOST_DRAFT = 8.0


@dataclass(frozen=True)
class WholePair:
    """A pair with its whole sheet: prices, cloth, cost, and what its yarns make of the cloth."""

    comparison: Comparison
    pair: Pair
    effects: Effects
    sheet: Sheet
    inputs: Mapping[str, Input]
    figures: Mapping[str, float]

    @classmethod
    def of(cls, comparison: Comparison, pair: Pair, effects: Effects) -> WholePair:
        """The pair evaluated with the lines of its effects."""
        sheet, inputs = sheet_with_effects(comparison, pair, effects)
        values = {name: float(entry.value) for name, entry in inputs.items()}
        figures = {key: float(value) for key, value in sheet.evaluate(values).items()}
        return cls(comparison, pair, effects, sheet, inputs, figures)

    @property
    def twill(self) -> TwistOnTwill:
        """The twist of the main warp yarn on the twill."""
        construction = self.comparison.construction
        twist = self.pair.warp.offer.yarn.twist
        return twist_on_twill(construction.weave, construction.twill_hand, twist)

    def explain(self, line: str) -> Explanation:
        """One figure, opened. Raises NotFound when the pair has no such figure."""
        if line not in self.sheet.by_key:
            raise NotFound(
                f"There is no figure “{line[:40]}” on this pair.",
                field="line",
                value=line,
                remedy="Open a figure from the pair page.",
            )
        return self.sheet.explain(line, self.inputs)


@dataclass(frozen=True, slots=True)
class DraftEffect:
    """What another draft of the elastane would make of a yarn and of the cloth.

    elastane, elastane_of_cloth: [share]; per_kg: core in a kilogram of yarn [¤/kg]
    per_metre, more: core in a metre of cloth, and its difference to the stated draft [¤/m]
    """

    slot: str
    draft: float
    stated: bool
    usual: bool
    elastane: float
    elastane_of_cloth: float | None
    per_kg: float | None
    per_metre: float | None
    more: float | None


def draft_effects(whole: WholePair) -> tuple[DraftEffect, ...]:
    """Drafts around that of each elastane core; the mass of the yarn in the cloth is kept."""
    found = []
    values = {name: float(entry.value) for name, entry in whole.inputs.items()}
    for member in whole.effects.cored:
        at, yarn = member.slot.name, member.offer.yarn
        elastane = next(each for each in components_of(yarn) if each.place == 1)
        keys = (
            f"{at}.{elastane.key}_share",
            f"cloth.{key_of(ELASTANE)}_share",
            cost_key(at, yarn),
            f"{at}.core_per_metre",
        )
        known = [key for key in keys if key in whole.sheet.by_key]
        stated = yarn.cores[0].draft
        for step in DRAFT_STEPS:
            draft = round(stated + step, 4)
            if not 1 <= draft <= MOST_DRAFT:
                continue
            now = whole.sheet.evaluate({**values, f"{at}.core1_draft": draft}, known)
            share, of_cloth, per_kg, per_metre = (
                float(now[key]) if key in known else None for key in keys
            )
            found.append(
                DraftEffect(
                    at,
                    draft,
                    step == 0,
                    USUAL_DRAFT[0] <= draft <= USUAL_DRAFT[1],
                    share or 0.0,
                    of_cloth,
                    per_kg,
                    per_metre,
                    None if per_metre is None else per_metre - whole.figures[keys[3]],
                )
            )
    return tuple(found)
