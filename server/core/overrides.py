"""A named person's decision that one finding of the gate is accepted, in words and for a time.

What was measured or documented may be accepted: it is a judgement of somebody who answers for it.
What expired, was not said or is late may not: it is asked or quoted again. What the construction
asks for is changed on the construction.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

ALL_ROLES = "all roles"


@dataclass(frozen=True, slots=True)
class Override:
    """One finding of one offer accepted in a role.

    about: the finding, as Finding.about names it; role: one of the gate's, or `all roles`
    on: day of the decision; until: last as-of day on which it holds, None without an end
    """

    id: int
    role: str
    about: str
    reason: str
    person: str
    on: date
    until: date | None = None

    def holds(self, role: str, as_of: date) -> bool:
        """Whether it counts in a role on a day."""
        return self.role in (ALL_ROLES, role) and (self.until is None or as_of <= self.until)

    @property
    def sentence(self) -> str:
        """Who accepted it, when, how long and why."""
        until = f", until {self.until}" if self.until else ""
        return f"accepted by {self.person} on {self.on}{until}: {self.reason}"


def in_words(overrides: Iterable[Override]) -> str:
    """What was accepted about an offer, for which role, by whom and why; "" for none."""
    return "; ".join(f"{each.about}, {each.role}: {each.sentence}" for each in overrides)
