"""Tables of the should-cost page: stages, factors, machine, gap to the offers, published bands."""

from __future__ import annotations

from server.actions.should_cost import ShouldCosts
from server.actions.what_if import EVERY
from server.core.process import MORE, Effect, effects_of_more
from server.core.should_cost import STAGES, ShouldCost, key_of
from server.web import addresses
from server.web.numbers import Writer, percent
from server.web.tables import Cell, Column, Row, Table

MACHINE = (
    ("spindle_rpm", "rpm"), ("rotor_rpm", "rpm"), ("turns_per_metre", "turns/m"),
    ("delivery_speed", "m/min"), ("output", "g/h"), ("position_hour", "¤/h"),
    ("traveller_speed", "m/s"),
)  # fmt: skip
RESULTS = (
    ("conversion", "Conversion, without fibre"),
    ("should_cost", "Should-cost, before margin"),
    ("price", "With fair margin"),
)
STRONG = tuple(key for key, _ in RESULTS)


def sentence(costs: ShouldCosts, writer: Writer) -> str:
    """Why ring costs more than rotor at this count, or ""."""
    figures = {each.route: each.figures() for each in costs.routes}
    if "ring" not in figures or "OE" not in figures:
        return ""
    dearer = figures["ring"]["should_cost"] - figures["OE"]["should_cost"]
    extra = figures["ring"]["roving"] + figures["ring"]["winding"]
    spinning = figures["ring"]["spinning"] - figures["OE"]["spinning"]
    faster = figures["OE"]["delivery_speed"] / figures["ring"]["delivery_speed"]
    return (
        f"At Ne {costs.ne:g} ring costs {writer.full(dearer, '¤/kg')} more than rotor: "
        f"{writer.full(extra, '¤/kg')} for roving and winding, {writer.full(spinning, '¤/kg')} "
        f"for spinning, the rest in fibre and other stages. A rotor delivers {faster:.1f} times "
        "as fast as a spindle."
    )


def _href(route: str, line: str, query: dict[str, str]) -> str:
    return addresses.with_query(f"/should-cost/{addresses.part(route)}/{line}", query)


def stage_table(costs: ShouldCosts, writer: Writer, query: dict[str, str]) -> Table:
    """Cost by stage, route beside route."""
    figures = {each.route: each.figures() for each in costs.routes}
    labels = [*((stage, stage.capitalize()) for stage in STAGES), *RESULTS]
    rows = []
    for key, label in labels:
        if not any(key in values for values in figures.values()):
            continue
        strong = key in STRONG
        rows.append(
            Row(
                (
                    Cell(label, strong=strong),
                    *(
                        Cell(
                            writer.text(figures[route][key], "¤/kg"),
                            href=_href(route, key, query),
                            strong=strong,
                        )
                        if key in figures[route]
                        else Cell("–")
                        for route in figures
                    ),
                ),
                key=key,
            )
        )
    return Table(
        caption="Cost of a kilogram of yarn by stage; each figure opens",
        columns=(
            Column("stage", "Stage"),
            *(Column(route, route, writer.unit("¤/kg"), numeric=True) for route in figures),
        ),
        rows=tuple(rows),
        empty="No route has all its assumptions yet; see below what is missing.",
        exports=(
            ("CSV", addresses.with_query("/should-cost.csv", query)),
            ("JSON", addresses.with_query("/should-cost.json", query)),
        ),
    )


def factor_table(costs: ShouldCosts, writer: Writer, query: dict[str, str]) -> Table:
    """The same cost by factor."""
    labels: dict[str, str] = {}
    for each in costs.routes:
        labels.update(each.factors)
    figures = {each.route: each.figures() for each in costs.routes}
    keys = {each.route: {key for key, _ in each.factors} for each in costs.routes}
    rows = [
        Row(
            (
                Cell(label),
                *(
                    Cell(
                        writer.text(figures[route][key], "¤/kg"),
                        href=None if key == "fibre_price" else _href(route, key, query),
                    )
                    if key in keys[route]
                    else Cell("–")
                    for route in figures
                ),
            ),
            key=key,
        )
        for key, label in labels.items()
    ]
    return Table(
        caption="The same cost by factor; spinning splits when its hour is entered in parts",
        columns=(
            Column("factor", "Factor"),
            *(Column(route, route, writer.unit("¤/kg"), numeric=True) for route in figures),
        ),
        rows=tuple(rows),
        empty="",
    )


def machine_table(costs: ShouldCosts, writer: Writer, query: dict[str, str]) -> Table:
    """Speeds, twist, output and the hour of a position."""
    rows = []
    for key, unit in MACHINE:
        cells, label = [], ""
        for each in costs.routes:
            figures = each.figures()
            if key in each.sheet.by_key:
                label = each.sheet.by_key[key].title
                cells.append(
                    Cell(writer.text(figures[key], unit), href=_href(each.route, key, query))
                )
            elif key in each.inputs:
                label = each.inputs[key].label
                cells.append(
                    Cell(
                        writer.text(float(each.inputs[key].value), unit),
                        href=each.inputs[key].where or None,
                    )
                )
            else:
                cells.append(Cell("–"))
        if label:
            rows.append(Row((Cell(label), *cells, Cell(writer.unit(unit))), key=key))
    return Table(
        caption="What the machine is assumed to do",
        columns=(
            Column("figure", "Figure"),
            *(Column(each.route, each.route, numeric=True) for each in costs.routes),
            Column("unit", "Unit"),
        ),
        rows=tuple(rows),
        empty="",
    )


def gap_table(costs: ShouldCosts, writer: Writer) -> Table:
    """Offers near the count beside the should-cost of their route."""
    return Table(
        caption="Offers near this count beside the should-cost of their own route",
        columns=(
            Column("offer", "Offer"),
            Column("process", "Process"),
            Column("should", "Should-cost", writer.unit("¤/kg"), numeric=True),
            Column("price", "Same basis", writer.unit("¤/kg"), numeric=True),
            Column("gap", "Gap", writer.unit("¤/kg"), numeric=True),
            Column(
                "explained",
                "Delivery and basis",
                writer.unit("¤/kg"),
                numeric=True,
                help="Legs, duty, financing and weight basis after the goods",
            ),
            Column(
                "unexplained",
                "Margin and unexplained",
                writer.unit("¤/kg"),
                numeric=True,
                help="Goods less should-cost: what the assumptions do not hold",
            ),
        ),
        rows=tuple(
            Row(
                (
                    Cell(
                        gap.landed.offer.code,
                        strong=True,
                        note=gap.landed.offer.supplier.name,
                        href=addresses.offer_path(gap.landed.offer.code),
                    ),
                    Cell(gap.landed.offer.yarn.process),
                    Cell(writer.text(gap.should, "¤/kg")),
                    Cell(writer.text(gap.landed.same_basis_price or 0.0, "¤/kg")),
                    Cell(writer.signed(gap.gap, "¤/kg"), strong=True),
                    Cell(writer.signed(gap.explained, "¤/kg")),
                    Cell(writer.signed(gap.unexplained, "¤/kg")),
                ),
                key=gap.landed.offer.code,
            )
            for gap in costs.gaps
        ),
        empty="No cotton offer near this count.",
    )


def band_table(costs: ShouldCosts, writer: Writer) -> Table:
    """The assumptions held against published bands."""
    return Table(
        caption="The same assumptions held against published bands of conversion cost",
        columns=(
            Column("route", "Route and count"),
            Column("modelled", "Modelled here", writer.unit("¤/kg"), numeric=True),
            Column("low", "Lowest", writer.unit("¤/kg"), numeric=True),
            Column("mean", "Mean", writer.unit("¤/kg"), numeric=True),
            Column("high", "Highest", writer.unit("¤/kg"), numeric=True),
            Column("source", "Source"),
        ),
        rows=tuple(
            Row(
                (
                    Cell(f"{band.route}, Ne {band.ne:g}"),
                    Cell(writer.text(band.modelled, "¤/kg"), strong=True),
                    Cell(writer.text(band.low, "¤/kg")),
                    Cell(writer.text(band.mean, "¤/kg")),
                    Cell(writer.text(band.high, "¤/kg")),
                    Cell(band.source),
                ),
                key=f"{band.route}-{band.ne:g}",
            )
            for band in costs.bands
        )
        if costs.currency == "USD"
        else (),
        empty="The published bands are in USD; report in USD to see them.",
    )


def effect_sentences(costs: ShouldCosts, writer: Writer) -> tuple[str, ...]:
    """What a what-if does to each route, in sentences."""
    said = []
    for each in costs.routes:
        now, was = (route.figures()["should_cost"] for route in (each, costs.stored[each.route]))
        if now == was:
            said.append(f"{each.route}: {writer.full(now, '¤/kg')} as stored.")
        else:
            apart = f"{writer.signed(now - was, '¤/kg')}, {percent(now / was - 1, signed=True)}"
            said.append(
                f"{each.route}: {writer.full(now, '¤/kg')} against {writer.text(was, '¤/kg')} "
                f"stored ({apart})."
            )
    return tuple(said)


def effect_table(costs: ShouldCosts, writer: Writer, query: dict[str, str]) -> Table:
    """The difference of a what-if against what is stored, stage by stage."""
    labels = [*((stage, stage.capitalize()) for stage in STAGES), *RESULTS]
    lines = [
        (key, label)
        for key, label in labels
        if any(key in each.sheet.by_key for each in costs.routes)
    ]
    return Table(
        caption="Now against stored, stage by stage; each figure opens",
        columns=(
            Column("stage", "Stage"),
            *(
                Column(each.route, each.route, writer.unit("¤/kg"), numeric=True)
                for each in costs.routes
            ),
        ),
        rows=tuple(
            Row(
                (
                    Cell(label, strong=key in STRONG),
                    *(
                        _apart(each, costs.stored[each.route], key, writer, query)
                        for each in costs.routes
                    ),
                ),
                key=key,
            )
            for key, label in lines
        ),
        empty="",
    )


def _apart(
    now: ShouldCost, stored: ShouldCost, key: str, writer: Writer, query: dict[str, str]
) -> Cell:
    if key not in now.sheet.by_key:
        return Cell("–")
    after, before = now.figures()[key], stored.figures()[key]
    if after == before:
        return Cell("as stored", href=_href(now.route, key, query))
    return Cell(
        writer.signed(after - before, "¤/kg"),
        href=_href(now.route, key, query),
        note=f"{writer.text(before, '¤/kg')} → {writer.text(after, '¤/kg')}",
        strong=key in STRONG,
    )


def more_table(costs: ShouldCosts, writer: Writer, query: dict[str, str]) -> Table:
    """What one tenth more of each input costs, route beside route."""
    effects = {
        each.route: {effect.name: effect for effect in effects_of_more(each)}
        for each in costs.routes
    }
    labels: dict[str, str] = {}
    for found in effects.values():
        labels.update({name: effect.label for name, effect in found.items()})
    return Table(
        caption=f"What {percent(MORE)} more of one input does to a kilogram, the others kept; each "
        "figure opens the should-cost it leads to",
        columns=(
            Column("input", "Input"),
            *(Column(route, route, writer.unit("¤/kg"), numeric=True) for route in effects),
        ),
        rows=tuple(
            Row(
                (
                    Cell(label),
                    *(
                        Cell(
                            writer.signed(found[name].apart, "¤/kg"),
                            href=_more_href(route, found[name], query),
                        )
                        if name in found
                        else Cell("–")
                        for route, found in effects.items()
                    ),
                ),
                key=name,
            )
            for name, label in labels.items()
        ),
        empty="",
    )


def _more_href(route: str, effect: Effect, query: dict[str, str]) -> str | None:
    """The should-cost with that much more; none where the value is typed already."""
    key = key_of(route, effect.name)
    if key in query or f"{EVERY}{effect.name}" in query:
        return None
    in_percent = effect.unit == "share"
    more = f"{effect.value * 100:.12g}" if in_percent else f"+{percent(MORE)}"
    return _href(route, "should_cost", {**query, key: more})
