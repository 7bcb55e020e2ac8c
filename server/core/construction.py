"""A construction: what is woven, in its loom state, with the yarn each direction asks for."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

WEAVES = {
    # weave: (threads in the repeat, interlacings of one thread in the repeat)
    "3/1 twill": (4, 2),
    "2/1 twill": (3, 2),
    "2/2 twill": (4, 2),
    "plain": (2, 2),
    "4/1 satin": (5, 2),
    "broken twill": (4, 2),
}
TWILL_HANDS = ("right", "left", "none")
DYEING_ROUTES = ("rope", "slasher", "none")
DIRECTIONS = ("warp", "filling")


@dataclass(frozen=True, slots=True)
class Slot:
    """One yarn wanted in one direction.

    ne: average count wanted [Ne]
    share_of_threads: share of the ends or picks of the direction [share]
    crimp: yarn length beyond cloth length, on cloth length, loom state [share]; warp only, the
        filling takes its length from the reed width
    crimp_from: what the crimp rests on: "crimp" or "take-up" as entered, "calibrated" on measured
        pieces, or "starting value" where nothing is measured
    waste: share of the yarn put in that is lost [share]
    effect, core, twist, spinning, fibre_mix: what is wanted; "any" accepts all
    pinned_offer: code of the offer this yarn must be, or ""
    """

    direction: str
    position: int
    ne: float
    share_of_threads: float
    crimp: float
    waste: float
    effect: str = "any"
    core: str = "none"
    twist: str = "any"
    spinning: str = "any"
    fibre_mix: str = "any"
    pinned_offer: str = ""
    crimp_from: str = "crimp"

    @property
    def name(self) -> str:
        """`warp`, or `warp2` for the second yarn of a direction."""
        return self.direction if self.position == 1 else f"{self.direction}{self.position}"


@dataclass(frozen=True)
class Construction:
    """The primary record is the loom state; entered_state says which state a person typed.

    net_finish: mass kept from size, dye and finish less scouring loss, on yarn mass [share]
    finish_in_parts: the three that follow stand in place of net_finish
    warp_retained: size and dye that stay on the warp, on warp mass [share]
    scouring_loss: mass lost in scouring or bleaching [share]
    coating_g_per_m2: coating or resin added [g/m²]
    measured_oz: weight of a real piece, to hold the computed one against [oz/yd²]
    measured_state, target_state: the states these two are said of: greige, finished (unwashed) or
        washed
    greige_width_in: width off the loom, relaxed [in]
    greige_add_on: size and dye on the warp off the loom, on warp mass; None when not said [share]
    residual_length, residual_width: what the laundry still takes, on the finished cloth [share]
    wash_mass_change: mass the wash takes (below zero) or adds, on the finished mass [share]
    calibration: what was calibrated, on which pieces and when; "" when nothing was
    tail_in: yarn each pick uses beyond the reed width [in]
    garment_metres: cloth for one garment at `garment_width_in` cuttable; None when not asked
    """

    id: int
    code: str
    name: str
    weave: str
    twill_hand: str
    dyeing_route: str
    total_ends: float
    reed_width_in: float
    loom_ppi: float
    length_shrink: float
    finished_width_in: float
    cuttable_width_in: float
    net_finish: float
    slots: tuple[Slot, ...]
    tail_in: float = 0.0
    target_oz: float | None = None
    season_metres: float | None = None
    heat_set: bool = False
    garment_metres: float | None = None
    garment_width_in: float | None = None
    entered_state: str = "loom"
    finished_epi: float | None = None
    finished_ppi: float | None = None
    filling_crimp: float | None = None
    notes: str = ""
    weight_class: str = ""
    finish_in_parts: bool = False
    warp_retained: float = 0.0
    scouring_loss: float = 0.0
    coating_g_per_m2: float = 0.0
    measured_oz: float | None = None
    measured_state: str = "finished"
    target_state: str = "finished"
    greige_width_in: float | None = None
    greige_add_on: float | None = None
    residual_length: float | None = None
    residual_width: float | None = None
    wash_mass_change: float = 0.0
    calibration: str = ""

    def slots_of(self, direction: str) -> tuple[Slot, ...]:
        """The yarns of one direction, the main one (position 1) first."""
        return tuple(
            sorted((s for s in self.slots if s.direction == direction), key=lambda s: s.position)
        )

    @property
    def role_of_warp(self) -> str:
        """Which gate the warp has to pass."""
        return {
            "rope": "warp, rope-dyed",
            "slasher": "warp, slasher-dyed",
            "none": "warp, undyed",
        }[self.dyeing_route]


@dataclass(frozen=True)
class Basis:
    """On what the offers are compared.

    rates_on: day whose rates are used
    quantity: "first price" (no quantity), "season" (the construction's season metres) or "metres"
    house_regain: fibre mix -> regain the house compares at [share]
    loom_rule: loom efficiency "as assumed", or "from stops" of the pair's own yarns
    count_threshold: an offer's own count replaces the wanted one in the weight when it differs by
        more than this [share]
    """

    id: int
    name: str
    currency: str
    rates_on: date
    delivery_point: str
    as_of: date
    meeting: date
    need_by: date
    quantity: str = "first price"
    metres: float | None = None
    assumption_set: str = ""
    house_regain: dict[str, float] = field(default_factory=dict)
    count_threshold: float = 0.003
    owner: str = ""
    loom_rule: str = "as assumed"

    @property
    def days_to_need(self) -> int:
        """Days from the meeting, when the order is placed, to the day yarn must be at the mill."""
        return (self.need_by - self.meeting).days

    def metres_of(self, construction: Construction) -> float | None:
        """Finished metres the comparison buys yarn for; None when quantity does not matter."""
        if self.quantity == "season":
            return construction.season_metres
        return self.metres if self.quantity == "metres" else None
