"""Random comparisons: cloths, offers in every term and currency, rates quoted both ways."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from server.core.assumptions import AssumptionSet
from server.core.change import change
from server.core.compare import Comparison, compare
from server.core.construction import WEAVES, Basis, Construction, Slot
from server.core.costing import Costing, bought, own_spun
from server.core.freeze import Heading, Pool, assemble, freeze_comparison, freeze_variant
from server.core.landed import TERMS
from server.core.offer import KG_PER_PRICE_UNIT, Offer, PriceBreak
from server.core.pack import Cloth, Pack
from server.core.rates import ExchangeRate, RateBook
from server.core.sheet import Input, Sheet
from tests.builders import (
    DAY,
    FROZEN_AT,
    assumption_set,
    basis,
    charges,
    construction,
    demo_book,
    duty_rate,
    lane,
    offer,
    rate_book,
    slot,
    supplier,
    yarn,
)
from tests.core.loom import STOPS

COUNTRIES = ("Farland", "Nearland", "Homeland")
PAYMENTS = ("LC sight", "LC 90", "OA 30", "CAD", "TT advance", "TT 30/70")
CURRENCIES = ("USD", "EUR", "MXN", "USc")


@dataclass(frozen=True)
class Whole:
    """A column of a pack with the sheet and the inputs it was frozen from."""

    sheet: Sheet
    inputs: dict[str, Input]
    codes: dict[str, str]


@dataclass(frozen=True)
class RandomPack:
    """A pack with what is behind it. behind: cloth and pair -> its sheet and inputs"""

    pack: Pack
    behind: dict[tuple[int, str], Whole]
    comparisons: int


def random_pack(seed: int, comparisons: int) -> RandomPack:
    """Some comparisons on one basis, and a variant of the first of them."""
    chance = random.Random(seed)
    on, rates, assumed = _basis(chance), _rates(chance), _assumptions(chance)
    pool = Pool()
    cloths: list[Cloth] = []
    behind: dict[tuple[int, str], Whole] = {}
    while len(cloths) < comparisons:
        cloth = _construction(chance, len(cloths))
        compared = compare(cloth, on, assumed, rates, _offers(chance, cloth), ())
        frozen = freeze_comparison(compared, pool)
        pairs = frozen.pairs[: chance.randint(2, 5)]
        if not pairs:
            continue
        for pair in pairs:
            warp, _, filling = pair.key.partition("/")
            found = compared.find(warp, filling)
            assert found is not None
            sheet, inputs = compared.sheet_of(found)
            codes = {yarn.slot: yarn.code for yarn in pair.yarns}
            behind[len(cloths), pair.key] = Whole(sheet, inputs, codes)
        cloths.append(replace(frozen, pairs=pairs))
        if len(cloths) == 1:
            first = compared
    cloths.append(_variant(chance, first, rates, pool, behind, len(cloths)))
    heading = Heading(f"trial {seed}", "Random", "Nobody", date(2026, 3, 12))
    pack = assemble(heading, on, cloths, pool, engine="trial", made_at=FROZEN_AT)
    return RandomPack(pack, behind, comparisons)


def _variant(
    chance: random.Random,
    compared: Comparison,
    rates: RateBook,
    pool: Pool,
    behind: dict[tuple[int, str], Whole],
    at: int,
) -> Cloth:
    """More picks and another finish, on the first pair of a comparison."""
    pair = next(iter(compared.pairs(1)))
    members = {member.slot.name: member for member in pair.members}
    yarns = tuple(bought(members[each.name], each) for each in compared.construction.slots)
    before = Costing(compared.construction, compared.basis, compared.assumptions, yarns)
    picks = compared.construction.loom_ppi * chance.uniform(1.01, 1.1)
    finer = replace(before, construction=replace(before.construction, loom_ppi=picks))
    changed = change(before, finer, rates)
    columns = [("before", changed.before)]
    columns += [(each.key, costing) for each, costing in changed.reached]
    for key, costing in columns:
        codes = {each.slot.name: each.name for each in costing.yarns}
        behind[at, key] = Whole(costing.sheet, costing.inputs, codes)
    return freeze_variant("finer", "more picks", changed, pool)


def own_spun_pack() -> RandomPack:
    """A variant of own yarns of every route, from the assumptions of the demonstration."""
    book = demo_book()
    on = book.basis()
    cloth, assumed = book.construction("DN-1375"), book.assumption_set(on.assumption_set)
    pool, cloths = Pool(), []
    behind: dict[tuple[int, str], Whole] = {}
    for at, routes in enumerate((("ring", "OE"), ("OE", "ring"))):
        yarns = tuple(
            own_spun(each, route, assumed) for each, route in zip(cloth.slots, routes, strict=True)
        )
        before = Costing(cloth, on, assumed, yarns)
        finer = replace(before, construction=replace(cloth, loom_ppi=cloth.loom_ppi + 1))
        changed = change(before, finer, book.rates)
        for key, costing in [
            ("before", changed.before),
            *((each.key, costing) for each, costing in changed.reached),
        ]:
            codes = {each.slot.name: each.name for each in costing.yarns}
            behind[at, key] = Whole(costing.sheet, costing.inputs, codes)
        cloths.append(freeze_variant("/".join(routes), "spun here", changed, pool))
    heading = Heading("own", "Own yarns", "Nobody", date(2026, 3, 12))
    pack = assemble(heading, on, cloths, pool, engine="trial", made_at=FROZEN_AT)
    return RandomPack(pack, behind, len(cloths))


def _basis(chance: random.Random) -> Basis:
    rule = chance.choice(("as assumed", "from stops"))
    return basis(
        currency=chance.choice(("USD", "EUR")),
        loom_rule=rule,
        quantity=chance.choice(("first price", "season")),
        house_regain={"cotton": chance.uniform(0.07, 0.09)},
    )


def _assumptions(chance: random.Random) -> AssumptionSet:
    return assumption_set(
        **STOPS
        | {
            "fabric__loom_hour": chance.uniform(1, 9),
            "fabric__loom_efficiency": chance.uniform(0.6, 0.97),
            "fabric__overhead_rate": chance.uniform(0.02, 0.2),
            "fabric__seconds_share": chance.uniform(0.0, 0.08),
            "fabric__seconds_price_ratio": chance.uniform(0.0, 0.7),
            "fabric__margin_on_price": chance.uniform(0.05, 0.3),
            "fabric__looms_per_weaver": float(chance.randint(1, 24)),
            "fabric__warp_stops__ring": chance.uniform(0.5, 6),
            "fabric__filling_stops__OE": chance.uniform(0.5, 6),
        }
    )


def _rates(chance: random.Random) -> RateBook:
    day = date(2026, 1, 1)
    return rate_book(
        exchange_rates=(
            ExchangeRate(1, "EUR", "USD", chance.uniform(1.0, 1.3), day, "trial"),
            ExchangeRate(2, "USD", "MXN", chance.uniform(15, 21), day, "trial"),
        ),
        lanes=(
            lane(freight=chance.uniform(1e3, 6e3), inland=chance.uniform(0.01, 0.2)),
            lane(
                id=2,
                country="Nearland",
                route="truck",
                freight=chance.uniform(1e4, 6e4),
                inland=chance.uniform(0.2, 2.0),
                transit_days=chance.randint(2, 20),
                currency="MXN",
            ),
            lane(
                id=3, country="Homeland", route="road", freight=0.0, inland=0.0, transit_days=1,
                domestic=True,
            ),
        ),
        duties=(
            duty_rate(rate=chance.uniform(0, 0.25)),
            duty_rate(id=2, country="Nearland", rate=chance.uniform(0, 0.1), base="FOB"),
        ),
        charges=charges(
            insurance_rate=chance.uniform(0.001, 0.01),
            cost_of_money=chance.uniform(0.02, 0.15),
            clearance_rate=chance.uniform(0, 0.02),
        ),
    )  # fmt: skip


def _construction(chance: random.Random, at: int) -> Construction:
    finished = chance.uniform(50, 64)
    greige = finished + chance.uniform(1, 6)
    changes: dict[str, Any] = {
        "id": at + 1,
        "code": f"R-{at + 1:03d}",
        "name": chance.choice(("Alder", "Birch", "Cedar")),
        "weave": chance.choice(sorted(WEAVES)),
        "dyeing_route": chance.choice(("rope", "slasher", "none")),
        "total_ends": chance.uniform(3000, 5000),
        "loom_ppi": chance.uniform(34, 60),
        "length_shrink": chance.uniform(0.03, 0.18),
        "finished_width_in": finished,
        "reed_width_in": greige + chance.uniform(1, 6),
        "cuttable_width_in": finished - 1.5,
        "net_finish": chance.uniform(-0.05, 0.1),
        "tail_in": chance.choice((0.0, 1.5)),
        "heat_set": chance.random() < 0.4,
        "season_metres": chance.choice((None, 120_000.0)),
        "slots": (*_slots(chance, "warp"), *_slots(chance, "filling")),
    }
    if chance.random() < 0.4:
        changes |= {
            "finish_in_parts": True,
            "warp_retained": chance.uniform(0, 0.08),
            "scouring_loss": chance.uniform(0, 0.05),
            "coating_g_per_m2": chance.uniform(0, 20),
        }
    if chance.random() < 0.5:
        changes |= {"greige_width_in": greige, "greige_add_on": chance.choice((None, 0.12))}
    if chance.random() < 0.5:
        changes |= {"residual_length": 0.02, "residual_width": 0.03, "wash_mass_change": -0.05}
    if chance.random() < 0.5:
        changes |= {"garment_metres": 1.3, "garment_width_in": 59.0, "measured_oz": 13.2}
    return construction(**changes)


def _slots(chance: random.Random, direction: str) -> tuple[Slot, ...]:
    several = chance.choice((1, 1, 2)) if direction == "warp" else chance.choice((1, 1, 2, 3))
    first = chance.uniform(5, 12)
    return tuple(
        slot(
            direction,
            position=place,
            ne=first + place - 1,
            share_of_threads=1.0 if several == 1 else 1 / several,
            crimp=chance.uniform(0.04, 0.15) if direction == "warp" else 0.0,
            waste=chance.uniform(0.02, 0.07),
        )
        for place in range(1, several + 1)
    )


def _offers(chance: random.Random, cloth: Construction) -> list[Offer]:
    """Two or three offers near the count of every yarn, in any term, currency and unit."""
    made: list[Offer] = []
    for wanted in cloth.slots:
        for _ in range(chance.randint(2, 3)):
            number = 100 * cloth.id + len(made)
            made.append(_offer(chance, wanted.ne * chance.choice((1.0, 1.02, 0.98)), number))
    return made


def _offer(chance: random.Random, ne: float, number: int) -> Offer:
    currency, unit = chance.choice(CURRENCIES), chance.choice(sorted(KG_PER_PRICE_UNIT))
    of_dollar = {"USD": 1.0, "EUR": 0.85, "MXN": 17.2, "USc": 100.0}[currency]
    price = Decimal(f"{chance.uniform(1.8, 4.2) * KG_PER_PRICE_UNIT[unit] * of_dollar:.2f}")
    breaks = (PriceBreak(Decimal(20), price * Decimal("0.95")),) if chance.random() < 0.3 else ()
    tests = {"tenacity": 15.0, "evenness": 12.5, "hairiness": 8.0, "average_ne": ne}
    if chance.random() < 0.3:
        tests |= {"warp_stops": chance.uniform(0.5, 5), "filling_stops": chance.uniform(0.5, 5)}
    return offer(
        id=number,
        code=f"Z{number:04d}",
        price=price,
        currency=currency,
        price_unit=unit,
        breaks=breaks,
        term=chance.choice(TERMS),
        payment=chance.choice(PAYMENTS),
        lead_days=chance.randint(5, 60),
        tax_inside=chance.choice((0.0, 0.16)),
        quoted_regain=chance.uniform(0.06, 0.09),
        quoted_on=DAY,
        supplier=supplier(id=number, name=f"Mill {number}", country=chance.choice(COUNTRIES)),
        yarn=yarn(
            id=number,
            count=Decimal(repr(round(ne, 3))),
            spinning=chance.choice(("ring", "OE", "air-jet")),
        ),
        tests=tests,
    )
