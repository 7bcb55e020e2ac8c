"""Break-evens as sentences, each with today’s value and the distance."""

from __future__ import annotations

from server.core.break_even import BreakEven
from server.core.movements import Movement
from server.core.sheet import Input
from server.core.ties import Contest, Tie
from server.export.numbers import price_text as price_text
from server.export.ties import unit_of
from server.web.numbers import Writer, percent

MOST_SENTENCES = 8


def foremost_break_evens(found: tuple[BreakEven, ...]) -> list[BreakEven]:
    """One break-even for each input and pair of offers that differ, the nearest first."""
    seen, shown = set(), []
    for each in found:
        differing = tuple(
            sorted(
                {m.offer.code for m in each.leader.members}
                ^ {m.offer.code for m in each.rival.members}
            )
        )
        if (each.name, differing) not in seen:
            seen.add((each.name, differing))
            shown.append(each)
    return shown[:MOST_SENTENCES]


def sentence(each: BreakEven, writer: Writer) -> str:
    """A break-even as a sentence with today's value and the distance."""
    ahead = f"{each.leader.key} ({each.leader.process})"
    behind = f"{each.rival.key} ({each.rival.process})"
    what = _what(each.name, each.input, each.value, each.input.label, each.of, writer)
    return f"{ahead} stays cheaper than {behind} until {what}."


def tie_sentence(contest: Contest, tie: Tie, writer: Writer) -> str:
    """A tie of two options as a sentence with today's value and the distance."""
    movement, only = tie.movement, ""
    if len(movement.movers) == 1 and not movement.offer:
        only = f" in {(contest.first, contest.second)[movement.movers[0]].label} alone"
    of = movement.offer if movement.is_price else ""
    what = _what(movement.key, movement.input, tie.value, movement.label + only, of, writer)
    return f"{contest.leader.label} stays cheaper than {contest.rival.label} until {what}."


def movement_value(movement: Movement, value: float, writer: Writer) -> tuple[str, str]:
    """A value of a movement and its unit, as the trade writes them."""
    if movement.is_price or movement.key.startswith("exchange_rate."):
        return price_text(value), unit_of(movement, writer.currency)
    unit = movement.input.unit
    return writer.text(value, unit), writer.unit(unit)


def _what(name: str, entry: Input, tie: float, label: str, of: str, writer: Writer) -> str:
    today = float(entry.value)
    away = percent(tie / today - 1, signed=True)
    if of:
        quoted = f"quoted {price_text(today)}, {away}"
        return f"{of} is quoted at {price_text(tie)} {entry.unit} ({quoted})"
    if name.startswith("exchange_rate."):
        quote, base = entry.unit.split("/")
        if quote == "¤":  # a rate by way of a third currency
            quote, base = writer.currency, name.partition(".")[2]
        return f"1 {base} = {price_text(tie)} {quote} (today {price_text(today)}, {away})"
    if name.startswith("duty_rate."):
        origin = entry.label.removeprefix("Duty, ")
        return f"duty on {origin} is {percent(tie)} (today {percent(today)})"
    return (
        f"{label} is {writer.full(tie, entry.unit)} (today {writer.text(today, entry.unit)}, "
        f"{away})"
    )
