"""Some fields of an entry, read and validated without the others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Any

from pydantic import create_model

from server.actions.fields import Entry
from server.actions.nouns import NOUNS, Noun, read_entry


def read_some(path: str, given: Mapping[str, Any]) -> dict[str, Any]:
    """The given fields of a noun as values to store; a blank one takes its default.

    Rules that hold between fields are not looked at. Raises Refused.
    """
    noun = _part(path, tuple(sorted(given)))
    return read_entry(noun, given)


@lru_cache(maxsize=128)
def _part(path: str, names: tuple[str, ...]) -> Noun:
    noun = NOUNS[path]
    fields: dict[str, Any] = {
        name: (info.annotation, info) for name, info in noun.fields.items() if name in names
    }
    return replace(noun, entry=create_model(f"Part of {noun.one}", __base__=Entry, **fields))
