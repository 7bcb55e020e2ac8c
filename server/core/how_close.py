"""How close a computed weight comes to a stated one, on real cloths nobody here chose.

Every cloth is a sheet of registered formulas, so each figure opens. The models are set by class of
cloth before any weight is looked at; nothing is fitted. Denim is also computed with its threads
read as on the loom, which is a choice after the fact and therefore stands in a column of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import median

from server.core.calibration import mass_from_sister
from server.core.counts import ne_from_nm, resultant_ne, tex_of_two
from server.core.fabric import (
    average_yarn_number,
    cloth_mass_per_area,
    mass_ratio,
    metre_mass,
    ounces_per_square_yard,
    straight_yarn_mass,
    weight_deviation,
)
from server.core.real_cloths import REAL_CLOTHS, RIGID, SETS, RealCloth
from server.core.sheet import Explanation, Input, Line, Sheet
from server.core.units import ne_from_tex, tex_from_denier, tex_from_ne
from server.core.yarn import core_tex, total_tex_from_sheath

STRAIGHT = "M0"
LIGHT, HEAVY = 1.02, 1.30  # weight over straight yarn; outside is a doubt (the same rulings)
DRAFT = 3.0  # elastane draft that no ruling states
HOPED_FOR = (0.015, 0.02)  # accuracy to be hoped for with a mill's own data [share], our reading
HOPED_FOR_SOURCE = (
    "doi 10.1177/15589250261430880 (2026): picks of 1,373 mill denims after washing, foretold by "
    "regression, forest and neural net to 1.34 to 1.59 % on average; shrinkage not foretold well"
)
_CM_PER_IN = 2.54
_STATED = ("epi", "ppi", "width_in")  # kept with a cloth whether a line needs them or not
_MEMORY = "mid-value from memory; no ruling states it"


@dataclass(frozen=True, slots=True)
class Model:
    """What is taken for everything a ruling does not say. All shares; crimps on cloth length."""

    key: str
    words: str
    used_for: str
    warp_crimp: float
    filling_crimp: float
    warp_add_on: float = 0.0
    length_loss: float = 0.0


MODELS: Mapping[str, Model] = {
    model.key: model
    for model in (
        Model(STRAIGHT, "straight threads, nothing added", "the lower bound", 0.0, 0.0),
        Model("M1", "warp crimp 10 %, filling crimp 4 %", "bleached or piece-dyed goods",
              0.1, 0.04),
        Model("M2", "M1, and 10 % of the warp mass kept as size and dye",
              "denim finished without desizing, threads as finished; greige", 0.1, 0.04, 0.1),
        Model("M3", "loom threads: warp crimp 8 %, filling 4 %, 10 % kept, then 8 % of length lost",
              "denim whose threads are read as on the loom", 0.08, 0.04, 0.1, 0.08),
        Model("M4", "warp crimp 10 %, filling crimp 20 %, elastane at draft 3",
              "filling-stretch cloths", 0.1, 0.2),
    )
}  # fmt: skip


@dataclass(frozen=True)
class Held:
    """A real cloth with its computed weights. figures: of its sheet"""

    cloth: RealCloth
    sheet: Sheet
    inputs: Mapping[str, Input]
    figures: Mapping[str, float]

    def figure(self, key: str) -> float | None:
        """A figure of the sheet, if the ruling says enough for it."""
        return self.figures.get(key)

    def deviation(self, model: str) -> float | None:
        """Computed over stated weight, less one; None where the model is not used [share]."""
        return self.figures.get(f"{model}.deviation")

    @property
    def untuned(self) -> float | None:
        """Deviation of the model that its class has; None for a cloth that does not count."""
        counts = self.cloth.models and not self.cloth.unusable
        return self.deviation(self.cloth.models[0]) if counts else None

    @property
    def nearest(self) -> float | None:
        """Deviation of the nearest of its models: the state of the threads chosen afterwards."""
        if self.untuned is None:
            return None
        found = [self.deviation(model) for model in self.cloth.models]
        return min((each for each in found if each is not None), key=abs, default=None)

    def explain(self, key: str) -> Explanation:
        """One figure, opened. Raises KeyError for a figure the cloth does not have."""
        if key not in self.sheet.by_key:
            raise KeyError(key)
        return self.sheet.explain(key, self.inputs)


@dataclass(frozen=True, slots=True)
class Score:
    """How close one set of cloths comes. All [share].

    straight_median, straight_worst: straight threads, with their sign
    median, worst: distance by the model of the class
    chosen_median, chosen_worst: distance with the state of the denim threads chosen afterwards
    """

    name: str
    cloths: int
    straight_median: float
    straight_worst: float
    median: float
    worst: float
    chosen_median: float
    chosen_worst: float


@dataclass(frozen=True, slots=True)
class Foretold:
    """The weight of one cloth foretold from its sister of the same ruling [share]."""

    cloth: str
    sister: str
    off: float


SISTERS = (("S-03", "S-02"), ("S-17", "S-16"))


@lru_cache(maxsize=1)
def held_cloths() -> tuple[Held, ...]:
    """Every real cloth, worked out."""
    return tuple(hold(cloth) for cloth in REAL_CLOTHS)


def held_by_id() -> Mapping[str, Held]:
    """Every real cloth by its number."""
    return {held.cloth.id: held for held in held_cloths()}


def hold(cloth: RealCloth) -> Held:
    """Work out what a ruling says enough for."""
    sheet = Sheet(tuple(_lines(cloth)))
    needed = {*sheet.input_names, *_STATED}
    inputs = {name: entry for name, entry in _inputs(cloth).items() if name in needed}
    values = {name: float(entry.value) for name, entry in inputs.items()}
    figures = {key: float(value) for key, value in sheet.evaluate(values).items()}
    return Held(cloth, sheet, inputs, figures)


def scores() -> tuple[Score, ...]:
    """Median and worst of each set, and of all together."""
    usable = [held for held in held_cloths() if held.untuned is not None]
    sets = [(name, [each for each in usable if each.cloth.group == name]) for name in SETS]
    return tuple(_score(name, cloths) for name, cloths in (*sets, ("all", usable)))


def foretold() -> tuple[Foretold, ...]:
    """Weights from a sister cloth of the same ruling, by the ratio of straight yarn."""
    known = held_by_id()
    return tuple(
        Foretold(cloth, sister, _off_from_sister(known[cloth], known[sister]))
        for cloth, sister in SISTERS
    )


def score_lines() -> list[str]:
    """The scores as lines of plain text, in percent."""
    lines = ["computed against stated weight: median and worst, no tuning (straight threads)"]
    for score in scores():
        chosen = ""
        if score.name in (RIGID, "all"):
            chosen = (
                f"; denim threads as loom or finished {score.chosen_median:.1%}, "
                f"{score.chosen_worst:.1%}"
            )
        lines.append(
            f"  {score.name}, {score.cloths} cloths: {score.median:.1%}, {score.worst:.1%}"
            f" ({score.straight_median:.1%}, {score.straight_worst:.1%}){chosen}"
        )
    low, high = HOPED_FOR
    lines.append(f"  to be hoped for with a mill's own data: {low:.1%} to {high:.1%}")
    lines += [
        f"  {each.cloth} from its sister {each.sister}: {abs(each.off):.1%} off"
        for each in foretold()
    ]
    return lines


def _score(name: str, cloths: Sequence[Held]) -> Score:
    straight = [_known(held.deviation(STRAIGHT)) for held in cloths]
    untuned = [abs(_known(held.untuned)) for held in cloths]
    chosen = [abs(_known(held.nearest)) for held in cloths]
    return Score(
        name,
        len(cloths),
        median(straight),
        max(straight, key=abs),
        median(untuned),
        max(untuned),
        median(chosen),
        max(chosen),
    )


def _off_from_sister(cloth: Held, sister: Held) -> float:
    predicted = mass_from_sister(
        straight_mass_per_area=cloth.figures["straight"],
        sister_mass_per_area=sister.cloth.grams,
        sister_straight_mass_per_area=sister.figures["straight"],
    )
    off = weight_deviation(computed_mass_per_area=predicted, stated_mass_per_area=cloth.cloth.grams)
    return float(off)


def _known(value: float | None) -> float:
    if value is None:
        raise ValueError("a cloth without a model has no deviation")
    return value


def _lines(cloth: RealCloth) -> Iterable[Line]:
    """The lines that the ruling says enough for."""
    yield Line("ounces", ounces_per_square_yard, {"mass_per_area": "grams"}, "Weight as stated")
    if cloth.width_cm is not None:
        yield Line("metre_mass", metre_mass, {"mass_per_area": "grams"}, "Mass of a running metre")
    if cloth.ends is not None:
        yield Line("number", average_yarn_number, {"mass_per_area": "grams"})
        yield Line("apparent_ne", ne_from_nm, {"nm": "number"}, "Apparent mean count")
    if cloth.filling_ne is None and cloth.filling_denier is None:
        return
    yield from _yarn_lines(cloth)
    yield Line("straight", straight_yarn_mass, {}, "Straight yarn")
    yield Line(
        "ratio",
        mass_ratio,
        {"mass_per_area": "grams", "reference_mass_per_area": "straight"},
        "Stated weight over straight yarn",
    )
    yield _deviation(STRAIGHT, "straight")
    for model in cloth.models:
        shares = ("warp_crimp", "filling_crimp", "warp_add_on", "length_loss")
        yield Line(
            model,
            cloth_mass_per_area,
            {**{name: f"{model}.{name}" for name in shares}, "width_loss": f"{model}.width_loss"},
            f"Weight by {model}",
        )
        yield _deviation(model, model)


def _yarn_lines(cloth: RealCloth) -> Iterable[Line]:
    warp = "warp_ne"
    if cloth.plies > 1:
        yield Line("warp_ne", resultant_ne, {"single_ne": "warp_single_ne"}, "Warp count, folded")
    yield Line("warp_tex", tex_from_ne, {"ne": warp}, "Warp yarn")
    core: Callable[..., float] | None = core_tex if cloth.core_denier is not None else None
    if core is not None:
        yield Line("core_tex", core, {}, "Elastane, drafted")
    if cloth.filling_denier is not None:
        yield Line("filament_tex", tex_from_denier, {"denier": "filling_denier"}, "Filament")
        both = {"first_tex": "filament_tex", "second_tex": "core_tex"}
        yield Line("filling_tex", tex_of_two, both, "Filling yarn, core included")
    elif core is not None:
        yield Line(
            "filling_tex",
            total_tex_from_sheath,
            {"sheath_ne": "stated_filling_ne"},
            "Filling yarn, core included",
        )
    else:
        yield Line("filling_tex", tex_from_ne, {"ne": "stated_filling_ne"}, "Filling yarn")
    yield Line("filling_ne", ne_from_tex, {"tex": "filling_tex"}, "Filling count")


def _deviation(model: str, weight: str) -> Line:
    return Line(
        f"{model}.deviation",
        weight_deviation,
        {"computed_mass_per_area": weight, "stated_mass_per_area": "grams"},
        f"Computed against stated, {model}",
    )


def _inputs(cloth: RealCloth) -> dict[str, Input]:
    """What the ruling states, and what the models take for the rest."""
    source = f"US Customs ruling {cloth.ruling}"
    if not cloth.ruling.startswith(("NY", "HQ")):
        source = f"US Customs, {cloth.ruling}"
    said = "found by Customs" if cloth.measured else "as declared"
    stated: tuple[tuple[str, float | None, str, str, str], ...] = (
        ("grams", cloth.grams, "Weight", "g/m²", said),
        ("ends_per_cm", cloth.ends, "Ends", "1/cm", ""),
        ("picks_per_cm", cloth.picks, "Picks", "1/cm", ""),
        ("warp_ne", cloth.warp_ne, "Warp count", "Ne", ""),
        ("warp_single_ne", cloth.warp_ne, "Count of one single of the warp", "Ne", ""),
        ("plies", float(cloth.plies), "Singles in a warp end", "threads", ""),
        ("stated_filling_ne", cloth.filling_ne, "Filling count", "Ne", ""),
        ("filling_denier", cloth.filling_denier, "Filling filament", "den", ""),
        ("core_denier", cloth.core_denier, "Elastane in the filling", "den", ""),
    )
    inputs = {
        name: Input(value, label, unit, source, None, as_entered)
        for name, value, label, unit, as_entered in stated
        if value is not None
    }
    inputs["core_draft"] = Input(DRAFT, "Draft of the elastane", "×", _MEMORY)
    for name, label, threads in (("epi", "Ends", cloth.ends), ("ppi", "Picks", cloth.picks)):
        if threads is not None:
            entered = f"{threads:g} per cm"
            inputs[name] = Input(threads * _CM_PER_IN, label, "1/in", source, None, entered)
    if cloth.width_cm is not None:
        entered = f"{cloth.width_cm:g} cm"
        width = cloth.width_cm / _CM_PER_IN
        inputs["width_in"] = Input(width, "Width", "in", source, None, entered)
    for key in cloth.models:
        inputs |= _model_inputs(MODELS[key])
    return inputs


def _model_inputs(model: Model) -> dict[str, Input]:
    shares = {
        "warp_crimp": ("Warp crimp, on cloth length", model.warp_crimp),
        "filling_crimp": ("Filling crimp, on cloth width", model.filling_crimp),
        "warp_add_on": ("Size and dye kept, on warp mass", model.warp_add_on),
        "length_loss": ("Length lost from loom to finished", model.length_loss),
        "width_loss": ("Width lost after the count", 0.0),
    }
    return {
        f"{model.key}.{name}": Input(value, label, "share", f"{model.key}: {_MEMORY}")
        for name, (label, value) in shares.items()
    }
