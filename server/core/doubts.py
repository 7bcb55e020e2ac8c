"""Doubts: what looks odd about an offer, each with the one question to ask the seller.

A doubt never changes the offer and never excludes it; the gate does that with figures.
"""

from __future__ import annotations

from server.core.offer import Offer

RING_TENACITY_CN_PER_TEX = 13.0  # carded ring yarn of denim counts; common practice, no source
ROTOR_HAIRINESS = 7.0  # rotor yarn is less hairy than ring yarn; common practice, no source
MEASURED_APART = 0.01  # measured and computed average count further apart than this [share]


def doubts_about(offer: Offer) -> tuple[str, ...]:
    """Everything odd about an offer, as questions."""
    yarn, found = offer.yarn, []
    if yarn.spinning == "OE" and "ring" in offer.yarn.description.lower():
        found.append(
            "The description says ring, the process is open-end. Ask: on which machine is it spun?"
        )
    if yarn.spinning == "OE" and yarn.twist == "S":
        found.append("S-twist from a rotor is unusual. Ask: is the direction seen on the yarn?")
    if yarn.spinning in ("ring", "compact ring") and _looks_like_rotor(offer):
        found.append(
            "Tenacity and hairiness look like a rotor yarn. Ask: on which machine is it spun?"
        )
    if yarn.effect != "plain" and yarn.count_basis == "base":
        found.append(
            "The count is that of the base between the slubs. Ask: what is the measured average?"
        )
    if yarn.core != "none" and yarn.count_basis not in ("total", "sheath"):
        found.append("Ask: is the count that of the whole yarn or of the sheath?")
    measured, average = offer.tests.get("average_ne"), yarn.average_ne
    if measured and average and abs(measured / average - 1) > MEASURED_APART:
        found.append(
            f"Measured Ne {measured:.2f} is not the quoted Ne {average:.2f}. "
            "Ask: which one will be invoiced?"
        )
    return tuple(found)


def _looks_like_rotor(offer: Offer) -> bool:
    tenacity, hairiness = offer.tests.get("tenacity"), offer.tests.get("hairiness")
    return (
        offer.yarn.core == "none"
        and tenacity is not None
        and hairiness is not None
        and tenacity < RING_TENACITY_CN_PER_TEX
        and hairiness < ROTOR_HAIRINESS
    )
