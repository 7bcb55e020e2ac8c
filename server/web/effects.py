"""What the yarns of a pair make of its cloth: effect, twist on twill, strips, core, width."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from server.actions.effects import DRAFT_NAMES, RIGID_LOSS_NAME
from server.core.assumptions import KINDS
from server.core.composition import Component, components_of, cost_key, key_of, label_percentages
from server.core.whole_pair import DraftEffect, WholePair, draft_effects
from server.web import addresses
from server.web.numbers import Writer
from server.web.opened import Links, Opened, figure_table, share_text
from server.web.strip import StripView, strip_view
from server.web.tables import Cell, Column, Row, Table
from server.web.twill import TwillView, twill_view
from server.web.width import WidthView, width_view


@dataclass(frozen=True, slots=True)
class YarnStrip:
    """The strip of one yarn of the pair. figures: what follows from its pattern, opened."""

    place: str
    code: str
    href: str
    process: str
    pattern: str
    strip: StripView
    figures: Table


@dataclass(frozen=True, slots=True)
class EffectsView:
    """Everything the part of the pair page about its yarns shows.

    effect: warp slub, crosshatch …; unpatterned: effect yarns whose pattern nobody entered
    """

    effect: str
    twill: TwillView
    strips: tuple[YarnStrip, ...]
    unpatterned: tuple[tuple[str, str, str], ...]
    composition: Table | None
    composition_notes: tuple[str, ...]
    core: Table | None
    core_missing: str
    drafts: Table | None
    width: WidthView | None


def effects_view(
    whole: WholePair, writer: Writer, links: Links, error: str = "", typed: str = ""
) -> EffectsView:
    """The views of a pair's yarns.

    error, typed: what is wrong with the width loss that was typed
    """
    effects = whole.effects
    missing = ""
    if effects.cored and effects.unpriced:
        names = ", ".join(KINDS[key].label for key in effects.unpriced)
        missing = f"The assumption set “{whole.comparison.assumptions.name}” has no price for: "
        missing += f"{names}. Enter it under Assumptions to see what the core costs."
    patterned = {member.slot.name for member in effects.patterned}
    return EffectsView(
        effect=whole.pair.effect,
        twill=twill_view(whole.twill),
        strips=tuple(
            YarnStrip(
                member.slot.name,
                member.offer.code,
                addresses.offer_path(member.offer.code),
                member.offer.yarn.process,
                member.offer.yarn.pattern.text,
                strip_view(member.offer.yarn.pattern, writer),
                pattern_table(whole, f"{member.slot.name}.pattern", writer, links),
            )
            for member in effects.patterned
            if member.offer.yarn.pattern is not None
        ),
        unpatterned=tuple(
            (each.slot.name, each.offer.code, f"{addresses.offer_path(each.offer.code)}#pattern")
            for each in whole.pair.members
            if each.offer.yarn.effect != "plain" and each.slot.name not in patterned
        ),
        composition=_composition(whole, writer, links) if effects.components else None,
        composition_notes=_composition_notes(whole),
        core=_core_table(whole, writer, links) if effects.cored and not effects.unpriced else None,
        core_missing=missing,
        drafts=_draft_table(whole, writer, links) if effects.cored else None,
        width=width_view(whole, writer, links.to, links.kept, error, typed)
        if effects.rigid is not None
        else None,
    )


PATTERN_FIGURES = (
    "added_mass", "average_multiplier", "average_ne", "base_ne", "repeat", "thick_per_metre",
    "thick_share",
)  # fmt: skip


def pattern_table(opened: Opened, at: str, writer: Writer, links: Links) -> Table:
    """What follows from a pattern; each figure opens."""
    keys = [f"{at}.{name}" for name in PATTERN_FIGURES]
    return figure_table(opened, "What the pattern makes of the yarn", keys, writer, links)


def _composition(whole: WholePair, writer: Writer, links: Links) -> Table:
    """Share by mass of each component, in each yarn and in the cloth."""
    members = whole.pair.members
    parts = whole.effects.components
    label = label_percentages(
        {part.key: whole.figures[f"cloth.{part.key}_share"] for part in parts}
    )
    rows = [
        Row(
            (
                Cell(part.name[:1].upper() + part.name[1:], strong=True),
                *(_of_yarn(whole, member.slot.name, part, writer, links) for member in members),
                _share(whole, f"cloth.{part.key}_share", writer, links),
                Cell(str(label[part.key])),
            ),
            key=part.key,
        )
        for part in parts
    ]
    whole_shares = (share_text(1.0, writer) for _ in range(len(members) + 1))
    rows.append(
        Row((Cell("Together", strong=True), *map(Cell, whole_shares), Cell("100")), key="together")
    )
    return Table(
        caption="Composition by mass of yarn, size, dye and finish left out",
        columns=(
            Column("component", "Component"),
            *(
                Column(
                    member.slot.name,
                    f"{member.slot.name.capitalize()} {member.offer.code}",
                    "%",
                    numeric=True,
                )
                for member in members
            ),
            Column("cloth", "Cloth", "%", numeric=True),
            Column("label", "Cloth, whole per cent", "%", numeric=True),
        ),
        rows=tuple(rows),
        empty="",
    )


def _of_yarn(whole: WholePair, at: str, part: Component, writer: Writer, links: Links) -> Cell:
    """The share of a component in one yarn; a fibre and a filament of one name stand together."""
    member = next(each for each in whole.pair.members if each.slot.name == at)
    met = [each for each in components_of(member.offer.yarn) if key_of(each.name) == part.key]
    if not met:
        return Cell("–")
    if len(met) == 1:
        return _share(whole, f"{at}.{met[0].key}_share", writer, links)
    total = sum(whole.figures[f"{at}.{each.key}_share"] for each in met)
    first = writer.text(whole.figures[f"{at}.{met[0].key}_share"], "share")
    return Cell(
        writer.text(total, "share"),
        href=links.to(f"{at}.{met[1].key}_share"),
        note=f"{first} in the sheath, the rest in the core",
    )


def _share(whole: WholePair, key: str, writer: Writer, links: Links) -> Cell:
    share = whole.figures[key]
    return Cell(share_text(share, writer), href=links.to(key))


def _composition_notes(whole: WholePair) -> tuple[str, ...]:
    notes = [
        f"The composition is not known: offer {member.offer.code} does not say denier and draft "
        "of its core and its count, or they cannot be true together."
        for member in whole.effects.unknown
    ]
    if whole.effects.components:
        notes.append(
            "The whole per cents are rounded by the largest remainder, so that they sum to 100: "
            "arithmetic, not a label. Rules of fibre labels differ by country; ask who signs it."
        )
    return tuple(notes)


def _core_table(whole: WholePair, writer: Writer, links: Links) -> Table:
    keys: list[str] = []
    for member in whole.effects.cored:
        at, yarn = member.slot.name, member.offer.yarn
        keys += [f"{at}.core{place}_cost" for place in range(1, len(yarn.cores) + 1)]
        keys += [cost_key(at, yarn), f"{at}.core_per_metre", f"{at}.core_part"]
    return figure_table(whole, "Cost of the core: an estimate", dict.fromkeys(keys), writer, links)


def _draft_table(whole: WholePair, writer: Writer, links: Links) -> Table:
    rows = [_draft_row(whole, each, writer, links) for each in draft_effects(whole)]
    return Table(
        caption="Effect of the draft; the yarn keeps its mass in the cloth",
        columns=(
            Column("draft", "Draft", "×"),
            Column("elastane", "Elastane in the yarn", "%", numeric=True),
            Column("cloth", "Elastane in the cloth", "%", numeric=True),
            Column("per_kg", "Core", writer.unit("¤/kg"), numeric=True, help="of yarn"),
            Column("per_metre", "Core", writer.unit("¤/m"), numeric=True, help="of finished cloth"),
            Column("more", "To the stated draft", writer.unit("¤/m"), numeric=True),
        ),
        rows=tuple(rows),
        empty="",
    )


def _draft_row(whole: WholePair, each: DraftEffect, writer: Writer, links: Links) -> Row:
    member = next(m for m in whole.effects.cored if m.slot.name == each.slot)
    yarn = member.offer.yarn
    elastane = next(part for part in components_of(yarn) if part.place == 1)
    asked = {} if each.stated else {f"draft_{each.slot}": f"{each.draft:g}"}

    def opened(key: str, text: str) -> Cell:
        return Cell(text, href=links.to(key, **asked), strong=each.stated)

    said = "as stated" if each.stated else "" if each.usual else "unusual"
    of_cloth, per_kg, per_metre, more = (
        each.elastane_of_cloth, each.per_kg, each.per_metre, each.more
    )  # fmt: skip
    return Row(
        (
            Cell(f"{each.slot.capitalize()} {each.draft:g}", note=said, strong=each.stated),
            opened(f"{each.slot}.{elastane.key}_share", share_text(each.elastane, writer)),
            Cell("–")
            if of_cloth is None
            else opened("cloth.elastane_share", share_text(of_cloth, writer)),
            Cell("–")
            if per_kg is None
            else opened(cost_key(each.slot, yarn), writer.text(per_kg, "¤/kg")),
            Cell("–")
            if per_metre is None
            else opened(f"{each.slot}.core_per_metre", writer.text(per_metre, "¤/m")),
            Cell("–" if more is None else writer.signed(more, "¤/m")),
        ),
        key=f"{each.slot}-{each.draft:g}",
        tone="reference" if each.stated else "",
    )


def kept_of(query: Mapping[str, str]) -> dict[str, str]:
    """The part of a query that says something about the yarns of a pair."""
    return {name: query[name] for name in (RIGID_LOSS_NAME, *DRAFT_NAMES) if query.get(name)}
