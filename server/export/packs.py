"""A pack as a table of pairs and as data. Everything comes from the pack, in either view."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import TypeAdapter

from server.core.pack import Cloth, FrozenPair, Pack
from server.export.csv_file import as_csv
from server.store.packs import StoredPack

_PACK = TypeAdapter(Pack)


@dataclass(frozen=True, slots=True)
class Compared:
    """A figure that tables of pairs show.

    heading: short; unit: ¤ is the reporting currency
    foremost: whether the internal page shows it too, where room is short
    """

    key: str
    heading: str
    unit: str
    foremost: bool = True


COMPARED = (
    Compared("ounces", "Weight", "oz/yd²"),
    Compared("mass_per_area", "Weight", "g/m²", foremost=False),
    Compared("warp.same_basis_price", "Warp yarn", "¤/kg"),
    Compared("filling.same_basis_price", "Filling yarn", "¤/kg"),
    Compared("yarn_cost", "Yarn", "¤/m"),
    Compared("fabric_cost", "Cost", "¤/m"),
    Compared("fabric_per_yard", "Cost", "¤/yd", foremost=False),
    Compared("fabric_per_area", "Cost, cuttable", "¤/m²"),
    Compared("fabric_per_kg", "Cost", "¤/kg", foremost=False),
    Compared("price_at_margin", "Price", "¤/m"),
    Compared("price_per_yard", "Price", "¤/yd", foremost=False),
    Compared("price_per_area", "Price, cuttable", "¤/m²", foremost=False),
    Compared("price_per_kg", "Price", "¤/kg", foremost=False),
    Compared("garment_fabric", "In one garment", "¤", foremost=False),
    Compared("season_cost", "Season", "¤", foremost=False),
)
"""Figures a table of pairs can show, in order; those a pack does not have are left out."""


def compared_in(pack: Pack, cloths: Sequence[Cloth] | None = None) -> tuple[Compared, ...]:
    """The figures that some pair of the cloths has."""
    pairs = [pair for cloth in (pack.cloths if cloths is None else cloths) for pair in cloth.pairs]
    return tuple(
        each
        for each in COMPARED
        if any(pack.value_of(pair, each.key) is not None for pair in pairs)
    )


def pairs_csv(pack: Pack) -> str:
    """Every pair of a pack as CSV, one row each, all digits."""
    figures = compared_in(pack)
    slots = _slots(pack)
    headings = ["construction", "variant", "pair", "combination", "standing"]
    headings += [f"{slot} {what}" for slot in slots for what in _YARN]
    headings += [
        f"{each.heading} [{each.unit.replace('¤', pack.basis.currency)}]" for each in figures
    ]
    rows = list(_rows(pack, slots, figures))
    fixed = len(headings) - len(figures)
    kept = [at for at in range(len(headings)) if at >= fixed or any(row[at] for row in rows)]
    return as_csv([headings[at] for at in kept], ([row[at] for at in kept] for row in rows))


_YARN = ("offer", "supplier", "country", "count", "spinning")


def _slots(pack: Pack) -> tuple[str, ...]:
    return tuple(
        dict.fromkeys(
            yarn.slot for cloth in pack.cloths for pair in cloth.pairs for yarn in pair.yarns
        )
    )


def _rows(pack: Pack, slots: Sequence[str], figures: Sequence[Compared]) -> Iterator[list[Any]]:
    for cloth in pack.cloths:
        for pair in cloth.pairs:
            row: list[Any] = [
                f"{cloth.code} {cloth.name}".strip(),
                cloth.variant,
                pair.label,
                pair.combination,
                pair.state,
            ]
            yarns = {yarn.slot: yarn for yarn in pair.yarns}
            for slot in slots:
                yarn = yarns.get(slot)
                row += (
                    (yarn.code, yarn.supplier, yarn.country, yarn.count, yarn.process)
                    if yarn
                    else [""] * len(_YARN)
                )
            yield [*row, *(pack.value_of(pair, each.key) for each in figures)]


def pack_document(pack: Pack) -> dict[str, Any]:
    """A pack as data, whole; each pair also tells its figures by name."""
    document: dict[str, Any] = _PACK.dump_python(pack, mode="json")
    for cloth, told in zip(pack.cloths, document["cloths"], strict=True):
        for pair, as_data in zip(cloth.pairs, told["pairs"], strict=True):
            as_data["figures"] = pack.figures_of(pair)
    return document


def digest_of(pack: Pack) -> str:
    """Tells one content of a pack, in one view, from any other."""
    return hashlib.sha256(_PACK.dump_json(pack)).hexdigest()


def figure_or_none(pack: Pack, pair: FrozenPair | None, key: str) -> float | None:
    """A figure of a pair, or None when there is no pair or no such figure."""
    return None if pair is None else pack.value_of(pair, key)


PACK_COLUMNS = (
    "reference", "title", "buyer", "meeting", "state", "cloths", "frozen_at", "engine", "digest",
    "follows", "superseded_by", "owner",
)  # fmt: skip


def pack_record(stored: StoredPack) -> dict[str, Any]:
    """A pack as a row of the list of packs."""
    return {
        "reference": stored.reference,
        "title": stored.title,
        "buyer": stored.buyer,
        "meeting": stored.meeting.isoformat(),
        "state": stored.state,
        "cloths": [
            f"{each.code}, {each.variant}" if each.variant else each.code for each in stored.cloths
        ],
        "frozen_at": stored.frozen_at.isoformat() if stored.frozen_at else None,
        "engine": stored.engine,
        "digest": stored.digest,
        "follows": stored.follows,
        "superseded_by": stored.superseded_by,
        "owner": stored.owner,
    }
