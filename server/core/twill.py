"""Twist of the yarn against the hand of the twill: what may be said, and the cloth it is said of.

The fibres on the face of a warp-faced twill slope as the twist of the warp: Z as "/", S as "\\".
J. T. Taylor (Cotton Weaving and Designing, 1909): the twill is clearest where it runs against the
yarn. Nothing is said about softness; pages contradict each other there.
"""

from __future__ import annotations

from dataclasses import dataclass

from server.core.construction import WEAVES, Construction

SOURCE = "J. T. Taylor, Cotton Weaving and Designing, 6th ed., 1909"
CONFIRM = "Confirm on a hand-loom; no claim about softness."
ROTOR = "Rotor yarn is Z only, says a trade page (weak)."
SLOPES = {"Z": "/", "S": "\\"}
HAND_OF = {"right": "/", "left": "\\"}
WARP_FACED = ("3/1 twill", "2/1 twill", "4/1 satin", "broken twill")
TWILLS = ("3/1 twill", "2/1 twill", "2/2 twill")
_BROKEN_ORDER = (0, 1, 3, 2)  # a 4-end twill whose direction turns after two ends
_SATIN_MOVE = 2


@dataclass(frozen=True, slots=True)
class TwistOnTwill:
    """One warp twist on one weave and hand.

    relation: "opposed", "same", or "" where no single line can be opposed or met
    sentence: what may be said, with its source
    """

    weave: str
    hand: str
    twist: str
    relation: str
    sentence: str

    @property
    def has_line(self) -> bool:
        """Whether the face shows one diagonal line."""
        return self.weave in TWILLS and self.hand in HAND_OF


def twist_on_twill(weave: str, hand: str, twist: str) -> TwistOnTwill:
    """What the twist of the warp does to the line of the face, as far as it may be said.

    weave: one of WEAVES; hand: right, left or none; twist: Z, S, or any word for not known
    """
    slope = SLOPES.get(twist)
    relation = ""
    if weave == "broken twill":
        said = (
            "Broken twill: its direction alternates, so no twist of the warp is opposed to it all "
            "along; the two halves look alike only on a trial."
        )
    elif weave not in TWILLS:
        said = f"A {weave} weave has no twill line for the twist to meet."
    elif hand not in HAND_OF:
        said = "The hand of the twill is not said; enter it to see what the twist does to the line."
    elif slope is None:
        clear = clear_twist(hand)
        how = "left open" if twist == "any" else "not known"
        said = (
            f"The twist of the warp is {how}: {clear}-twist would be opposed to a "
            f"{hand}-hand twill and give the clearer line, {other(clear)}-twist the flatter one "
            f"({SOURCE}). {CONFIRM}"
        )
    else:
        opposed = twist == clear_twist(hand)
        relation = "opposed" if opposed else "same"
        line = "opposed: a clearer line" if opposed else "the same way: a flatter line"
        said = (
            f"{twist}-twist warp in a {hand}-hand twill: twist and twill run {line} "
            f"({SOURCE}). {CONFIRM}"
        )
    return TwistOnTwill(weave, hand, twist if slope else "", relation, said)


def clear_twist(hand: str) -> str:
    """The warp twist that is opposed to a twill: Z for left-hand, S for right-hand."""
    return "Z" if hand == "left" else "S"


def other(twist: str) -> str:
    """The other direction of twist."""
    return "S" if twist == "Z" else "Z"


def twist_wanted_on(construction: Construction) -> TwistOnTwill:
    """The twist a construction asks of its main warp yarn, on its twill."""
    slots = construction.slots_of("warp")
    twist = slots[0].twist if slots else "any"
    return twist_on_twill(construction.weave, construction.twill_hand, twist)


def warp_up(weave: str, hand: str, end: int, pick: int) -> bool:
    """Whether the warp lies on the face where an end crosses a pick.

    end: counted from the left; pick: counted from below
    A hand that is not said is drawn as right.
    """
    repeat = WEAVES[weave][0]
    across = -end if hand == "left" else end
    if weave == "plain":
        return (end + pick) % 2 == 0
    if weave == "2/2 twill":
        return (pick - across) % repeat < 2
    if weave == "4/1 satin":
        return (pick - _SATIN_MOVE * across) % repeat != 0
    if weave == "broken twill":
        return pick % repeat != _BROKEN_ORDER[across % repeat]
    return (pick - across) % repeat != 0
