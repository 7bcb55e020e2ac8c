"""An offer as entered, as the core sees it, before it is stored."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from server.core.offer import TEST_PROPERTIES, Core, Offer, PriceBreak, Supplier, Yarn
from server.core.patterns import read_pattern


def offer_as_entered(values: Mapping[str, Any], supplier: Supplier) -> Offer:
    """The offer that an entry describes.

    values: what `read_entry` gave; percentages as entered
    """
    cores = tuple(
        Core(float(values[f"core{place}_denier"]), float(values[f"core{place}_draft"]))
        for place in (1, 2)
        if values[f"core{place}_denier"] is not None and values[f"core{place}_draft"] is not None
    )
    yarn = Yarn(
        id=0,
        count=values["count"],
        count_system=values["count_system"],
        count_basis=values["count_basis"],
        spinning=values["spinning"],
        ply=values["ply"],
        preparation=values["preparation"],
        twist=values["twist"],
        effect=values["effect"],
        slub_added_mass=_share(values["slub_added_mass_percent"]),
        core=values["core"],
        cores=cores,
        fibre_mix=values["fibre_mix"],
        description=values["description"],
        pattern=read_pattern(values["pattern"]) if values["pattern"] else None,
    )
    return Offer(
        id=0,
        code=values["code"],
        supplier=supplier,
        yarn=yarn,
        as_quoted=values["as_quoted"],
        price=values["price"],
        currency=values["currency"],
        price_unit=values["price_unit"],
        term=values["term"],
        place=values["place"],
        payment=values["payment"],
        lead_days=values["lead_days"],
        quoted_on=values["quoted_on"] or date.min,
        valid_until=values["valid_until"],
        tax_inside=_share(values["tax_inside_percent"]) or 0.0,
        quoted_regain=_share(values["quoted_regain_percent"]),
        breaks=_breaks(values),
        break_kind=values["break_kind"],
        count_tolerance=_share(values["count_tolerance_percent"]),
        ships_from=values["ships_from"],
        tests={
            name: float(values[name]) for name in TEST_PROPERTIES if values.get(name) is not None
        },
    )


def _share(percent: Decimal | None) -> float | None:
    return None if percent is None else float(percent / 100)


def _breaks(values: Mapping[str, Any]) -> tuple[PriceBreak, ...]:
    return tuple(
        PriceBreak(values[f"break{place}_from_tonnes"], values[f"break{place}_price"])
        for place in (1, 2, 3)
        if values[f"break{place}_from_tonnes"] is not None
    )
