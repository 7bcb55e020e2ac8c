"""Names of what slub and multi-count yarns make in the cloth: trade words, from class notes."""

from __future__ import annotations

from collections.abc import Iterable

SLUB = ("slub", "multi-count slub")
MULTI_COUNT = ("multi-count", "multi-count slub")
_OF_SLUB = {
    (True, True): "crosshatch",
    (True, False): "warp slub",
    (False, True): "filling slub",
}
_OF_MULTI_COUNT = {
    (True, True): "multi-count warp and filling",
    (True, False): "multi-count warp",
    (False, True): "multi-count filling",
}


def effect_in_cloth(yarns: Iterable[tuple[str, str]]) -> str:
    """What the effects of the yarns make in the cloth: warp slub, filling slub, crosshatch …

    yarns: (direction, effect) of each yarn; "" when all are plain
    """
    met = set(yarns)
    names = []
    for kinds, words in ((SLUB, _OF_SLUB), (MULTI_COUNT, _OF_MULTI_COUNT)):
        found = {direction for direction, effect in met if effect in kinds}
        names.append(words.get(("warp" in found, "filling" in found), ""))
    return ", ".join(name for name in names if name)
