"""The address of the list of offers: what it shows is read from it and written back to it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from urllib.parse import parse_qsl

from starlette.datastructures import QueryParams

from server.actions.offer_list import (
    Place,
    Wanted,
    place_text,
    read_place,
    read_wanted,
    wanted_texts,
)
from server.web import addresses
from server.web.offer_columns import read_columns

PATH = "/offers"
_CARRIED = (*addresses.BASIS_NAMES, "units")


@dataclass(frozen=True, slots=True)
class OfferAddress:
    """One state of the list.

    columns: shown, in order; () for those the person keeps
    after, before: the row behind which, or before which, the page stands
    carried: the parts that change the basis or the units, as they stand
    """

    wanted: Wanted
    columns: tuple[str, ...] = ()
    after: Place | None = None
    before: Place | None = None
    carried: tuple[tuple[str, str], ...] = ()

    @property
    def sort(self) -> str:
        """Key of the sorted column, with a minus in front when descending."""
        return f"-{self.wanted.sort}" if self.wanted.descending else self.wanted.sort

    @property
    def view(self) -> OfferAddress:
        """The same from its first page."""
        return replace(self, after=None, before=None)

    def sorted_by(self, key: str) -> OfferAddress:
        """Sorted by a column: ascending at first, descending when asked again; the first page."""
        down = self.sort == key
        return replace(self.view, wanted=replace(self.wanted, sort=key, descending=down))

    def behind(self, place: Place) -> OfferAddress:
        """The page behind a row."""
        return replace(self, after=place, before=None)

    def ahead_of(self, place: Place) -> OfferAddress:
        """The page before a row."""
        return replace(self, after=None, before=place)

    def texts(self) -> dict[str, str]:
        """The query, name by name; what is as usual is left out."""
        texts = wanted_texts(self.wanted)
        texts |= {name: value for name, value in self.carried if value}
        if self.columns:
            texts["columns"] = ",".join(self.columns)
        if self.after:
            texts["after"] = place_text(self.after)
        if self.before:
            texts["before"] = place_text(self.before)
        return texts

    def href(self, ending: str = "") -> str:
        """The address; ending: such as `.csv`."""
        return addresses.with_query(f"{PATH}{ending}", self.texts())


def read_address(query: QueryParams) -> OfferAddress:
    """The state an address asks for. Raises BadValue."""
    wanted = read_wanted(query)
    after = read_place("after", query.get("after", ""), wanted)
    before = read_place("before", query.get("before", ""), wanted)
    return OfferAddress(
        wanted,
        read_columns((*query.getlist("columns"), *query.getlist("column"))),
        after,
        None if after else before,
        tuple((name, query[name]) for name in _CARRIED if query.get(name)),
    )


def sound_query(query: str) -> str:
    """A query of the list with only what the list knows, from its first page. Raises BadValue."""
    address = read_address(QueryParams(parse_qsl(query))).view
    return addresses.with_query("", address.texts()).removeprefix("?")


def basis_texts(address: OfferAddress) -> Mapping[str, str]:
    """The parts that change the basis."""
    return dict(address.carried)
