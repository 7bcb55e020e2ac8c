"""Addresses of pages, built in one place; a query is kept, changed, or dropped by name."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from urllib.parse import quote, urlencode

BASIS_NAMES = (
    "basis", "currency", "rates_on", "as_of", "meeting", "need_by", "quantity", "metres",
    "loom_rule", "assumption_set",
)  # fmt: skip


@lru_cache(maxsize=4096)
def part(text: str) -> str:
    """One part of a path."""
    return quote(text, safe="")


def with_query(path: str, query: Mapping[str, str]) -> str:
    """Path and query; empty values are left out."""
    kept = {name: value for name, value in query.items() if value}
    return f"{path}?{urlencode(kept)}" if kept else path


def basis_query(query: Mapping[str, str]) -> dict[str, str]:
    """The part of a query that changes the basis."""
    return {name: query[name] for name in BASIS_NAMES if query.get(name)}


def compare_path(code: str) -> str:
    """The comparison of a construction."""
    return f"/compare/{part(code)}"


def pair_path(code: str, key: str) -> str:
    """One pair of a comparison. key: `Q09/Q14`."""
    return f"{compare_path(code)}/{'/'.join(part(each) for each in key.split('/'))}"


def map_path(code: str, set_name: str = "") -> str:
    """The map of the cheapest option of a construction, under an assumption set."""
    return with_query(f"{compare_path(code)}/map", {"assumption_set": set_name})


def pack_path(reference: str) -> str:
    """One meeting pack."""
    return f"/meetings/{part(reference)}"


def put_path(code: str, query: Mapping[str, str], *, variant: str = "", pair: str = "") -> str:
    """Where a comparison, a pair or a variant is put into a meeting pack."""
    asked = {"construction": code, "variant": variant, "pair": pair, **basis_query(query)}
    return with_query("/meetings/put", asked)


def offer_path(code: str) -> str:
    """One offer."""
    return f"/offers/{part(code)}"


def supplier_path(name: str) -> str:
    """One supplier."""
    return f"/suppliers/{part(name)}"


def negotiation_path(name: str) -> str:
    """The negotiation sheet of a supplier."""
    return f"{supplier_path(name)}/negotiation"


def construction_path(code: str) -> str:
    """One construction."""
    return f"/constructions/{part(code)}"


def change_path(code: str) -> str:
    """The change desk of a construction."""
    return f"{construction_path(code)}/change"


def variants_path(code: str) -> str:
    """The variants of a construction."""
    return f"{construction_path(code)}/variants"


def ties_path(code: str) -> str:
    """Where two options of a construction cost the same."""
    return f"{construction_path(code)}/break-even"
