"""Moisture: regain, content, and moving a price from one weight basis to another.

Regain is water on dry mass, content is water on total mass; they are never exchanged. Standard
regains are commercial agreements that differ by country and form, so each comes in as an input.
"""

from __future__ import annotations

from typing import Annotated, Any

from server.core.formula import formula
from server.core.quantities import Gram, Kilogram, MoneyPerKg, Quantity, Share, SignedShare, Tex

SampleGram = Annotated[Any, Quantity("g", above=0.0)]


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


@formula(source="ASTM D2494 (commercial mass); ISO 6741")
def blend_regain_of_two(*, first_share: Share, first_regain: Share, second_regain: Share) -> Share:
    """Regain of a blend of two fibres.

    first_share: share of the first fibre in the dry mass [share]
    first_regain: standard regain of the first fibre [share]
    second_regain: standard regain of the second fibre [share]
    Limits: shares are of the dry mass; the second fibre is what the first leaves.
    """
    return first_share * first_regain + (1 - first_share) * second_regain


@formula(source="ASTM D2494 (commercial mass); ISO 6741")
def blend_regain_of_three(
    *,
    first_share: Share,
    first_regain: Share,
    second_share: Share,
    second_regain: Share,
    third_regain: Share,
) -> Share:
    """Regain of a blend of three fibres.

    first_share: share of the first fibre in the dry mass [share]
    first_regain: standard regain of the first fibre [share]
    second_share: share of the second fibre in the dry mass [share]
    second_regain: standard regain of the second fibre [share]
    third_regain: standard regain of the third fibre [share]
    Limits: shares are of the dry mass; the third fibre is what the first two leave.
    """
    third_share = 1 - first_share - second_share
    return first_share * first_regain + second_share * second_regain + third_share * third_regain


@formula(source="definition: packing is not yarn")
def net_mass(*, gross_mass_kg: Kilogram, packing_mass_kg: Kilogram) -> Kilogram:
    """Mass of the yarn of a consignment, moisture as found.

    gross_mass_kg: mass as weighed, with packing [kg]
    packing_mass_kg: cones, bags, cartons and pallets [kg]
    """
    return gross_mass_kg - packing_mass_kg


@formula(source="ASTM D2494 (commercial mass); ISO 6741")
def content_from_sample(*, sample_mass_g: SampleGram, dry_sample_mass_g: Gram) -> SignedShare:
    """Moisture content from a sample weighed as taken and oven-dry.

    sample_mass_g: sample as taken [g]
    dry_sample_mass_g: the same sample oven-dry [g]
    """
    return (sample_mass_g - dry_sample_mass_g) / sample_mass_g


@formula(source="ASTM D2494 (commercial mass); ISO 6741")
def dry_mass(*, net_mass_kg: Kilogram, moisture_content: Share) -> Kilogram:
    """Oven-dry mass from the moisture content.

    net_mass_kg: mass of the yarn as found [kg]
    moisture_content: water found in the sample, on total mass [share]
    """
    return net_mass_kg * (1 - moisture_content)


@formula(source="ASTM D2494 (commercial mass); ISO 6741")
def dry_mass_from_regain(*, net_mass_kg: Kilogram, regain: Share) -> Kilogram:
    """Oven-dry mass from the moisture regain.

    net_mass_kg: mass of the yarn as found [kg]
    regain: water found in the sample, on dry mass [share]
    """
    return net_mass_kg / (1 + regain)


@formula(source="ASTM D2494 (commercial mass); ISO 6741")
def consignment_dry_mass(
    *, net_mass_kg: Kilogram, sample_mass_g: SampleGram, dry_sample_mass_g: Gram
) -> Kilogram:
    """Oven-dry mass of a consignment from its sample.

    net_mass_kg: mass of the yarn of the consignment as found, packing taken off [kg]
    sample_mass_g: sample as taken [g]
    dry_sample_mass_g: the same sample oven-dry [g]
    """
    return net_mass_kg * (dry_sample_mass_g / sample_mass_g)


@formula(source="ASTM D2494 (commercial mass); ISO 6741")
def conditioned_mass(*, dry_mass_kg: Kilogram, agreed_regain: Share, allowance: Share) -> Kilogram:
    """Mass to invoice from the oven-dry mass.

    dry_mass_kg: oven-dry mass [kg]
    agreed_regain: regain agreed in the contract, for this fibre mix [share]
    allowance: oil, size or wax agreed beyond the regain, on dry mass; usually 0 [share]
    """
    return dry_mass_kg * (1 + agreed_regain + allowance)


@formula(source="definition: the same fibre on the same length with other water")
def tex_at_other_regain(*, tex: Tex, from_regain: Share, to_regain: Share) -> Tex:
    """Linear density moved from one moisture basis to another.

    tex: linear density at the first regain [tex]
    from_regain: regain it was stated at [share]
    to_regain: regain it is wanted at [share]
    """
    return tex * (1 + to_regain) / (1 + from_regain)
