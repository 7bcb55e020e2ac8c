"""What a person may enter of a cloth: its construction, and the pieces measured of it."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Self

from pydantic import Field, model_validator

from server.actions.fields import (
    ClothState,
    CoreKind,
    DyeingRoute,
    Entry,
    MaybeNumber,
    Name,
    Number,
    State,
    Text,
    TwillHand,
    WantedEffect,
    WantedSpinning,
    WantedTwist,
    Weave,
    choice,
    day,
    number,
    words,
)


class ConstructionEntry(Entry):
    """A construction with up to two yarns in each direction."""

    code: Name = words("Code", longest=40)
    name: Name = words("Name", longest=120)
    weight_class: Name = words("Weight class", longest=120, default="")
    weave: Weave = choice("Weave")
    twill_hand: TwillHand = choice("Twill hand on the face", default="none")
    dyeing_route: DyeingRoute = choice("Dyeing of the warp", default="rope")
    entered_state: State = choice(
        "State entered",
        "Loom: total ends, reed width, loom picks. Finished: EPI, PPI, crimp.",
        default="loom",
    )
    total_ends: MaybeNumber = number("Total ends", "threads", above=0, most=40000, optional=True)
    reed_width_in: MaybeNumber = number(
        "Reed width", "in", above=0, most=250, usual=(40, 90), optional=True
    )
    loom_ppi: MaybeNumber = number(
        "Loom picks", "1/in", above=0, most=400, usual=(30, 70), optional=True
    )
    finished_epi: MaybeNumber = number(
        "Finished ends", "1/in", above=0, most=600, usual=(60, 90), optional=True
    )
    finished_ppi: MaybeNumber = number(
        "Finished picks", "1/in", above=0, most=500, usual=(40, 60), optional=True
    )
    filling_crimp_percent: MaybeNumber = number(
        "Filling crimp, finished",
        "% on cloth width",
        least=0,
        most=100,
        usual=(2, 45),
        optional=True,
    )
    tail_in: Number = number(
        "Tail of a pick",
        "in",
        least=0,
        most=20,
        default="0",
        help="Yarn each pick uses beyond the reed width",
    )
    length_shrink_percent: Number = number(
        "Length shrink, loom to finished", "%", least=0, most=60, usual=(8, 18)
    )
    finished_width_in: Number = number("Finished width", "in", above=0, most=250)
    cuttable_width_in: Number = number("Cuttable width", "in", above=0, most=250)
    net_finish_percent: Number = number(
        "Net finish on weight",
        "%",
        least=-20,
        most=100,
        usual=(-8, 12),
        default="0",
        help="Size, dye and finish kept less scouring loss, on yarn mass",
    )
    finish_in_parts: bool = Field(
        default=False,
        title="Net finish in parts",
        description="Use the three parts that follow in place of the one figure",
        json_schema_extra={"unit": ""},
    )
    warp_retained_percent: Number = number(
        "Size and dye kept on the warp",
        "% of warp mass",
        least=0,
        most=60,
        usual=(0, 18),
        default="0",
        help="0 when the cloth is desized",
    )
    scouring_loss_percent: Number = number(
        "Loss in scouring or bleaching", "%", least=0, most=50, usual=(0, 10), default="0"
    )
    coating_g_per_m2: Number = number(
        "Coating or resin added", "g/m²", least=0, most=2000, default="0"
    )
    measured_oz: MaybeNumber = number(
        "Weight of a real piece",
        "oz/yd²",
        above=0,
        most=60,
        optional=True,
        help="To hold the computed weight of its state against",
    )
    measured_state: ClothState = choice(
        "…weighed", "Off the loom, finished and unwashed, or washed", default="finished"
    )
    target_oz: MaybeNumber = number("Target weight", "oz/yd²", above=0, most=60, optional=True)
    target_state: ClothState = choice(
        "Target weight is said of",
        "Off the loom, finished and unwashed, or washed: ask, mills mean different ones",
        default="finished",
    )
    greige_width_in: MaybeNumber = number(
        "Greige width", "in", above=0, most=250, optional=True, help="Off the loom, relaxed"
    )
    greige_add_on_percent: MaybeNumber = number(
        "Size and dye on the greige warp",
        "% of warp mass",
        least=0,
        most=60,
        usual=(6, 20),
        optional=True,
        help="For the greige weight; what of it stays after finishing is the net finish",
    )
    residual_length_percent: MaybeNumber = number(
        "Residual shrinkage, length",
        "%",
        least=0,
        most=40,
        usual=(0, 4),
        optional=True,
        help="What the laundry still takes from the finished cloth",
    )
    residual_width_percent: MaybeNumber = number(
        "Residual shrinkage, width",
        "%",
        least=0,
        most=50,
        usual=(0, 15),
        optional=True,
    )
    wash_mass_change_percent: MaybeNumber = number(
        "Mass change in the wash",
        "%",
        least=-40,
        most=20,
        usual=(-12, 0),
        optional=True,
        help="Below zero what the wash takes off: size, dye, lint",
    )
    calibration: Name = words(
        "Calibrated on",
        longest=300,
        default="",
        help="What was taken from measured pieces, and when",
    )
    season_metres: MaybeNumber = number("Season metres", "m", above=0, optional=True)
    heat_set: bool = Field(
        default=False,
        title="Heat set (stretch)",
        description="Heat setting is charged on top of finishing",
        json_schema_extra={"unit": ""},
    )
    garment_metres: MaybeNumber = number(
        "Cloth for one garment", "m", above=0, most=20, optional=True
    )
    garment_width_in: MaybeNumber = number(
        "…measured at cuttable width", "in", above=0, most=250, optional=True
    )
    warp_ne: Number = number("Warp count", "Ne", above=0, most=200, usual=(4, 30))
    warp_crimp_percent: MaybeNumber = number(
        "Warp crimp",
        "% on cloth length",
        least=0,
        most=100,
        usual=(6, 16),
        optional=True,
        help="Greige; leave it and the take-up empty when nothing is measured",
    )
    warp_take_up_percent: MaybeNumber = number(
        "or warp take-up",
        "% on yarn length",
        least=0,
        most=50,
        usual=(5, 14),
        optional=True,
        help="The same length lost, on the yarn; enter one of the two",
    )
    warp_waste_percent: Number = number(
        "Warp waste", "% of yarn put in", least=0, most=60, usual=(2, 6)
    )
    warp_share_of_threads_percent: Number = number(
        "Warp share of ends", "%", above=0, most=100, default="100"
    )
    warp_effect: WantedEffect = choice("Warp effect wanted", default="any")
    warp_core: CoreKind = choice("Warp core wanted", default="none")
    warp_twist: WantedTwist = choice("Warp twist wanted", default="any")
    warp_spinning: WantedSpinning = choice("Warp spinning wanted", default="any")
    warp_fibre_mix: Name = words("Warp fibre wanted", longest=80, default="any")
    warp_pinned_offer: Name = words("Warp must be offer", longest=40, default="")
    warp2_ne: MaybeNumber = number("Second warp count", "Ne", above=0, most=200, optional=True)
    warp2_crimp_percent: MaybeNumber = number(
        "Second warp crimp", "% on cloth length", least=0, most=100, optional=True
    )
    warp2_take_up_percent: MaybeNumber = number(
        "or second warp take-up", "% on yarn length", least=0, most=50, optional=True
    )
    warp2_waste_percent: MaybeNumber = number(
        "Second warp waste", "% of yarn put in", least=0, most=60, optional=True
    )
    warp2_share_of_threads_percent: MaybeNumber = number(
        "Second warp share of ends", "%", above=0, most=100, optional=True
    )
    warp2_effect: WantedEffect = choice("Second warp effect", default="any")
    warp2_core: CoreKind = choice("Second warp core", default="none")
    warp2_twist: WantedTwist = choice("Second warp twist", default="any")
    warp2_spinning: WantedSpinning = choice("Second warp spinning", default="any")
    warp2_fibre_mix: Name = words("Second warp fibre wanted", longest=80, default="any")
    warp2_pinned_offer: Name = words("Second warp must be offer", longest=40, default="")
    filling_ne: Number = number("Filling count", "Ne", above=0, most=200, usual=(5, 24))
    filling_waste_percent: Number = number(
        "Filling waste", "% of yarn put in", least=0, most=60, usual=(2, 6)
    )
    filling_share_of_threads_percent: Number = number(
        "Filling share of picks", "%", above=0, most=100, default="100"
    )
    filling_effect: WantedEffect = choice("Filling effect wanted", default="any")
    filling_core: CoreKind = choice("Filling core wanted", default="none")
    filling_twist: WantedTwist = choice("Filling twist wanted", default="any")
    filling_spinning: WantedSpinning = choice("Filling spinning wanted", default="any")
    filling_fibre_mix: Name = words("Filling fibre wanted", longest=80, default="any")
    filling_pinned_offer: Name = words("Filling must be offer", longest=40, default="")
    filling2_ne: MaybeNumber = number(
        "Second filling count", "Ne", above=0, most=200, optional=True
    )
    filling2_waste_percent: MaybeNumber = number(
        "Second filling waste", "% of yarn put in", least=0, most=60, optional=True
    )
    filling2_share_of_threads_percent: MaybeNumber = number(
        "Second filling share of picks", "%", above=0, most=100, optional=True
    )
    filling2_effect: WantedEffect = choice("Second filling effect", default="any")
    filling2_core: CoreKind = choice("Second filling core", default="none")
    filling2_twist: WantedTwist = choice("Second filling twist", default="any")
    filling2_spinning: WantedSpinning = choice("Second filling spinning", default="any")
    filling2_fibre_mix: Name = words("Second filling fibre wanted", longest=80, default="any")
    filling2_pinned_offer: Name = words("Second filling must be offer", longest=40, default="")
    notes: Text = words("Notes", longest=4000, default="")

    @model_validator(mode="after")
    def fits_together(self) -> Self:
        """The state entered is complete, widths shrink, shares of threads sum to 100 %."""
        needed = {
            "loom": ("total_ends", "reed_width_in", "loom_ppi"),
            "finished": ("finished_epi", "finished_ppi", "filling_crimp_percent"),
        }[self.entered_state]
        for name in needed:
            if getattr(self, name) is None:
                raise ValueError(f"{name}: is needed for the {self.entered_state} state")
        if self.reed_width_in is not None and self.finished_width_in > self.reed_width_in:
            raise ValueError("finished_width_in: is above the reed width; cloth does not widen")
        if self.cuttable_width_in > self.finished_width_in:
            raise ValueError("cuttable_width_in: is above the finished width")
        self._crimp_once()
        if self.greige_width_in is not None and self.greige_width_in < self.finished_width_in:
            raise ValueError("greige_width_in: is below the finished width; cloth does not widen")
        if self.reed_width_in is not None and (self.greige_width_in or 0) > self.reed_width_in:
            raise ValueError("greige_width_in: is above the reed width; cloth does not widen")
        if (self.residual_length_percent is None) != (self.residual_width_percent is None):
            raise ValueError("residual_width_percent: enter both, 0 where the wash takes nothing")
        for direction in ("warp", "filling"):
            second = getattr(self, f"{direction}2_ne")
            shares = getattr(self, f"{direction}_share_of_threads_percent")
            if second is not None:
                share = getattr(self, f"{direction}2_share_of_threads_percent")
                if share is None or getattr(self, f"{direction}2_waste_percent") is None:
                    raise ValueError(
                        f"{direction}2_share_of_threads_percent: enter share and waste of the "
                        "second yarn"
                    )
                shares += share
            if shares != 100:
                raise ValueError(
                    f"{direction}_share_of_threads_percent: shares of the {direction} sum to "
                    f"{shares} %, they must sum to 100 %"
                )
        parts = ("warp_retained_percent", "scouring_loss_percent", "coating_g_per_m2")
        if self.finish_in_parts and self.net_finish_percent != 0:
            raise ValueError("net_finish_percent: enter 0, the parts stand in its place")
        if not self.finish_in_parts and any(getattr(self, part) != 0 for part in parts):
            raise ValueError("finish_in_parts: tick it to use the parts, or enter 0 for them")
        if (self.garment_metres is None) != (self.garment_width_in is None):
            raise ValueError("garment_width_in: enter both the cloth and the width it was cut from")
        return self

    def _crimp_once(self) -> None:
        """Crimp or take-up of a warp, not both; nothing only where the starting rule holds."""
        for yarn in ("warp", "warp2"):
            crimp = getattr(self, f"{yarn}_crimp_percent")
            take_up = getattr(self, f"{yarn}_take_up_percent")
            if crimp is not None and take_up is not None:
                raise ValueError(
                    f"{yarn}_take_up_percent: is the same length as the crimp on another base; "
                    "enter one of the two"
                )
            nothing = crimp is None and take_up is None and getattr(self, f"{yarn}_ne") is not None
            if nothing and self._stretches():
                raise ValueError(
                    f"{yarn}_crimp_percent: is needed for stretch cloth, for which no starting "
                    "rule holds; measure a piece"
                )

    def _stretches(self) -> bool:
        """Whether the cloth is heat set or wants a core in any of its yarns."""
        yarns = ("warp", "warp2", "filling", "filling2")
        return self.heat_set or any(getattr(self, f"{yarn}_core") != "none" for yarn in yarns)


class MeasuredPieceEntry(Entry):
    """A real piece of a construction, as measured."""

    construction: Name = words("Construction", longest=40, help="Code of a stored construction")
    label: Name = words("Piece", longest=80, help="Roll or piece number")
    measured_on: date = day("Measured on")
    source: Name = words("Measured by", longest=300, help="Laboratory or person, and the method")
    state: ClothState = choice(
        "State of the piece",
        "As sold is finished; weights and threads are of this state",
        default="finished",
    )
    ounces: MaybeNumber = number("Weight", "oz/yd²", above=0, most=60, optional=True)
    width_in: MaybeNumber = number("Width", "in", above=0, most=250, optional=True)
    epi: MaybeNumber = number("Ends", "1/in", above=0, most=600, optional=True)
    ppi: MaybeNumber = number("Picks", "1/in", above=0, most=500, optional=True)
    warp_crimp_percent: MaybeNumber = number(
        "Warp crimp",
        "% on cloth length",
        least=0,
        most=100,
        usual=(6, 16),
        optional=True,
        help="Of the loom-state cloth",
    )
    filling_crimp_percent: MaybeNumber = number(
        "Filling crimp",
        "% on cloth width",
        least=0,
        most=100,
        usual=(2, 45),
        optional=True,
        help="Of the finished cloth",
    )
    loom_metres: MaybeNumber = number(
        "Length on the loom", "m", above=0, optional=True, help="Of this piece, before finishing"
    )
    finished_metres: MaybeNumber = number(
        "Length finished", "m", above=0, optional=True, help="Of the same piece"
    )
    left_out: bool = Field(
        default=False,
        title="Left out of the calibration",
        description="Seen and kept, but not used; say why in the notes",
        json_schema_extra={"unit": ""},
    )
    notes: Text = words("Notes", longest=2000, default="")

    @model_validator(mode="after")
    def says_something(self) -> Self:
        """A piece holds at least one measurement; its two lengths come together."""
        if (self.loom_metres is None) != (self.finished_metres is None):
            raise ValueError("finished_metres: enter both lengths of the piece, or neither")
        if self.loom_metres is not None and self.finished_metres is not None:
            if self.finished_metres > self.loom_metres * Decimal("1.2"):
                raise ValueError("finished_metres: is far above the length on the loom; look again")
            if self.finished_metres < self.loom_metres * Decimal("0.4"):
                raise ValueError("finished_metres: is below two fifths of the length on the loom")
        crimps = (self.warp_crimp_percent, self.filling_crimp_percent)
        measured = (self.ounces, self.width_in, self.epi, self.ppi, *crimps, self.loom_metres)
        if all(value is None for value in measured):
            raise ValueError("ounces: enter at least one measurement of the piece")
        if self.left_out and not self.notes:
            raise ValueError("notes: say why this piece is left out of the calibration")
        return self
