"""What is particular about the yarns of a pair: effect, core, width taken; as lines of its sheet.

The lines join the sheet of the pair, so that page, JSON, CSV, API and explanations have them alike.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from server.core.candidates import Candidate
from server.core.compare import Comparison, Pair
from server.core.composition import (
    PRICES,
    Component,
    cloth_lines,
    components_of,
    composition_inputs,
    composition_lines,
    core_cost_lines,
)
from server.core.offer import Offer, Yarn
from server.core.pair import total_key
from server.core.sheet import Input, Line, Sheet
from server.core.stretch_width import (
    RigidWidth,
    is_rigid,
    refuse_too_narrow,
    width_input,
    width_lines,
)

NO_RIGID = RigidWidth(None, "not asked")


@dataclass(frozen=True)
class Effects:
    """The lines that the yarns of a pair add to its sheet, and what they are about.

    patterned: members whose pattern is known; cored: members with a described core
    components: what the cloth is made of, when that is more than one thing and known
    unknown: members whose core is not described, so that the composition is not known
    unpriced: keys of assumptions that the cost of the core still needs
    rigid: width loss of a rigid cloth; None when the cloth is no stretch cloth
    """

    lines: tuple[Line, ...]
    inputs: Mapping[str, Input]
    patterned: tuple[Candidate, ...]
    cored: tuple[Candidate, ...]
    components: tuple[Component, ...]
    unknown: tuple[Candidate, ...]
    unpriced: tuple[str, ...]
    rigid: RigidWidth | None

    @property
    def has_width(self) -> bool:
        """Whether the cost of the width can be told."""
        return self.rigid is not None and self.rigid.loss is not None


def is_stretch(comparison: Comparison, pair: Pair) -> bool:
    """Whether the cloth of a pair stretches: it is asked to, or a yarn has a core."""
    cored = any(member.offer.yarn.core != "none" for member in pair.members)
    return cored or not is_rigid(comparison.construction)


def effects_of(
    comparison: Comparison,
    pair: Pair,
    rigid: RigidWidth = NO_RIGID,
    drafts: Mapping[str, float] | None = None,
) -> Effects:
    """Everything particular about the yarns of a pair.

    rigid: width loss of a rigid cloth; drafts: slot -> draft of its elastane instead of the stated
    Raises BadValue when the width loss leaves nothing to cut.
    """
    construction = comparison.construction
    lines: list[Line] = []
    inputs: dict[str, Input] = {}
    patterned = tuple(each for each in pair.members if each.offer.yarn.pattern is not None)
    for member in patterned:
        of_pattern, fed = pattern_part(f"{member.slot.name}.pattern", member.offer)
        lines += of_pattern
        inputs |= fed
    members = tuple(_with_draft(each, (drafts or {}).get(each.slot.name)) for each in pair.members)
    slots = [(each.slot.name, each.offer.yarn) for each in members]
    totals = [total_key(construction, name, "mass") for name in ("warp", "filling")]
    in_cloth, components = cloth_lines(slots, totals[0], totals[1])
    cored = tuple(each for each in members if any(c.place for c in components_of(each.offer.yarn)))
    whole = len(components) > 1
    for member in members if whole else cored:
        lines += composition_lines(member.slot.name, member.offer.yarn)
        inputs |= composition_inputs(member.slot.name, member.offer)
    if whole:
        lines += in_cloth
    unpriced = _unpriced(comparison, cored)
    if not unpriced:
        for member in cored:
            lines += core_cost_lines(member.slot.name, member.offer.yarn)
        for key in _prices(cored):
            inputs[key.replace(".", "_")] = comparison.assumptions.input(key)
    stretches = is_stretch(comparison, pair)
    if stretches and rigid.loss is not None:
        refuse_too_narrow(construction, rigid)
        lines += width_lines(construction)
        inputs |= width_input(rigid)
    return Effects(
        tuple(lines),
        inputs,
        patterned,
        cored,
        components if whole else (),
        tuple(each for each in members if not components_of(each.offer.yarn)),
        unpriced,
        rigid if stretches else None,
    )


def pattern_part(at: str, offer: Offer) -> tuple[list[Line], dict[str, Input]]:
    """Lines and inputs of a yarn's pattern; both empty without one."""
    yarn, where = offer.yarn, f"/offers/{offer.code}"
    if yarn.pattern is None:
        return [], {}
    known = known_count(yarn)
    lines = yarn.pattern.lines(at, known)
    inputs = yarn.pattern.inputs(at, f"pattern of offer {offer.code}", where)
    if known:
        inputs[f"{at}.quoted_ne"] = Input(
            yarn.quoted_ne,
            f"{known.capitalize()} count as quoted",
            "Ne",
            f"offer {offer.code}",
            offer.quoted_on,
            yarn.count_text,
            where,
        )
    return lines, inputs


def known_count(yarn: Yarn) -> str:
    """Which count the quoted figure is for a pattern: "average", "base", or "" when it is none."""
    if yarn.quoted_ne is None:
        return ""
    return {"base": "base", "average": "average", "total": "average"}.get(yarn.count_basis, "")


def yarn_part(at: str, offer: Offer) -> tuple[Sheet, dict[str, Input]]:
    """The pattern and the composition of one offered yarn alone, outside any cloth."""
    lines, inputs = pattern_part(f"{at}.pattern", offer)
    if any(each.place for each in components_of(offer.yarn)):
        lines += composition_lines(at, offer.yarn)
        inputs |= composition_inputs(at, offer)
    return Sheet(tuple(lines)), inputs


def sheet_with_effects(
    comparison: Comparison, pair: Pair, effects: Effects
) -> tuple[Sheet, dict[str, Input]]:
    """The whole sheet of a pair, from quoted prices to what its yarns make of the cloth."""
    sheet, inputs = comparison.sheet_of(pair)
    return sheet.with_lines(*effects.lines), {**inputs, **effects.inputs}


def _with_draft(member: Candidate, draft: float | None) -> Candidate:
    """A member whose elastane has another draft than the seller said."""
    yarn = member.offer.yarn
    if draft is None or not yarn.cores:
        return member
    cores = (replace(yarn.cores[0], draft=draft), *yarn.cores[1:])
    return replace(member, offer=replace(member.offer, yarn=replace(yarn, cores=cores)))


def _prices(cored: Iterable[Candidate]) -> tuple[str, ...]:
    places = {c.place for each in cored for c in components_of(each.offer.yarn) if c.place}
    return tuple(PRICES[place] for place in sorted(places))


def _unpriced(comparison: Comparison, cored: Iterable[Candidate]) -> tuple[str, ...]:
    return tuple(key for key in _prices(cored) if not comparison.assumptions.has(key))
