"""What changed as sentences that can be read out."""

from __future__ import annotations

from server.core.pack import COST
from server.core.walk import CAUSES, MIX, PRICE, Step, Walk
from server.core.what_changed import COME, GONE, ClothChange, WhatChanged, day_of
from server.export.what_changed import share_of
from server.web.numbers import Writer, minus

PER_METRE, TODAY = "¤/m", "today"


def ends_of(found: WhatChanged) -> tuple[str, str]:
    """What the two ends are called: their days, nearer where the days are equal."""
    if found.until_today:
        return day_of(found.before).isoformat(), TODAY
    both = (found.before, found.after)
    days = tuple(day_of(pack).isoformat() for pack in both)
    times = tuple(f"{pack.made_at:%Y-%m-%d %H:%M}" if pack.made_at else "" for pack in both)
    names = tuple(pack.reference for pack in both)
    first, last = next((ends for ends in (days, times) if len(set(ends)) == 2), names)
    return first, last


def sentence(each: ClothChange, found: WhatChanged, writer: Writer) -> str:
    """What changed in one cloth, in a sentence that can be read out."""
    first, _ = ends_of(found)
    since = f"in {first}" if first == found.before.reference else f"on {first}"
    if each.walk is None:
        return _unwalked(each, since, found)
    verb = "costs" if found.figure == COST else "is priced"
    apart = writer.signed(each.walk.difference, PER_METRE)
    parts = [part for step in each.walk.steps if (part := _part(step, writer))]
    told = f": {', '.join(parts)}" if parts else ""
    if apart[0] not in "+−":
        same = writer.full(each.walk.after, PER_METRE)
        return f"{each.name} {verb} what it did {since}, {same}{told}."
    more = "more" if apart[0] == "+" else "less"
    return f"{each.name} {verb} {apart[1:]} {writer.unit(PER_METRE)} {more} than {since}{told}."


def _unwalked(each: ClothChange, since: str, found: WhatChanged) -> str:
    if each.state == COME:
        return f"{each.name} has come in; it was not looked at {since}."
    if each.state == GONE and found.until_today:
        return f"{each.name} was looked at {since} and cannot be compared today."
    if each.state == GONE:
        return f"{each.name} was looked at {since} and is not any more."
    return f"{each.name}: {each.reason}"


def _part(step: Step, writer: Writer) -> str:
    """`+0.040 price of Q14`; "" where the amount is nothing as written."""
    amount = writer.signed(step.amount, PER_METRE)
    if amount[0] not in "+−":
        return ""
    words = CAUSES[step.cause].words
    if step.cause == PRICE and step.names:
        words = f"{words} of {_and(step.names)}"
    elif step.cause == MIX and step.names:
        words = _and(step.names)
    return f"{amount} {words}"


def _and(names: tuple[str, ...]) -> str:
    return " and ".join((", ".join(names[:-1]), names[-1])) if len(names) > 1 else names[0]


def season_sentence(found: WhatChanged, writer: Writer) -> str:
    """The season over all cloths; "" where no metres are known."""
    totals = found.totals
    if not totals.cloths:
        return ""
    apart = writer.signed(totals.after - totals.before, "¤")
    parts = [
        f"{amount} {cause.words}"
        for cause in found.causes
        if (amount := writer.signed(totals.amounts[cause.key], "¤"))[0] in "+−"
    ]
    cloths = "1 construction" if totals.cloths == 1 else f"{totals.cloths} constructions"
    left = f"; {totals.left_out} without season metres left out" if totals.left_out else ""
    told = f": {', '.join(parts)}" if parts else ""
    return (
        f"Over {writer.full(totals.metres, 'm')} of the season in {cloths}{left}: {apart} "
        f"{writer.currency}{told}."
    )


def alt_text(each: ClothChange, walked: Walk, writer: Writer) -> str:
    """The waterfall in words."""
    return (
        f"Waterfall of {each.name}: from {writer.full(walked.before, PER_METRE)} to "
        f"{writer.full(walked.after, PER_METRE)}; the table holds the same figures."
    )


def relative(amount: float, before: float) -> str:
    share = share_of(amount, before)
    if share is None:
        return ""
    text = minus(f"{share * 100:+.2f}")
    return "0.00" if text in ("+0.00", "−0.00") else text


def signed(amount: float | None, unit: str, writer: Writer) -> str:
    """A signed amount; a dash where a cause moved nothing at all."""
    return "–" if not amount else writer.signed(amount, unit)
