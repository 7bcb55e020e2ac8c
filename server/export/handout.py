"""The printed handout of a meeting pack as a plain document: every text ready, nothing drawn.

The document is made from the pack alone. What the pack does not hold is not in it, not even as an
empty row, so that a buyer's handout does not name what was hidden.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from server.core.pack import INTERNAL, Cloth, Pack
from server.export import cautions
from server.export.handout_appendix import appendix_of
from server.export.handout_cloth import cloth_page
from server.export.handout_parts import (
    Appendix,
    Cell,
    ClothPage,
    Column,
    Fact,
    Row,
    Table,
    Teller,
    figures,
    table_of,
)
from server.export.pack_words import FOR_US, basis_line

DRAFT = "DRAFT"
HEAD, FOOT, REFERENCE = 70, 240, 60  # letters of title, basis and reference on every page


@dataclass(frozen=True, slots=True)
class Handout:
    """A handout, page by page.

    head: what stands at the top of every page; view: "" or that it is for the house alone
    draft: the mark on every page of a pack that is not frozen, "" otherwise
    foot, frozen: the basis and the state of the pack, at the foot of every page
    """

    title: str
    head: str
    view: str
    draft: str
    basis: str
    foot: str
    frozen: str
    facts: tuple[Fact, ...]
    notes: tuple[str, ...]
    cloths: Table
    how_to_read: tuple[str, ...]
    cautions: tuple[str, ...]
    pages: tuple[ClothPage, ...]
    appendix: Appendix | None


def handout_of(pack: Pack) -> Handout:
    """The handout of a pack, in the view the pack has."""
    teller = Teller(pack)
    return Handout(
        title=pack.title,
        head=shortened(pack.title, HEAD),
        view=FOR_US if pack.view == INTERNAL else "",
        draft="" if pack.made_at else DRAFT,
        basis=basis_line(pack),
        foot=shortened(basis_line(pack), FOOT),
        frozen=_frozen(pack),
        facts=tuple(
            Fact(label, text)
            for label, text in (
                ("Buyer", pack.buyer),
                ("Meeting", pack.meeting.isoformat()),
                ("Reference", pack.reference),
            )
            if text
        ),
        notes=tuple(line for line in pack.notes.splitlines() if line.strip()),
        cloths=_cloths(teller),
        how_to_read=_how_to_read(teller),
        cautions=(*teller.estimate, cautions.WEIGHT),
        pages=tuple(cloth_page(teller, cloth) for cloth in pack.cloths),
        appendix=appendix_of(teller) if pack.inputs or pack.formulas else None,
    )


def frozen_at(pack: Pack) -> datetime | None:
    """When a pack was frozen, to the second in UTC; None for a draft."""
    made_at = pack.made_at
    if made_at is None:
        return None
    known = made_at if made_at.tzinfo else made_at.replace(tzinfo=UTC)
    return known.astimezone(UTC).replace(microsecond=0)


def _frozen(pack: Pack) -> str:
    at = frozen_at(pack)
    moment = f"Frozen {at:%Y-%m-%d %H:%M} UTC" if at else "Not frozen: figures may still move"
    return " · ".join((moment, shortened(pack.reference, REFERENCE), f"engine {pack.engine}"))


def shortened(text: str, most: int) -> str:
    """A text of so many letters at most."""
    plain = " ".join(text.split())
    return plain if len(plain) <= most else f"{plain[: most - 1]}…"


def _cloths(teller: Teller) -> Table:
    """The table of the constructions on the first page."""
    columns = [
        Column("Construction", wide=2),
        Column("Leader", wide=1),
        figures("Weight", teller.unit("oz/yd²")),
    ]
    if teller.headline:
        columns += [
            figures(f"{teller.headline.label}, metre", teller.unit("¤/m")),
            figures("Yard", teller.unit("¤/yd")),
            figures("Difference", teller.unit("¤/m")),
        ]
    rows = [_cloth_row(teller, each) for each in teller.pack.cloths]
    return table_of("Constructions", columns, rows)


def _cloth_row(teller: Teller, cloth: Cloth) -> Row:
    shown = cloth.foremost
    name = Cell((cloth.title,), strong=True)
    if shown is None:
        return Row((name, Cell(("no possible pair",))))
    about = teller.about(shown)
    cells = [name, Cell((shown.label,), (shown.combination,)), about.cell("ounces")]
    if teller.headline:
        cells += [
            about.cell(teller.headline.metre, strong=True),
            about.cell(teller.headline.yard),
            _apart(teller, cloth),
        ]
    return Row(tuple(cells))


def _apart(teller: Teller, cloth: Cloth) -> Cell:
    """How far the next pair is from the leader, or a variant from the cloth as it stands."""
    if len(cloth.pairs) < 2:
        return Cell()
    first, second = cloth.pairs[:2]
    if not cloth.variant and second.state != "possible":
        return Cell()
    apart = teller.apart(second, first)
    against = "against as it stands" if cloth.variant else f"to {second.label}, next"
    return Cell((apart,), (against,)) if apart else Cell()


def _how_to_read(teller: Teller) -> tuple[str, ...]:
    pack, said = teller.pack, []
    if any(not cloth.variant for cloth in pack.cloths):
        said.append(
            "Each construction has its page. The matrix holds the best possible pair of every "
            "spinning combination: warp down, filling across; ring/OE is ring in the warp, OE in "
            "the filling."
        )
        if teller.headline:
            said.append(
                "The ladder goes from the cheapest combination to the dearest; a bar is the rise "
                "above the cheapest, its dark part what that step adds. Differences are against "
                "the leader, the cheapest possible pair."
            )
    if any(cloth.variant for cloth in pack.cloths):
        said.append(
            "A variant stands beside the cloth as it stands: the plain swap makes the change and "
            "nothing else; the further columns hold one thing as it was."
        )
    rests = " The inputs and the formulas behind the figures stand in the appendix."
    weight = "Weight is that of finished, unwashed cloth unless a state is named."
    said.append(weight + (rests if pack.inputs or pack.formulas else ""))
    return tuple(said)
