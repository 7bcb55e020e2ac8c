"""One offer held to every role, and to every slot of a construction that it could fill."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from server.core.candidates import fits
from server.core.construction import Basis, Construction, Slot
from server.core.errors import CreelbookError
from server.core.gate import ROLES, Limit, Standing, examine, examine_for_role
from server.core.offer import Offer
from server.core.overrides import ALL_ROLES
from server.core.rates import Lane, RateBook


@dataclass(frozen=True)
class Place:
    """A slot of a construction that an offer is looked at for."""

    construction: Construction
    slot: Slot
    role: str
    standing: Standing


@dataclass(frozen=True)
class OfferGate:
    """An offer held to every role, and to every slot whose count and core it has."""

    offer: Offer
    basis: Basis
    roles: Mapping[str, Standing]
    places: tuple[Place, ...]

    def standings_in(self, role: str) -> tuple[Standing, ...]:
        """All standings of one role, or of all."""
        return (
            *(each for name, each in self.roles.items() if role in (ALL_ROLES, name)),
            *(each.standing for each in self.places if role in (ALL_ROLES, each.role)),
        )

    @property
    def open_to_decision(self) -> tuple[str, ...]:
        """Findings that somebody may accept here, in the order met."""
        return tuple(
            dict.fromkeys(
                finding.about
                for standing in self.standings_in(ALL_ROLES)
                for finding in standing.findings
                if finding.may_be_accepted
            )
        )


def gate_of_offer(
    offer: Offer,
    basis: Basis,
    rates: RateBook,
    constructions: Iterable[Construction],
    limits: Iterable[Limit],
) -> OfferGate:
    """Look at an offer for every role and every slot whose count and core it has."""
    limits, lane = tuple(limits), _lane(rates, offer, basis)
    places = tuple(
        Place(
            construction,
            slot,
            construction.role_of_warp if slot.direction == "warp" else "filling",
            examine(offer, slot, construction, basis, lane, limits),
        )
        for construction in constructions
        for slot in construction.slots
        if fits(offer, slot)
    )
    roles = {role: examine_for_role(offer, role, basis, lane, limits) for role in ROLES}
    return OfferGate(offer, basis, roles, places)


def _lane(rates: RateBook, offer: Offer, basis: Basis) -> Lane | None:
    try:
        return rates.lane(offer.country, basis.rates_on)
    except CreelbookError:
        return None
