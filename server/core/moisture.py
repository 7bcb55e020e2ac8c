"""Moisture: regain, content, and moving a price from one weight basis to another."""

from __future__ import annotations

from server.core.formula import formula
from server.core.quantities import Kilogram, MoneyPerKg, Share


@formula(source="ASTM D2494 (commercial mass); ISO 6741")
def regain_from_content(*, moisture_content: Share) -> Share:
    """Moisture regain (water on dry mass) from moisture content (water on total mass).

    moisture_content: water on total mass [share]
    """
    return moisture_content / (1 - moisture_content)


@formula(source="ASTM D2494 (commercial mass); ISO 6741")
def content_from_regain(*, regain: Share) -> Share:
    """Moisture content (water on total mass) from moisture regain (water on dry mass).

    regain: water on dry mass [share]
    """
    return regain / (1 + regain)


@formula(source="ASTM D2494 (commercial mass); ISO 6741")
def invoice_mass(
    *, gross_mass_kg: Kilogram, moisture_content: Share, agreed_regain: Share
) -> Kilogram:
    """Correct invoice mass: oven-dry mass with the agreed regain added.

    gross_mass_kg: mass as weighed, packing taken off [kg]
    moisture_content: water found in the sample, on total mass [share]
    agreed_regain: regain agreed in the contract [share]
    """
    return gross_mass_kg * (1 - moisture_content) * (1 + agreed_regain)


@formula(source="ASTM D2494 (commercial mass); ISO 6741")
def same_basis_price(
    *, landed_price_per_kg: MoneyPerKg, quoted_regain: Share, house_regain: Share
) -> MoneyPerKg:
    """Landed price moved from the seller's weight basis to the house weight basis.

    landed_price_per_kg: landed price for a kilogram at the quoted regain [¤/kg]
    quoted_regain: regain the seller invoices at [share]
    house_regain: regain the house compares at, for this fibre mix [share]
    Limits: a blend is moved to the regain of its own mix, never to that of cotton.
    """
    return landed_price_per_kg * (1 + quoted_regain) / (1 + house_regain)
