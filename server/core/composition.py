"""What a yarn and a cloth are made of, by mass: sheath fibres, elastane, second filament.

Sheath fibres come from the fibre mix, filaments from their denier and draft. Shares are of yarn
mass: size, dye and finish are left out. A blend stated by mass is taken as the blend of the sheath.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from server.core import fabric as cloth
from server.core.conversion import yarn_cost
from server.core.counts import tex_of_two
from server.core.formula import formula
from server.core.offer import Offer, Yarn
from server.core.quantities import GramPerMetre, MoneyPerKg, PricePerKg, Share, SignedShare
from server.core.sheet import Input, Line
from server.core.units import tex_from_ne
from server.core.yarn import core_share, core_tex, total_tex_from_sheath

ELASTANE, SECOND = "elastane", "second filament"
_FILAMENTS = ("bicomponent polyester", "polyester", "polyamide", "nylon", "polypropylene")
_NOT_FIBRE = re.compile(r"\b(dual[\s-]?core|core[\s-]?spun|core|yarn|mix)\b", re.IGNORECASE)


@formula(source="definition: shares of the same mass add")
def sum_of_shares(*, first_share: Share, second_share: Share) -> Share:
    """Two shares of the same mass together.

    first_share: one share [share]
    second_share: the other [share]
    """
    return first_share + second_share


@formula(source="definition: what the core leaves of the whole yarn")
def sheath_share(*, core_share_in_all: Share) -> Share:
    """Share of the fibre sheath in the mass of the yarn.

    core_share_in_all: share of all filaments of the core [share]
    """
    return 1 - core_share_in_all


@formula(source="definition: a share of a share")
def share_of_share(*, share_of_part: Share, share_in_part: Share) -> Share:
    """Share of a fibre in the whole yarn.

    share_of_part: share of the sheath in the yarn [share]
    share_in_part: share of the fibre in the sheath [share]
    """
    return share_of_part * share_in_part


@formula(source="definition: mass times share")
def component_mass(*, mass_in_cloth: GramPerMetre, share_in_yarn: Share) -> GramPerMetre:
    """One component of a yarn in a metre of finished cloth.

    mass_in_cloth: the yarn in one metre [g/m]
    share_in_yarn: share of the component in the yarn [share]
    """
    return mass_in_cloth * share_in_yarn


@formula(source="definition of the mass share")
def share_of_yarns(*, component_in_cloth: GramPerMetre, yarns_in_cloth: GramPerMetre) -> Share:
    """Share of a component in the yarns of a cloth; size, dye and finish left out.

    component_in_cloth: the component in one metre [g/m]
    yarns_in_cloth: all yarns in one metre, above zero [g/m]
    """
    return component_in_cloth / yarns_in_cloth


@formula(source="definition: a filament is neither lost nor lengthened in mass by its draft")
def filament_cost(*, filament_share: Share, filament_price: PricePerKg) -> MoneyPerKg:
    """Cost of a core filament in a kilogram of yarn.

    filament_share: share of the filament in the yarn [share]
    filament_price: price of the filament as fed [¤/kg]
    Limits: no waste of filament, and no difference of regain between filament and yarn.
    """
    return filament_share * filament_price


@formula(source="definition: costs of the same kilogram add")
def sum_of_filament_costs(*, first_cost: MoneyPerKg, second_cost: MoneyPerKg) -> MoneyPerKg:
    """Two filaments of one core together.

    first_cost: cost of the one in a kilogram of yarn [¤/kg]
    second_cost: cost of the other [¤/kg]
    """
    return first_cost + second_cost


@formula(source="definition: a part of a price")
def core_part_of_price(*, core_cost: MoneyPerKg, yarn_price: PricePerKg) -> SignedShare:
    """What the filaments of the core are of the price of the yarn.

    core_cost: cost of the core in a kilogram of yarn [¤/kg]
    yarn_price: same-basis price of the yarn, above zero [¤/kg]
    """
    return core_cost / yarn_price


@dataclass(frozen=True, slots=True)
class Component:
    """One fibre or filament. key: its part of the keys; place: filament 1 or 2, 0 for fibre."""

    key: str
    name: str
    place: int = 0
    share_of_sheath: float = 1.0


def key_of(name: str) -> str:
    """A name as a part of a key."""
    return re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_") or "fibre"


def sheath_fibres(fibre_mix: str) -> tuple[tuple[str, float], ...]:
    """(fibre, share of the sheath) from a fibre mix such as `50/50 polyester/cotton`.

    Shares that are not said, or do not sum to 100, leave the mix as one component of its own name.
    """
    mix = " ".join(_NOT_FIBRE.sub(" ", fibre_mix).split()) or fibre_mix.strip() or "fibre"
    parts = re.fullmatch(r"(\d+(?:\.\d+)?(?:/\d+(?:\.\d+)?)+) (.+)", mix)
    if parts:
        shares = [Fraction(each) for each in parts[1].split("/")]
        names = [name.strip() for name in parts[2].split("/")]
    else:
        said = re.findall(r"(\d+(?:\.\d+)?) ?% ?([^\d,;/+%]+)", mix)
        shares, names = [Fraction(share) for share, _ in said], [name.strip() for _, name in said]
    whole = len(names) == len(set(map(key_of, names))) == len(shares) and all(names)
    if not names or not whole or sum(shares) != 100:
        return ((mix, 1.0),)
    return tuple((name, float(share / 100)) for name, share in zip(names, shares, strict=True))


def components_of(yarn: Yarn) -> tuple[Component, ...]:
    """The fibres of a yarn, then the filaments of its core.

    None when the core is not described, or would be heavier than the whole yarn.
    """
    found = [Component(key_of(name), name, 0, part) for name, part in sheath_fibres(yarn.fibre_mix)]
    if yarn.core == "none":
        return tuple(found)
    whole = None if yarn.average_ne is None else tex_from_ne(ne=yarn.average_ne)
    described = len(yarn.cores) == (2 if yarn.core == "dual core" else 1)
    if not described or whole is None or sum(core.tex for core in yarn.cores) >= whole:
        return ()
    for place, _ in enumerate(yarn.cores, start=1):
        name = ELASTANE if place == 1 else _second_name(yarn)
        found.append(Component(f"core{place}_{key_of(name)}", name, place))
    return tuple(found)


def _second_name(yarn: Yarn) -> str:
    """The second filament by the seller's own word for it."""
    said = yarn.description.lower()
    return next((name for name in _FILAMENTS if name in said), SECOND)


def composition_lines(at: str, yarn: Yarn) -> list[Line]:
    """From denier, draft and count to the share of each component; none without a known core.

    at: beginning of the keys, such as `filling`
    """
    components = components_of(yarn)
    if not components:
        return []
    filaments = [each for each in components if each.place]
    lines = [
        Line(
            f"{at}.core{each.place}_tex",
            core_tex,
            {"core_denier": f"{at}.core{each.place}_denier",
             "core_draft": f"{at}.core{each.place}_draft"},
            f"{each.name.capitalize()} in the yarn",
        )
        for each in filaments
    ]  # fmt: skip
    if filaments:
        core = f"{at}.core1_tex"
        if len(filaments) == 2:
            feeds = {"first_tex": f"{at}.core1_tex", "second_tex": f"{at}.core2_tex"}
            core = f"{at}.core_tex"
            lines.append(Line(core, tex_of_two, feeds, "Both filaments"))
        lines.append(
            Line(f"{at}.whole_tex", total_tex_from_sheath,
                 {"sheath_ne": f"{at}.sheath_ne", "core_tex": core}, "The whole yarn")
            if yarn.count_basis == "sheath"
            else Line(f"{at}.whole_tex", tex_from_ne, {"ne": f"{at}.average_ne"}, "The whole yarn")
        )  # fmt: skip
    for each in filaments:
        feeds = {"core_tex": f"{at}.core{each.place}_tex", "total_tex": f"{at}.whole_tex"}
        lines.append(Line(f"{at}.{each.key}_share", core_share, feeds, f"{_cap(each)} in the yarn"))
    if filaments:
        all_of_it = f"{at}.{filaments[0].key}_share"
        if len(filaments) == 2:
            feeds = {"first_share": all_of_it, "second_share": f"{at}.{filaments[1].key}_share"}
            all_of_it = f"{at}.core_share"
            lines.append(Line(all_of_it, sum_of_shares, feeds, "The whole core in the yarn"))
        feeds = {"core_share_in_all": all_of_it}
        lines.append(Line(f"{at}.sheath_share", sheath_share, feeds, "The sheath in the yarn"))
    for each in components:
        if not each.place:
            feeds = {"share_of_part": f"{at}.sheath_share",
                     "share_in_part": f"{at}.{each.key}_of_sheath"}  # fmt: skip
            label = f"{_cap(each)} in the yarn"
            lines.append(Line(f"{at}.{each.key}_share", share_of_share, feeds, label))
    return lines


def composition_inputs(at: str, offer: Offer) -> dict[str, Input]:
    """What feeds the lines of composition: the yarn as the seller describes it."""
    yarn, where = offer.yarn, f"/offers/{offer.code}"

    def said(value: float, label: str, unit: str, as_entered: str = "") -> Input:
        source = f"offer {offer.code}"
        return Input(value, label, unit, source, offer.quoted_on, as_entered, where)

    found: dict[str, Input] = {}
    components = components_of(yarn)
    for each in components:
        if each.place:
            core = yarn.cores[each.place - 1]
            key = f"{at}.core{each.place}"
            found[f"{key}_denier"] = said(core.denier, f"{_cap(each)} as fed", "den")
            found[f"{key}_draft"] = said(core.draft, f"Draft of the {each.name}", "×")
        else:
            label = f"{_cap(each)} in the sheath"
            found[f"{at}.{each.key}_of_sheath"] = said(
                each.share_of_sheath, label, "share", yarn.fibre_mix
            )
    if not any(each.place for each in components):
        found[f"{at}.sheath_share"] = said(1.0, "No core: all is sheath", "share")
    elif yarn.count_basis == "sheath":
        found[f"{at}.sheath_ne"] = said(
            yarn.quoted_ne or 0.0, "Count of the sheath", "Ne", yarn.count_text
        )
    else:
        found[f"{at}.average_ne"] = said(
            yarn.average_ne or 0.0, "Count of the whole yarn", "Ne", yarn.count_text
        )
    return found


def cloth_lines(
    members: Sequence[tuple[str, Yarn]], warp_mass: str, filling_mass: str
) -> tuple[list[Line], tuple[Component, ...]]:
    """Share of each component in the yarns of a cloth, and the components met.

    members: (slot, yarn) of the pair; fibres of one name count together
    warp_mass, filling_mass: keys of the mass of each direction
    """
    met: dict[str, tuple[Component, list[tuple[str, str]]]] = {}
    lines: list[Line] = []
    for at, yarn in members:
        components = components_of(yarn)
        if not components:
            return [], ()
        for each in components:
            key = f"{at}.{each.key}_mass"
            feeds = {"mass_in_cloth": f"{at}.mass", "share_in_yarn": f"{at}.{each.key}_share"}
            label = f"{_cap(each)} of the {at}"
            lines.append(Line(key, component_mass, feeds, label))
            met.setdefault(key_of(each.name), (each, []))[1].append((at, key))
    feeds = {"first_mass": warp_mass, "second_mass": filling_mass}
    lines.append(Line("cloth.yarns", cloth.sum_of_masses, feeds, "All yarns in the cloth"))
    found = []
    for name_key, (each, parts) in met.items():
        total = parts[0][1]
        for place, (_, part) in enumerate(parts[1:], start=2):
            summed = f"cloth.{name_key}" if place == len(parts) else f"cloth.{name_key}{place}"
            feeds = {"first_mass": total, "second_mass": part}
            lines.append(Line(summed, cloth.sum_of_masses, feeds, f"{_cap(each)} in the cloth"))
            total = summed
        feeds = {"component_in_cloth": total, "yarns_in_cloth": "cloth.yarns"}
        label = f"{_cap(each)}, share of the cloth"
        lines.append(Line(f"cloth.{name_key}_share", share_of_yarns, feeds, label))
        found.append(Component(name_key, each.name, each.place))
    return lines, tuple(found)


PRICES = {1: "core.elastane_price", 2: "core.second_filament_price"}


def core_cost_lines(at: str, yarn: Yarn) -> list[Line]:
    """Cost of the filaments in a kilogram of yarn and in a metre of cloth; none without a core."""
    filaments = [each for each in components_of(yarn) if each.place]
    if not filaments:
        return []
    lines = []
    for each in filaments:
        feeds = {"filament_share": f"{at}.{each.key}_share",
                 "filament_price": PRICES[each.place].replace("core.", "core_")}  # fmt: skip
        label = f"{_cap(each)} in a kilogram of yarn"
        lines.append(Line(f"{at}.core{each.place}_cost", filament_cost, feeds, label))
    whole = f"{at}.core1_cost"
    if len(filaments) == 2:
        feeds = {"first_cost": f"{at}.core1_cost", "second_cost": f"{at}.core2_cost"}
        whole = f"{at}.core_cost"
        lines.append(Line(whole, sum_of_filament_costs, feeds, "Core in a kilogram of yarn"))
    feeds = {"mass_to_buy": f"{at}.buy", "same_basis_price": whole}
    lines.append(Line(f"{at}.core_per_metre", yarn_cost, feeds, "Core in a metre of cloth"))
    feeds = {"core_cost": whole, "yarn_price": f"{at}.same_basis_price"}
    label = "Core, part of the yarn price"
    return [*lines, Line(f"{at}.core_part", core_part_of_price, feeds, label)]


def cost_key(at: str, yarn: Yarn) -> str:
    """Key of the cost of the whole core in a kilogram of yarn."""
    return f"{at}.core1_cost" if len(yarn.cores) == 1 else f"{at}.core_cost"


def label_percentages(shares: Mapping[str, float]) -> dict[str, int]:
    """Shares as whole percentages, rounded so that they still sum to 100.

    shares: of one whole, so that they sum to one but for rounding; may be empty
    Largest remainder: each is rounded down, and what is missing goes to the largest remainders.
    """
    exact = {key: Fraction(share) for key, share in shares.items()}
    whole = sum(exact.values())
    percent = {key: share * 100 / whole for key, share in exact.items()}
    down = {key: math.floor(each) for key, each in percent.items()}
    remainders = sorted(percent, key=lambda key: down[key] - percent[key])
    for key in remainders[: 100 - sum(down.values())]:
        down[key] += 1
    return down


def _cap(component: Component) -> str:
    return component.name[:1].upper() + component.name[1:]
