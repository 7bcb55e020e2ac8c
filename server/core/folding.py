"""Text as a search and an alphabetical list take it: without case and without accents."""

from __future__ import annotations

import unicodedata

_ALONE = str.maketrans({"ı": "i", "ł": "l", "ø": "o", "đ": "d"})  # letters no accent comes off


def folded(text: str) -> str:
    """Small letters, accents taken off: `Thuyền Sao` is `thuyen sao`."""
    if text.isascii():
        return text.lower()
    parts = unicodedata.normalize("NFKD", text.casefold())
    return (
        "".join(each for each in parts if not unicodedata.combining(each))
        .casefold()
        .translate(_ALONE)
    )
