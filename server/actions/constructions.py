"""A construction in its two states, computed with the yarns wanted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from server.actions.book import current_book
from server.core.calibration import straight_mass
from server.core.cloth_states import STARTING_VALUE
from server.core.construction import WEAVES, Construction
from server.core.errors import NotFound
from server.core.fabric import diameters_per_inch, highest_sett, mass_ratio
from server.core.how_close import HEAVY, LIGHT
from server.core.pair import cloth_sheet, construction_inputs
from server.core.sheet import Explanation, Input, Sheet
from server.store.session import Engine

PEIRCE = 28.0  # F. T. Peirce 1937, the diameter constant of the cotton system


@dataclass(frozen=True)
class Cloth:
    """A construction with the figures of its cloth."""

    construction: Construction
    sheet: Sheet
    inputs: Mapping[str, Input]
    figures: Mapping[str, float]

    @property
    def straight_ratio(self) -> float:
        """Weight over the mass of its straight yarn, finished threads [×]."""
        return float(
            mass_ratio(
                mass_per_area=self.figures["mass_per_area"],
                reference_mass_per_area=straight_mass(self.construction),
            )
        )

    @property
    def doubts(self) -> tuple[str, ...]:
        """What a trial piece should settle."""
        found = []
        ratio = self.straight_ratio
        if not LIGHT <= ratio <= HEAVY:
            found.append(
                f"The weight is {ratio:.2f} times the straight yarn; {LIGHT:.2f} to {HEAVY:.2f} is "
                "usual. Check counts, threads and the state they were counted in."
            )
        if any(slot.crimp_from == STARTING_VALUE for slot in self.construction.slots):
            found.append(
                "The warp crimp is a starting value from picks and filling count (Taylor 1909), "
                "since nothing is measured. Measure a piece before the weight is sold."
            )
        for direction in ("warp", "filling"):
            cover = self.figures[f"{direction}_cover"]
            if cover > PEIRCE:
                found.append(
                    f"The {direction} cover factor is {cover:.1f}; at {PEIRCE:g} the yarns lie "
                    "side by side (Peirce). Check threads and count."
                )
        return tuple(found)

    def highest_sett(self, direction: str) -> float:
        """Most threads per inch that a square cloth of this weave and yarn holds [1/in]."""
        ends, intersections = WEAVES[self.construction.weave]
        ne = self.construction.slots_of(direction)[0].ne
        return float(
            highest_sett(
                diameters_per_inch=diameters_per_inch(ne=ne, diameter_constant=PEIRCE),
                repeat_ends=ends,
                repeat_intersections=intersections,
            )
        )


def cloth_of(engine: Engine, code: str) -> Cloth:
    """A construction computed. Raises NotFound."""
    return computed(current_book(engine).construction(code))


def computed(construction: Construction) -> Cloth:
    """The figures of a cloth, with the yarns it asks for."""
    sheet = cloth_sheet(construction)
    inputs = construction_inputs(construction)
    for slot in construction.slots:
        inputs[f"{slot.name}.costing_ne"] = Input(
            slot.ne,
            f"{slot.name.capitalize()} count wanted",
            "Ne",
            f"construction {construction.code}",
            None,
            "",
            f"/constructions/{construction.code}",
        )
    values = {name: float(entry.value) for name, entry in inputs.items()}
    figures = {key: float(value) for key, value in sheet.evaluate(values).items()}
    return Cloth(construction, sheet, inputs, figures)


def explain_cloth(cloth: Cloth, line: str) -> Explanation:
    """One figure of a cloth, opened. Raises NotFound."""
    if line not in cloth.sheet.by_key:
        raise NotFound(
            f"{cloth.construction.code} has no figure “{line[:40]}”.",
            field="line",
            value=line,
            remedy="Open a figure from the construction's page.",
        )
    return cloth.sheet.explain(line, cloth.inputs)
