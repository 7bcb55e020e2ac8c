"""From an offer as quoted to its landed and same-basis price, one leg at a time.

Which legs the buyer pays follows from the delivery term; `landed_sheet` picks the lines, so no
formula asks for the term. Every leg is a line of its own and the legs sum to the landed price.
"""

from __future__ import annotations

from functools import cache

from server.core.formula import formula
from server.core.moisture import same_basis_price
from server.core.payment import days_financed, financing
from server.core.quantities import (
    ExchangeRate,
    Kilogram,
    Money,
    MoneyPerKg,
    PositiveFactor,
    PricePerKg,
    QuotedMoney,
    QuotedMoneyPerKg,
    Share,
    SignedShare,
)
from server.core.sheet import Line, Sheet


@formula(source="definition: a price without the tax inside it")
def price_without_tax(*, quoted_price: QuotedMoney, tax_inside: SignedShare) -> QuotedMoney:
    """Quoted price with the tax inside it taken out.

    quoted_price: price as quoted, for the quoted unit [¤q]
    tax_inside: rate of the tax included in the price; 0 when none is [share]
    """
    return quoted_price / (1 + tax_inside)


@formula(source="definition; NIST Handbook 44 for the pound")
def quoted_price_per_kg(
    *, price_without_tax: QuotedMoney, unit_mass_kg: Kilogram
) -> QuotedMoneyPerKg:
    """Price per kilogram in the currency of the quote.

    price_without_tax: price for the quoted unit, tax taken out [¤q]
    unit_mass_kg: mass of the quoted unit [kg]
    """
    return price_without_tax / unit_mass_kg


@formula(source="definition of the exchange rate")
def goods_price(
    *, quoted_price_per_kg: QuotedMoneyPerKg, exchange_rate: ExchangeRate
) -> PricePerKg:
    """Price of the goods in the reporting currency.

    quoted_price_per_kg: price per kilogram in the quoted currency [¤q/kg]
    exchange_rate: reporting currency for one unit of the quoted currency [¤/¤q]
    """
    return quoted_price_per_kg * exchange_rate


@formula(source="definition: freight is paid per load")
def freight_per_kg(*, load_freight: Money, load_mass_kg: Kilogram) -> PricePerKg:
    """Main carriage per kilogram.

    load_freight: freight for one load (container or truck) in the reporting currency [¤]
    load_mass_kg: net yarn in one load [kg]
    """
    return load_freight / load_mass_kg


@formula(source="UN International Merchandise Trade Statistics: cost and freight value")
def cost_and_freight(
    *, goods_price: PricePerKg, origin_haulage: PricePerKg, freight_per_kg: PricePerKg
) -> PricePerKg:
    """Goods with the haulage to the carrier and the main carriage.

    goods_price: goods [¤/kg]
    origin_haulage: from the seller's door or dock to the main carrier [¤/kg]
    freight_per_kg: main carriage [¤/kg]
    """
    return goods_price + origin_haulage + freight_per_kg


@formula(
    source="Marine Insurance Act 1906 s. 16 for the insurable value; the 110 % is contract custom"
)
def insurance(
    *, cost_and_freight: PricePerKg, insurance_rate: Share, insured_share: PositiveFactor
) -> PricePerKg:
    """Insurance premium when the insured value is a multiple of CIF and CIF holds the premium.

    cost_and_freight: goods and freight [¤/kg]
    insurance_rate: premium on the insured value [share]
    insured_share: insured value on CIF, by custom 1.10 [×]
    """
    return cost_and_freight * insurance_rate * insured_share / (1 - insurance_rate * insured_share)


@formula(source="WTO Customs Valuation Agreement, article 8.2 (CIF value)")
def cif_value(*, cost_and_freight: PricePerKg, insurance: PricePerKg) -> PricePerKg:
    """Value at the port of entry: cost, insurance and freight.

    cost_and_freight: goods and freight [¤/kg]
    insurance: premium [¤/kg]
    """
    return cost_and_freight + insurance


@formula(source="definition: the premium inside a price that stands at CIF")
def insurance_inside(
    *, goods_price: PricePerKg, insurance_rate: Share, insured_share: PositiveFactor
) -> PricePerKg:
    """Insurance premium inside a price quoted at CIF, taken at the house rate.

    goods_price: price at CIF [¤/kg]
    insurance_rate: premium on the insured value [share]
    insured_share: insured value on CIF [×]
    """
    return goods_price * insurance_rate * insured_share


@formula(source="WTO Customs Valuation Agreement, article 8.2 (value without the voyage)")
def fob_value(
    *,
    goods_price: PricePerKg,
    origin_haulage: PricePerKg,
    freight_inside: PricePerKg,
    insurance_inside: PricePerKg,
) -> PricePerKg:
    """Value at the port of shipment: what the price holds of the voyage taken out.

    goods_price: price as quoted, for a kilogram [¤/kg]
    origin_haulage: haulage to the port that the buyer pays [¤/kg]
    freight_inside: main carriage inside the price, at the rate of the lane [¤/kg]
    insurance_inside: insurance inside the price [¤/kg]
    Limits: customs takes the freight shown on the documents; the lane's rate stands in for it.
    """
    return goods_price + origin_haulage - freight_inside - insurance_inside


@formula(source="WTO Customs Valuation Agreement, article 8 (rate on the customs value)")
def duty(*, customs_value: PricePerKg, duty_rate: SignedShare) -> PricePerKg:
    """Import duty.

    customs_value: the value the importing country's customs law takes, CIF or FOB [¤/kg]
    duty_rate: rate for this origin and tariff line [share]
    Limits: rates are typed in by the user; classification and preference need a customs broker.
    """
    return customs_value * duty_rate


@formula(source="common practice, no source (broker's fee as a share of value)")
def clearance(*, cif_value: PricePerKg, clearance_rate: Share) -> PricePerKg:
    """Customs clearance, port and broker's fees.

    cif_value: value at the port of entry [¤/kg]
    clearance_rate: fees on that value [share]
    """
    return cif_value * clearance_rate


@formula(source="definition: the legs of a delivery add up")
def landed_price(
    *,
    cif_value: PricePerKg,
    duty: PricePerKg,
    clearance: PricePerKg,
    inland: PricePerKg,
    financing: MoneyPerKg,
) -> MoneyPerKg:
    """Landed price at the mill.

    cif_value: value at the port of entry [¤/kg]
    duty: import duty [¤/kg]
    clearance: customs clearance and fees [¤/kg]
    inland: from the port to the mill [¤/kg]
    financing: cost of money until arrival; negative when the seller gives credit [¤/kg]
    Limits: recoverable value-added tax is cash flow, not cost, and stays out.
    """
    return cif_value + duty + clearance + inland + financing


@formula(source="definition: a charge per kilogram, as agreed")
def leg_as_charged(*, charge_per_kg: PricePerKg) -> PricePerKg:
    """A leg of the delivery that the buyer pays.

    charge_per_kg: charge for the leg [¤/kg]
    """
    return charge_per_kg


@formula(source="contract custom: insured for 110 % (ICC delivery terms, CIF and CIP)")
def insured_value(*, value: PricePerKg, insured_share: PositiveFactor) -> PricePerKg:
    """Value insured, as a multiple of a stated value.

    value: the value the contract names, CIF or invoice [¤/kg]
    insured_share: insured value on it, by custom 1.10 [×]
    Limits: 110 % of the invoice is not 110 % of CIF when the invoice is FOB.
    """
    return value * insured_share


@formula(source="definition: a premium on a stated value")
def insurance_on_value(*, insured_value: PricePerKg, insurance_rate: Share) -> PricePerKg:
    """Insurance premium when the insured value is stated and does not hold the premium.

    insured_value: value insured, as stated [¤/kg]
    insurance_rate: premium on the insured value [share]
    """
    return insured_value * insurance_rate


@formula(source="DPD Germany, customs notes (tax on goods, duty and carriage to the destination)")
def import_tax_base(
    *, customs_value: PricePerKg, duty: PricePerKg, inland_in_base: PricePerKg
) -> PricePerKg:
    """Base of the import value-added tax.

    customs_value: the value the importing country's customs law takes [¤/kg]
    duty: import duty [¤/kg]
    inland_in_base: inland carriage and charges that the country counts in; 0 where none [¤/kg]
    """
    return customs_value + duty + inland_in_base


@formula(source="definition: a rate on its base")
def import_tax(*, import_tax_base: PricePerKg, import_tax_rate: SignedShare) -> PricePerKg:
    """Import value-added tax.

    import_tax_base: base of the tax [¤/kg]
    import_tax_rate: rate of the tax [share]
    """
    return import_tax_base * import_tax_rate


@formula(source="definition: tax that comes back is cash flow, the rest is cost")
def landed_price_with_tax(
    *, landed_price: MoneyPerKg, import_tax: PricePerKg, recoverable_share: Share
) -> MoneyPerKg:
    """Landed price with the import tax that does not come back.

    landed_price: landed price without the tax [¤/kg]
    import_tax: import value-added tax paid [¤/kg]
    recoverable_share: share of the tax that comes back; 1 for a registered mill [share]
    """
    return landed_price + import_tax * (1 - recoverable_share)


TERMS = ("EXW", "FCA", "FAS", "FOB", "CFR", "CPT", "CIF", "CIP", "DAP", "DPU", "DDP")
_BUYER_HAULS_ORIGIN = {"EXW", "FCA", "FAS"}
_BUYER_PAYS_FREIGHT = {"EXW", "FCA", "FAS", "FOB"}
_BUYER_INSURES = _BUYER_PAYS_FREIGHT | {"CFR", "CPT"}
_BUYER_PAYS_INLAND = _BUYER_INSURES | {"CIF", "CIP"}

LEGS = (
    "goods_price",
    "origin_haulage",
    "freight",
    "insurance",
    "duty",
    "clearance",
    "inland",
    "financing",
)
IN_THE_PRICE = "in_the_price"  # the input, always zero, that feeds a leg the seller has paid


@cache
def landed_sheet(term: str, *, duty_on_fob: bool = False) -> Sheet:
    """The lines from quoted price to same-basis price for one delivery term.

    term: one of TERMS; who pays which leg is condensed from the public short texts of the
        ICC terms and the rule book governs (see the cautions)
    duty_on_fob: True where customs law values goods without international freight

    A leg inside the seller's price has no line; the lines that would use it take the input
    `in_the_price`, which is zero.
    """
    legs = {
        "origin_haulage": (
            term in _BUYER_HAULS_ORIGIN,
            Line(
                "origin_haulage",
                leg_as_charged,
                {"charge_per_kg": "origin_charge"},
                "Origin haulage",
            ),
        ),
        "freight": (
            term in _BUYER_PAYS_FREIGHT,
            Line("freight", freight_per_kg, {}, "Main carriage"),
        ),
        "insurance": (term in _BUYER_INSURES, Line("insurance", insurance, {}, "Insurance")),
        "duty": (
            term != "DDP",
            Line(
                "duty",
                duty,
                {"customs_value": "fob_value" if duty_on_fob else "cif_value"},
                "Import duty",
            ),
        ),
        "clearance": (term != "DDP", Line("clearance", clearance, {}, "Clearance and fees")),
        "inland": (
            term in _BUYER_PAYS_INLAND,
            Line(
                "inland", leg_as_charged, {"charge_per_kg": "inland_charge"}, "Inland to the mill"
            ),
        ),
    }
    feed = {key: key if paid else IN_THE_PRICE for key, (paid, _) in legs.items()}
    lines = [
        Line("price_without_tax", price_without_tax),
        Line("quoted_price_per_kg", quoted_price_per_kg),
        Line("goods_price", goods_price, {}, "Goods"),
        legs["origin_haulage"][1],
        legs["freight"][1],
        Line(
            "cost_and_freight",
            cost_and_freight,
            {"origin_haulage": feed["origin_haulage"], "freight_per_kg": feed["freight"]},
        ),
        legs["insurance"][1],
        Line("cif_value", cif_value, {"insurance": feed["insurance"]}),
        *(_fob_lines(term, feed["origin_haulage"]) if duty_on_fob and term != "DDP" else ()),
        legs["duty"][1],
        legs["clearance"][1],
        legs["inland"][1],
        Line("days_financed", days_financed),
        Line("financing", financing, {"invoice_price": "goods_price"}, "Financing"),
        Line(
            "landed_price",
            landed_price,
            {key: feed[key] for key in ("duty", "clearance", "inland")},
        ),
        Line(
            "same_basis_price",
            same_basis_price,
            {"landed_price_per_kg": "landed_price"},
            "Same-basis price",
        ),
    ]
    unpaid = {key for key, (paid, _) in legs.items() if not paid}
    return Sheet(tuple(line for line in lines if line.key not in unpaid))


def _fob_lines(term: str, origin_haulage: str) -> tuple[Line, ...]:
    """The customs value where the voyage is not dutiable."""
    lines, feeds = [], {"origin_haulage": origin_haulage}
    for key, formula_used, paid_by_buyer in (
        ("freight_inside", freight_per_kg, _BUYER_PAYS_FREIGHT),
        ("insurance_inside", insurance_inside, _BUYER_INSURES),
    ):
        if term in paid_by_buyer:
            feeds[key] = IN_THE_PRICE
        else:
            lines.append(
                Line(key, formula_used, {}, f"{key.partition('_')[0].capitalize()} inside")
            )
    return (*lines, Line("fob_value", fob_value, feeds))
