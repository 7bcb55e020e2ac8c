"""Loom efficiency from the stops of the yarns, with the looms that wait for their weaver.

A weaver has N looms of one cloth. A stopped loom waits while the weaver is at another one
(interference). Stops come at random; the time of a repair is taken as random too (exponential), as
C. Palm 1947, F. Benson and D. R. Cox 1951 and D. R. Cox and W. L. Smith, Queues, 1961 have it. The
tables of H. Ashcroft 1950 take every repair as equally long and give more running time.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Any

from server.core.assumptions import KINDS, STOPS_KINDS, AssumptionSet
from server.core.construction import DIRECTIONS, Construction, Slot
from server.core.conversion import loom_output, weaving_cost
from server.core.elementary import idle_share, larger_of
from server.core.errors import Missing
from server.core.formula import formula
from server.core.offer import Offer
from server.core.quantities import Factor, LossShare, MoneyPerMetre, Quantity, Rpm, Share
from server.core.sheet import Input, Line
from server.core.weaving import PICKS_OF_STOP_COUNT, Minutes

AS_ASSUMED, FROM_STOPS = "as assumed", "from stops"
LOOM_RULES = (AS_ASSUMED, FROM_STOPS)
NO_STOPS = 1e-9  # stops; below, there is no time of a stop to speak of

Stops = Annotated[Any, Quantity("stops", least=0.0)]
StopsPerHour = Annotated[Any, Quantity("1/h", least=0.0)]
Looms = Annotated[Any, Quantity("looms", least=1.0, most=1000.0)]

INTERFERENCE = (
    "C. Palm 1947; F. Benson and D. R. Cox, J. Royal Statistical Society B 13, 1951; "
    "D. R. Cox and W. L. Smith, Queues, 1961"
)
FED = {
    name: f"fabric.{name}"
    for name in (
        "other_stops",
        "warp_repair",
        "filling_repair",
        "other_repair",
        "looms_per_weaver",
        "planned_stops",
    )
} | {"assumed_efficiency": "fabric.loom_efficiency"}
"""Inputs of the lines below that the assumption set feeds: name -> key."""

STOPS_KEYS = tuple(kind.key for kind in STOPS_KINDS)
"""Every assumption that only the rule from stops takes."""

_YARN = {"ring": "ring", "compact ring": "ring", "OE": "OE", "air-jet": "air-jet"}


@formula(source="definition: stops of a yarn follow its share of the threads")
def stops_of_share(*, share_of_threads: Share, stops: Stops) -> Stops:
    """Stops that one of several yarns brings to its direction, in 100,000 picks.

    share_of_threads: its share of the ends or picks of the direction [share]
    stops: stops in 100,000 picks if it filled the direction [stops]
    """
    return share_of_threads * stops


@formula(source="definition: stops of the same picks add")
def sum_of_stops(*, first_stops: Stops, second_stops: Stops) -> Stops:
    """Two kinds of stops together, in the same 100,000 picks.

    first_stops: stops of one kind [stops]
    second_stops: stops of the other [stops]
    """
    return first_stops + second_stops


@formula(source="definition: stops of the same picks add (as counted by Haque et al. 2019)")
def stops_of_loom(*, warp_stops: Stops, filling_stops: Stops, other_stops: Stops) -> Stops:
    """Stops of a loom in 100,000 picks.

    warp_stops: stops for the warp [stops]
    filling_stops: stops for the filling [stops]
    other_stops: stops of every other cause that the weaver repairs [stops]
    """
    return warp_stops + filling_stops + other_stops


@formula(source="definition: stops times the time of one (textilecalculation.blogspot.com, 2015)")
def repair_work(
    *,
    warp_stops: Stops,
    warp_repair: Minutes,
    filling_stops: Stops,
    filling_repair: Minutes,
    other_stops: Stops,
    other_repair: Minutes,
) -> Minutes:
    """Repair work in 100,000 picks, waiting left out.

    warp_stops: warp stops in 100,000 picks [stops]
    warp_repair: time the weaver takes for one, the walk to the loom included [min]
    filling_stops: filling stops in 100,000 picks [stops]
    filling_repair: time the weaver takes for one [min]
    other_stops: other stops in 100,000 picks [stops]
    other_repair: time the weaver takes for one [min]
    """
    return warp_stops * warp_repair + filling_stops * filling_repair + other_stops * other_repair


@formula(source="definition: repair work over the number of stops")
def mean_repair(*, repair_work: Minutes, stops: Stops) -> Minutes:
    """Mean repair of a stop, waiting left out.

    repair_work: repair work in 100,000 picks [min]
    stops: all stops in 100,000 picks [stops]
    Limits: zero for a loom that never stops.
    """
    return repair_work / larger_of(stops, NO_STOPS)


@formula(source="definition: picks of a running hour over the picks of a stop")
def stops_per_running_hour(*, loom_rpm: Rpm, stops: Stops) -> StopsPerHour:
    """Stops of a loom in an hour of running.

    loom_rpm: picks a minute [rpm]
    stops: all stops in 100,000 picks [stops]
    """
    return loom_rpm * 60 * stops / PICKS_OF_STOP_COUNT


@formula(source=INTERFERENCE)
def servicing_factor(*, loom_rpm: Rpm, repair_work: Minutes) -> Factor:
    """Servicing factor of a loom.

    loom_rpm: picks a minute [rpm]
    repair_work: repair work in 100,000 picks, waiting left out [min]
    Repair work of a minute of running: its stops times the mean repair.
    """
    return loom_rpm * repair_work / PICKS_OF_STOP_COUNT


@formula(source=INTERFERENCE)
def weaver_load(*, looms_per_weaver: Looms, servicing_factor: Factor) -> Share:
    """Time of the weaver at stopped looms.

    looms_per_weaver: looms of one weaver, a whole number, all on this cloth [looms]
    servicing_factor: repair work of a minute of running [×]
    The Erlang loss is the share of time in which the weaver has nothing to do. Limits: cleaning,
    rounds and rest come on top.
    """
    return 1 - idle_share(looms_per_weaver, servicing_factor)


@formula(source=INTERFERENCE)
def running_share(*, looms_per_weaver: Looms, servicing_factor: Factor) -> Share:
    """Running share of a loom, waiting for the weaver counted.

    looms_per_weaver: looms of one weaver, a whole number, all on this cloth [looms]
    servicing_factor: repair work of a minute of running [×]
    The same as the weaver's load over looms times servicing factor, in the form that rounding
    cannot upset. Limits: stops at random, repairs of random length (exponential) around one mean
    for all kinds of stops; nobody helps out. Repairs of equal length (H. Ashcroft 1950) give more:
    2 to 4 points for eight looms of a busy weaver, as simulated.
    """
    waits = looms_per_weaver * servicing_factor
    return 1 / (waits + idle_share(looms_per_weaver - 1, servicing_factor))


@formula(source=INTERFERENCE)
def interference(*, running_share: Share, servicing_factor: Factor) -> Share:
    """Time in which a stopped loom waits for the weaver (interference).

    running_share: share of its time that a loom runs [share]
    servicing_factor: repair work of a minute of running [×]
    """
    return 1 - running_share * (1 + servicing_factor)


@formula(source="definition: planned stops taken off (textilecalculation.blogspot.com, 2015)")
def efficiency_with_planned_stops(*, running_share: Share, planned_stops: LossShare) -> Share:
    """Loom efficiency over all the time.

    running_share: share of the time between planned stops that a loom runs [share]
    planned_stops: beam changes, cleaning and the like, in all the time [share]
    """
    return running_share * (1 - planned_stops)


@formula(source="definition: a difference of weaving, with its overhead and its seconds")
def cost_against_assumed(
    *,
    weaving: MoneyPerMetre,
    assumed_weaving: MoneyPerMetre,
    overhead_rate: Share,
    seconds_share: LossShare,
    seconds_price_ratio: Share,
) -> MoneyPerMetre:
    """Cost of the stops of a finished metre, against the assumed efficiency.

    weaving: weaving at the efficiency from stops [¤/m]
    assumed_weaving: weaving at the assumed efficiency [¤/m]
    overhead_rate: overhead on conversion cost [share]
    seconds_share: seconds in the metres made [share]
    seconds_price_ratio: price of seconds over price of firsts [share]
    """
    lost = seconds_share * (1 - seconds_price_ratio)
    return (weaving - assumed_weaving) * (1 + overhead_rate) / (1 - lost)


def efficiency_lines(construction: Construction) -> tuple[Line, ...]:
    """From `<slot>.stops` to `loom_efficiency`; they stand before the lines that use it."""
    lines: list[Line] = []
    total = {direction: _of_direction(construction, direction, lines) for direction in DIRECTIONS}
    feeds = {f"{direction}_stops": key for direction, key in total.items()}
    return (
        *lines,
        Line("stops", stops_of_loom, feeds),
        Line("repair_work", repair_work, feeds),
        Line("mean_repair", mean_repair),
        Line("stops_per_hour", stops_per_running_hour),
        Line("servicing_factor", servicing_factor),
        Line("weaver_load", weaver_load),
        Line("running_share", running_share),
        Line("interference", interference),
        Line(
            "loom_efficiency",
            efficiency_with_planned_stops,
            {},
            "Loom efficiency, from the stops of these yarns",
        ),
    )


def lines_against_assumed() -> tuple[Line, ...]:
    """What the weaving would cost at the assumed efficiency, and the difference of a metre."""
    return (
        Line(
            "assumed_output",
            loom_output,
            {"loom_efficiency": "assumed_efficiency"},
            "Output of a loom at the assumed efficiency",
        ),
        Line(
            "assumed_weaving",
            weaving_cost,
            {"loom_output_m_per_h": "assumed_output"},
            "Weaving at the assumed efficiency",
        ),
        Line("cost_against_assumed", cost_against_assumed),
    )


def _of_direction(construction: Construction, direction: str, lines: list[Line]) -> str:
    """Key of the stops of a direction; its yarns are weighted by their share of the threads."""
    slots = construction.slots_of(direction)
    if len(slots) == 1:
        return f"{slots[0].name}.stops"
    so_far = ""
    for place, slot in enumerate(slots, start=1):
        key = f"{slot.name}.stops_here"
        feeds = {
            "share_of_threads": f"{slot.name}.share_of_threads",
            "stops": f"{slot.name}.stops",
        }
        lines.append(Line(key, stops_of_share, feeds, f"Stops of the {slot.name} by its share"))
        if so_far:
            both = f"{direction}_stops" if place == len(slots) else f"{direction}_stops_{place}"
            feeds = {"first_stops": so_far, "second_stops": key}
            label = f"{direction.capitalize()} stops in 100,000 picks, all yarns"
            lines.append(Line(both, sum_of_stops, feeds, label))
            key = both
        so_far = key
    return so_far


def stops_key(direction: str, spinning: str) -> str:
    """Key of the assumption that holds the stops of a yarn; "" for a yarn of unknown spinning."""
    return f"fabric.{direction}_stops.{_YARN[spinning]}" if spinning in _YARN else ""


def stops_of(slot: Slot, spinning: str, offer: Offer | None, assumptions: AssumptionSet) -> Input:
    """Stops of a yarn in its place in 100,000 picks: measured with this offer, else the set's.

    offer: the offer it is, or None for own spinning and held prices
    Raises Missing when neither is there.
    """
    key = stops_key(slot.direction, spinning)
    measured = offer.tests.get(f"{slot.direction}_stops") if offer else None
    if offer is not None and measured is not None:
        method, on = offer.test_sources.get(f"{slot.direction}_stops", ("", None))
        instead = f", {assumptions.input(key).value:g} in the set" if assumptions.has(key) else ""
        return Input(
            measured,
            f"{slot.direction.capitalize()} stops in 100,000 picks, measured with {offer.code}",
            "stops",
            method or f"offer {offer.code}",
            on,
            f"measured{instead}",
            f"/offers/{offer.code}",
        )
    if not key:
        name = offer.code if offer else slot.name
        raise Missing(
            f"How {name} is spun is not known, so its stops are not.",
            field="spinning",
            remedy="Enter the spinning of the offer, or its own measured stops.",
        )
    assumptions.need((key,))
    return assumptions.input(key)


def lacking(assumptions: AssumptionSet, spinnings: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """Labels of what a set lacks for the rule.

    spinnings: direction and spinning of the yarns that have no measured stops
    """
    yarns = dict.fromkeys(key for each in spinnings if (key := stops_key(*each)))
    keys = (*FED.values(), *yarns)
    return tuple(KINDS[key].label for key in keys if not assumptions.has(key))
