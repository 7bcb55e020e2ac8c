"""Cautions, short, for the places where a number can hurt. They defer to those who may decide."""

from __future__ import annotations

MODELLED = "Estimate from the assumptions listed; not a price and not an offer."
PRICED = "Worked out from the inputs of the day named; not an offer."
DUTY = (
    "Duty and fees are rates typed in here. Classification, preference and trade-remedy duties "
    "must be confirmed by a licensed customs broker for the shipment date."
)
TERMS = (
    "Delivery terms only guide the cost bridge; risk, insurance and title follow the contract. "
    "The three-letter terms are rules of the International Chamber of Commerce (Incoterms is its "
    "registered trademark)."
)
ORIGIN = (
    "Creelbook records origin documents; it does not judge admissibility and does not screen "
    "sanctions or trade remedies. Ask counsel."
)
TESTS = (
    "Test values are the supplier's until your laboratory confirms them with method, conditioning "
    "and sample size."
)
FANCY = "Standard yarn tolerances exclude slub and fancy yarns; agree your own."
WEIGHT = "Weight, width and shrinkage are calculated; confirm them on a trial piece before selling."
CHANGE = "Strength and hand after a change of yarn are not predicted; weave a trial."
RATES = "Exchange and freight rates hold as of their date; nothing updates itself."
SPEEDS = (
    "Speeds are assumptions for costing, not machine settings; cotton dust, noise and moving "
    "machinery come under local codes."
)
FINISH = (
    "Costing a dye or finish is no approval to run it: follow safety data sheets, local law and "
    "the buyer's restricted-substance list."
)
STOPS = (
    "Stops are the mill's own counts on its own looms, or an assumption; they do not predict "
    "strength. No published stops of denim in 100,000 picks, ring against rotor yarn, were found."
)
AIR_JET = "No published cost of air-jet yarn was found; every air-jet figure is your own."


def ranking(as_of: object, excluded: int) -> str:
    """The caution of every ranking."""
    noun = "offer is" if excluded == 1 else "offers are"
    return f"Based on offers valid as of {as_of}; {excluded} {noun} left out, see why below."


def as_of(day: object) -> str:
    """The caution of a ranking that says nothing of what was left out."""
    return f"Based on offers valid as of {day}."
