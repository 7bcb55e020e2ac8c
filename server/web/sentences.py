"""Break-evens as sentences, each with today’s value and the distance."""

from __future__ import annotations

from server.core.break_even import BreakEven
from server.web.numbers import Writer, percent, significant

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
    away = percent(each.distance, signed=True)
    today, tie = float(each.input.value), each.value
    if each.of:
        unit = each.input.unit
        what = f"{each.of} is quoted at {_price(tie)} {unit} (quoted {_price(today)}, {away})"
    elif each.name.startswith("exchange_rate."):
        quote, base = each.input.unit.split("/")
        if quote == "¤":  # a rate by way of a third currency
            quote, base = writer.currency, each.name.partition(".")[2]
        what = f"1 {base} = {_price(tie)} {quote} (today {_price(today)}, {away})"
    elif each.name.startswith("duty_rate."):
        origin = each.input.label.removeprefix("Duty, ")
        what = f"duty on {origin} is {percent(tie)} (today {percent(today)})"
    else:
        what = (
            f"{each.input.label} is {writer.full(tie, each.input.unit)} "
            f"(today {writer.text(today, each.input.unit)}, {away})"
        )
    return f"{ahead} stays cheaper than {behind} until {what}."


def _price(value: float) -> str:
    if value < 0.1:
        return significant(value)
    return f"{value:,.3f}" if value < 10 else f"{value:,.2f}"
