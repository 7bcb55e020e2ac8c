"""Slub, core, twist and width: a pair with everything particular about its yarns, and patterns."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from server.actions.book import current_book
from server.actions.nouns import NOUNS
from server.actions.records import change_record, one_record
from server.core.compare import Comparison, Pair, compare
from server.core.effects import effects_of, yarn_part
from server.core.errors import BadValue, NotFound
from server.core.offer import Offer
from server.core.sheet import Explanation, Input, Sheet
from server.core.stretch_width import rigid_width
from server.core.twist_cost import TwistCost, twist_costs, twist_questions, without_asking
from server.core.whole_pair import MOST_DRAFT, WholePair
from server.store.session import Engine

YARN = "yarn"  # beginning of the keys of one offered yarn
RIGID_LOSS_NAME = "rigid_loss"
DRAFT_NAMES = tuple(f"draft_{slot}" for slot in ("warp", "warp2", "filling", "filling2"))
NAMES = (RIGID_LOSS_NAME, *DRAFT_NAMES)
"""What an address may say about the yarns of a pair."""


def whole_pair(
    engine: Engine, comparison: Comparison, pair: Pair, asked: Mapping[str, str]
) -> WholePair:
    """A pair with the figures of its effects, core and width.

    asked: texts of NAMES; others are left alone. Raises BadValue for one that is not understood.
    """
    rigid = rigid_width(current_book(engine).constructions, asked.get(RIGID_LOSS_NAME, ""))
    drafts = {
        name.removeprefix("draft_"): _draft(name, asked[name])
        for name in DRAFT_NAMES
        if asked.get(name, "").strip()
    }
    return WholePair.of(comparison, pair, effects_of(comparison, pair, rigid, drafts))


def _draft(name: str, text: str) -> float:
    try:
        draft = float(text) if len(text) <= 20 and "_" not in text else 0.0
    except ValueError:
        draft = 0.0
    if not 1 <= draft <= MOST_DRAFT:
        raise BadValue(
            f"“{text[:20]}” is no draft of a core.",
            field=name,
            value=text,
            unit="×",
            remedy=f"Enter a ratio of speeds from 1 to {MOST_DRAFT:g}, such as 3.5.",
        )
    return draft


def costs_of_twist(engine: Engine, comparison: Comparison) -> tuple[TwistCost, ...]:
    """What each twist costs in a comparison, worked out once."""
    found: tuple[TwistCost, ...] | None = comparison.__dict__.get("_costs_of_twist")
    if found is None:
        found = _costs_of_twist(engine, comparison)
        comparison.__dict__["_costs_of_twist"] = found
    return found


def _costs_of_twist(engine: Engine, comparison: Comparison) -> tuple[TwistCost, ...]:
    construction = comparison.construction
    if not twist_questions(construction):
        return ()
    without = without_asking(construction)
    if without == construction:
        return twist_costs(construction, comparison)
    book = current_book(engine)
    again = compare(
        without,
        comparison.basis,
        comparison.assumptions,
        book.rates,
        book.current_offers,
        book.limits,
    )
    return twist_costs(construction, again)


@dataclass(frozen=True)
class OfferedYarn:
    """Pattern and composition of one offered yarn, outside any cloth."""

    offer: Offer
    sheet: Sheet
    inputs: Mapping[str, Input]
    figures: Mapping[str, float]

    def explain(self, line: str) -> Explanation:
        """One figure, opened. Raises NotFound."""
        if line not in self.sheet.by_key:
            raise NotFound(
                f"There is no figure “{line[:40]}” of this yarn.",
                field="line",
                value=line,
                remedy="Open a figure from the offer's page.",
            )
        return self.sheet.explain(line, self.inputs)


def offered_yarn(offer: Offer) -> OfferedYarn:
    """The figures of one offered yarn."""
    sheet, inputs = yarn_part(YARN, offer)
    values = {name: float(entry.value) for name, entry in inputs.items()}
    figures = {key: float(value) for key, value in sheet.evaluate(values).items()}
    return OfferedYarn(offer, sheet, inputs, figures)


def change_pattern(engine: Engine, code: str, text: str, version: int, person_id: int) -> None:
    """Enter, change or remove the pattern of an offered yarn; the history keeps what was there.

    text: one repeat as `read_pattern` takes it; blank removes it
    Raises Refused, Conflict, NotFound.
    """
    noun = NOUNS["offers"]
    kept = one_record(engine, noun, code)
    given = {**kept.values, "pattern": text.strip()}
    change_record(engine, noun, code, given, version, person_id)
