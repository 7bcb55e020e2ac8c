"""Trial costings: a construction with two offers, on a trial basis."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from hypothesis import strategies as st

from server.core.assumptions import AssumptionSet
from server.core.compare import compare
from server.core.construction import Basis, Construction, Slot
from server.core.costing import Costing, bought
from server.core.offer import Offer
from tests.builders import assumption_set, basis, construction, offer, rate_book, slot, yarn

RATES = rate_book()


def costing(
    cloth: Construction,
    warp: Offer,
    filling: Offer,
    *,
    on: Basis | None = None,
    assumptions: AssumptionSet | None = None,
) -> Costing:
    """A construction costed with one offer in each direction; both must be near its counts."""
    compared = compare(
        cloth, on or basis(), assumptions or assumption_set(), RATES, (warp, filling), ()
    )
    pair = compared.find(warp.code, filling.code)
    assert pair is not None
    return Costing(
        cloth,
        compared.basis,
        compared.assumptions,
        tuple(bought(member, member.slot) for member in pair.members),
    )


def yarn_of(ne: float, code: str, **changes: Any) -> Offer:
    """An offer of a yarn whose average count is exactly the one asked for."""
    tests = {"tenacity": 15.0, "evenness": 12.5, "hairiness": 8.0, "average_ne": ne}
    return offer(code=code, yarn=yarn(count=Decimal(repr(ne))), tests=tests, **changes)


def near(value: float, share: float) -> st.SearchStrategy[float]:
    """Values within a share of another."""
    return st.floats(value * (1 - share), value * (1 + share), allow_nan=False)


@st.composite
def costings(draw: st.DrawFn, season: bool = False) -> Costing:
    """Random cloths of two random yarns."""
    warp_ne, filling_ne = draw(st.floats(5, 16)), draw(st.floats(5, 20))
    finished = draw(st.floats(50, 64))
    cloth = construction(
        weave=draw(st.sampled_from(["3/1 twill", "2/1 twill", "4/1 satin"])),
        total_ends=draw(near(4000, 0.2)),
        reed_width_in=finished * draw(st.floats(1.02, 1.3)),
        loom_ppi=draw(near(42, 0.2)),
        length_shrink=draw(st.floats(0.05, 0.2)),
        finished_width_in=finished,
        cuttable_width_in=finished - 1.5,
        net_finish=draw(st.floats(-0.05, 0.1)),
        coating_g_per_m2=0.0,
        garment_metres=1.3,
        garment_width_in=59.0,
        slots=(
            trial_slot("warp", warp_ne, draw(st.floats(0.05, 0.15)), draw(st.floats(0.02, 0.06))),
            trial_slot("filling", filling_ne, 0.0, draw(st.floats(0.02, 0.06))),
        ),
    )
    warp = yarn_of(warp_ne, "W", price=draw(st.decimals("1.5", "4", places=2)))
    filling = yarn_of(filling_ne, "F", price=draw(st.decimals("1.5", "4", places=2)))
    assumptions = assumption_set(
        fabric__loom_hour=draw(st.floats(1, 9)), fabric__loom_efficiency=draw(st.floats(0.6, 0.97))
    )
    on = basis(quantity="season") if season else basis()
    return costing(cloth, warp, filling, on=on, assumptions=assumptions)


def trial_slot(direction: str, ne: float, crimp: float, waste: float) -> Slot:
    """A yarn that fills its direction."""
    return slot(direction, ne=ne, crimp=crimp, waste=waste)
