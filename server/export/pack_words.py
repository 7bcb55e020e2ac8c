"""What pages and handouts say of a pack in the same words: basis, break-evens, whose it is."""

from __future__ import annotations

from server.core.loom_behaviour import FROM_STOPS
from server.core.pack import Cloth, FrozenTie, Pack
from server.export.numbers import Writer, percent, price_text

FOR_US = "Internal: not for the buyer"


def basis_line(pack: Pack) -> str:
    """On what the figures of a pack stand, in one line; what the pack does not say is left out."""
    basis = pack.basis
    parts = (
        f"“{basis.name}”" if basis.name else "",
        basis.currency,
        f"rates of {basis.rates_on}",
        f"delivered {basis.delivery_point}" if basis.delivery_point else "",
        f"offers as of {basis.as_of}",
        f"meeting {basis.meeting}",
        f"need by {basis.need_by}",
        f"prices for the {_quantity(pack)}" if basis.quantity else "",
        f"assumptions “{basis.assumption_set}”" if basis.assumption_set else "",
        "loom efficiency from stops" if basis.loom_rule == FROM_STOPS else "",
    )
    return " · ".join(part for part in parts if part)


def _quantity(pack: Pack) -> str:
    basis = pack.basis
    if basis.quantity == "metres" and basis.metres is not None:
        return f"quantity of {Writer('trade', '').full(basis.metres, 'm')}"
    return {"first price": "first quantity quoted", "season": "quantity of the season"}.get(
        basis.quantity, basis.quantity
    )


def told_ties(cloth: Cloth) -> list[FrozenTie]:
    """Break-evens, those that say the same of several pairs once."""
    told = {(each.label, each.unit, f"{each.value:.9g}"): each for each in reversed(cloth.ties)}
    return list(reversed(told.values()))


def tie_sentence(tie: FrozenTie, writer: Writer) -> str:
    """`Q01/Q07 stays cheaper than Q02/Q07 until …`, with today’s value and the distance."""
    away = percent(tie.value / tie.today - 1, signed=True) if tie.today else "from nothing"
    unit = tie.unit
    if unit[:3].isalpha() and unit[:3].isupper() and unit[3:4] == "/":
        value, today, shown = price_text(tie.value), price_text(tie.today), unit
    else:
        value, today, shown = (
            writer.text(tie.value, unit),
            writer.text(tie.today, unit),
            writer.unit(unit),
        )
    return (
        f"{tie.leader} stays cheaper than {tie.rival} until {tie.label} is {value} {shown} "
        f"(today {today}, {away})."
    )
