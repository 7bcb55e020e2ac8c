"""The fields of the change desk: what stands now beside what is asked for."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from server.actions.asked_change import FIELDS, SLOTS, AskedChange
from server.actions.change import Desk
from server.actions.change_words import slot_named, typed_unit, value_now
from server.actions.nouns import NOUNS, doubts, unit_of
from server.core.assumptions import KINDS
from server.core.costing import OWN, OWN_YARNS
from server.core.gate import POSSIBLE
from server.core.loom_behaviour import FROM_STOPS, STOPS_KEYS
from server.core.should_cost import ROUTE_OF
from server.web.forms import sound_numbers, values_of
from server.web.numbers import Writer, entered

MOST_CHOICES = 60  # offers in the list of a yarn


@dataclass(frozen=True, slots=True)
class ChangeField:
    """A field: what stands now, what is asked for, and what is wrong or doubtful with it."""

    name: str
    label: str
    unit: str
    now: str
    value: str
    options: tuple[tuple[str, str], ...]
    error: str
    doubt: str


@dataclass(frozen=True, slots=True)
class ChangeGroup:
    """Fields that belong together. open: whether the group is shown unfolded."""

    key: str
    title: str
    fields: tuple[ChangeField, ...]
    open: bool
    folds: bool


@dataclass(frozen=True)
class ChangeForm:
    """The groups of the form."""

    groups: tuple[ChangeGroup, ...]

    @cached_property
    def labels(self) -> dict[str, str]:
        """Field name -> label."""
        return {field.name: field.label for group in self.groups for field in group.fields}


def change_form(
    desk: Desk, asked: AskedChange, errors: Mapping[str, str], writer: Writer
) -> ChangeForm:
    """The form for what was asked."""
    typed = asked.query
    doubtful = doubts(
        NOUNS["constructions"], sound_numbers(NOUNS["constructions"], desk.asked.fields)
    )

    def cloth_field(name: str) -> ChangeField:
        info = NOUNS["constructions"].fields[name]
        return ChangeField(
            name,
            (info.title or name).replace(", loom to finished", ""),
            unit_of(info),
            entered(desk.stored.get(name)),
            typed.get(name, ""),
            _choices(values_of(info), entered(desk.stored.get(name))),
            errors.get(name, ""),
            doubtful.get(name, "") if name in asked.fields else "",
        )

    yarn_fields: list[ChangeField] = []
    for slot in SLOTS:
        if desk.stored.get(f"{slot}_ne") is None:
            continue
        yarn_fields += [
            cloth_field(f"{slot}_ne"),
            _yarn_field(desk, slot, typed, errors, writer),
            cloth_field(f"{slot}_spinning"),
            cloth_field(f"{slot}_twist"),
            *((cloth_field(f"{slot}_crimp_percent"),) if slot.startswith("warp") else ()),
            cloth_field(f"{slot}_waste_percent"),
        ]
    cloth = tuple(cloth_field(name) for name in FIELDS if name.partition("_")[0] not in SLOTS)
    return ChangeForm(
        (
            ChangeGroup("yarns", "Yarns", tuple(yarn_fields), True, False),
            ChangeGroup("cloth", "Threads, widths and weave", cloth, True, False),
            *_assumption_groups(desk, typed, errors),
        )
    )


def _choices(values: tuple[str, ...], now: str) -> tuple[tuple[str, str], ...]:
    """What may be chosen; the first leaves it as it is."""
    others = tuple((value, value) for value in values if value != now)
    return (("", f"as now: {now}"), *others) if values else ()


def _yarn_field(
    desk: Desk, slot: str, typed: Mapping[str, str], errors: Mapping[str, str], writer: Writer
) -> ChangeField:
    name = f"{slot}_yarn"
    direction = desk.directions["warp" if slot.startswith("warp") else "filling"]
    main = direction.slots[0].name == slot
    offers = sorted(
        direction.candidates if main else (),
        key=lambda each: (each.standing.state != POSSIBLE, each.price),
    )[:MOST_CHOICES]
    now = next((yarn.name for yarn in desk.before.yarns if yarn.slot.name == slot), "")
    chosen = typed.get(name, "")
    options = [
        ("", "as now, else the cheapest"),
        *(
            (
                each.offer.code,
                f"{each.offer.code} {each.offer.yarn.process}, "
                f"{writer.full(each.price, '¤/kg')}"
                + ("" if each.standing.state == POSSIBLE else f" ({each.standing.state})"),
            )
            for each in offers
        ),
        *((own, f"{own}, at should-cost") for own in OWN_YARNS),
    ]
    if chosen and chosen not in {value for value, _ in options}:
        options.append((chosen, chosen))
    return ChangeField(
        name, f"{slot_named(slot)} yarn", "", now, chosen, tuple(options), errors.get(name, ""), ""
    )


def _assumption_groups(
    desk: Desk, typed: Mapping[str, str], errors: Mapping[str, str]
) -> tuple[ChangeGroup, ...]:
    """Loom and finishing, and each route that a yarn of the change is spun by here."""
    routes = dict.fromkeys(
        ROUTE_OF[yarn.spinning] for yarn in desk.changed.swap.yarns if yarn.name.startswith(OWN)
    )
    titles = {"fabric": "Loom, dyeing and finishing", **{r: f"Own {r} spinning" for r in routes}}
    stored = desk.comparison.assumptions
    unused = () if desk.comparison.basis.loom_rule == FROM_STOPS else STOPS_KEYS
    found = []
    for group, title in titles.items():
        fields = tuple(
            ChangeField(
                kind.key,
                kind.label,
                typed_unit(kind, desk.comparison.assumption_currency or "¤"),
                value_now(kind, stored.values[kind.key]),
                typed.get(kind.key, ""),
                (),
                errors.get(kind.key, ""),
                desk.doubts.get(kind.key, ""),
            )
            for kind in KINDS.values()
            if kind.group == group and stored.has(kind.key) and kind.key not in unused
        )
        used = any(field.value for field in fields)
        found.append(ChangeGroup(group, title, fields, used or group != "fabric", True))
    return tuple(found)
