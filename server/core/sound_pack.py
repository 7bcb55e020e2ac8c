"""Whether a pack that came from a file is sound: every place it points to is there.

A file may be well formed, carry the right digest, and yet point to a sheet that does not exist, or
hold a figure that is no number or a formula that is none. Pages, workbook and handout rely on what
is looked at here.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import fields, is_dataclass
from string import Formatter
from typing import Any

from server.core.errors import BadValue
from server.core.pack import (
    COST,
    INTERNAL,
    PRICE,
    Cloth,
    FrozenFormula,
    FrozenPair,
    FrozenSheet,
    Pack,
)
from server.core.tracing import CELLS

LARGEST = 1e60  # no figure of a pack is larger; products of a few stay numbers
REFERENCE = re.compile(r"\d{4}-\d{2}-\d{2}(-[a-z0-9]+)*")
_NAMES = "|".join(
    sorted(
        {
            re.escape(each)
            for text in CELLS.functions.values()
            for each in re.findall(r"[A-Z][A-Z.]*", text)
        },
        key=len,
        reverse=True,
    )
)
_IN_CELLS = re.compile(rf"(?:(?:{_NAMES})(?![A-Za-z.])|\d+(?:\.\d+)?(?:e[-+]?\d+)?|[-+*/(),])*")


def refuse_unsound(pack: Pack) -> None:
    """Raises BadValue for a pack that could not be shown, written to a file or computed again."""
    _refuse(pack.view != INTERNAL, "it is not the internal view")
    _refuse(pack.headline not in (COST, PRICE, ""), "what it compares is unknown")
    _refuse(pack.made_at is None or pack.made_at.tzinfo is None, "it does not say when it was made")
    _refuse(not REFERENCE.fullmatch(pack.reference), "its reference is none")
    _refuse(not re.fullmatch(r"[A-Z]{3}", pack.basis.currency), "its currency is none")
    _refuse(not _finite(pack), "a number in it is none, or is far too large")
    for name, formula in pack.formulas.items():
        _refuse(name != formula.name or not _is_formula(formula), f"formula {name} is none")
    for sheet in pack.sheets:
        _look_at_sheet(pack, sheet)
    for entry in pack.inputs:
        inside = not entry.where or re.match(r"/(?![/\\])", entry.where)
        _refuse(not inside, "an address in it leads elsewhere")
    for cloth in pack.cloths:
        _look_at_cloth(pack, cloth)


def _refuse(wrong: bool, why: str) -> None:
    if wrong:
        raise BadValue(
            f"This meeting pack cannot be relied on: {why[:200]}.",
            field="file",
            remedy="Export the pack again where it was frozen.",
        )


def _finite(thing: Any) -> bool:
    """Whether every number in plain data is one, and of a size that figures have."""
    if isinstance(thing, (int, float)):
        return math.isfinite(thing) and abs(thing) <= LARGEST
    if isinstance(thing, tuple):
        return all(_finite(each) for each in thing)
    if is_dataclass(thing):
        return all(_finite(getattr(thing, each.name)) for each in fields(thing))
    return True


def _is_formula(formula: FrozenFormula) -> bool:
    """Whether both texts hold arguments by name alone, and cells nothing but arithmetic."""
    cells = "".join(text for text, *_ in _parts(formula.cells) or ())
    if _parts(formula.words) is None or _parts(formula.cells) is None:
        return False
    return _IN_CELLS.fullmatch(cells) is not None


def _parts(text: str) -> list[tuple[str, str]] | None:
    """(text, argument) of a formula's text; None where it is more than names in braces."""
    try:
        found = [*Formatter().parse(text)]
    except ValueError:
        return None
    if any(spec or asked for _, _, spec, asked in found):
        return None
    if any(name is not None and not name.isidentifier() for _, name, *_ in found):
        return None
    return [(plain, name or "") for plain, name, *_ in found]


def _look_at_sheet(pack: Pack, sheet: FrozenSheet) -> None:
    """Each line is there once, and is fed by inputs and by the lines before it."""
    _refuse(not _places(sheet.lines, pack.lines), "a line of a sheet is missing")
    known = set(sheet.inputs)
    _refuse(len(known) != len(sheet.inputs), "an input of a sheet stands there twice")
    for at in sheet.lines:
        line = pack.lines[at]
        formula = pack.formulas.get(line.formula)
        _refuse(formula is None, f"the formula of {line.key} is missing")
        _refuse(line.key in known, f"{line.key} stands twice in a sheet")
        fed = dict(line.feeds)
        _refuse(not set(fed.values()) <= known, f"what feeds {line.key} is missing")
        if formula is not None:
            named = {name for text in (formula.words, formula.cells)
                     for _, name in _parts(text) or ()} - {""}  # fmt: skip
            _refuse(not named <= set(fed), f"the formula of {line.key} is fed by nothing")
        known.add(line.key)


def _look_at_cloth(pack: Pack, cloth: Cloth) -> None:
    keys = {pair.key for pair in cloth.pairs}
    _refuse(len(keys) != len(cloth.pairs) or "" in keys, f"two pairs of {cloth.code} are one")
    _refuse(not set(cloth.ladder) <= keys, f"a pair of the ladder of {cloth.code} is missing")
    best = {cell.best for row in cloth.cells for cell in row} - {""}
    _refuse(not best <= keys, f"a pair of the matrix of {cloth.code} is missing")
    wide = {len(row) for row in cloth.cells}
    _refuse(len(wide) > 1 or 0 in wide, f"the matrix of {cloth.code} is not square")
    for pair in cloth.pairs:
        _look_at_pair(pack, pair)


def _look_at_pair(pack: Pack, pair: FrozenPair) -> None:
    slots = [yarn.slot for yarn in pair.yarns]
    _refuse(len(set(slots)) != len(slots) or len(slots) < 2, f"the yarns of {pair.key} are not two")
    _refuse(not _places([pair.sheet], pack.sheets), f"the sheet of {pair.key} is missing")
    sheet = pack.sheets[pair.sheet]
    _refuse(not _places(pair.inputs, pack.inputs), f"an input of {pair.key} is missing")
    _refuse(len(pair.inputs) != len(sheet.inputs), f"the inputs of {pair.key} are not those asked")
    _refuse(len(pair.figures) != len(sheet.lines), f"the figures of {pair.key} are not its lines")


def _places(places: Iterable[int], among: tuple[Any, ...]) -> bool:
    return all(0 <= at < len(among) for at in places)
