"""What if: values of an assumption set that a request changes and nobody stores."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from server.core.assumptions import Kind
from server.core.errors import BadValue


@dataclass(frozen=True, slots=True)
class ChangedValue:
    """One stored value and what it becomes, both as entered (shares in percent).

    row_id: the stored value; at_ne: the count it is entered at [Ne]
    """

    row_id: int
    kind: Kind
    at_ne: Decimal | None
    before: Decimal
    after: Decimal


@dataclass(frozen=True, eq=False)
class WhatIf:
    """What a request changes of a set.

    typed: name -> text, blank ones left out
    changed: every value that is not as stored
    errors, doubts: name -> sentence
    """

    typed: Mapping[str, str]
    changed: tuple[ChangedValue, ...]
    errors: Mapping[str, str]
    doubts: Mapping[str, str]

    def refuse_errors(self) -> None:
        """Where a fault cannot be shown beside its field. Raises BadValue with the first."""
        for name, wrong in self.errors.items():
            raise BadValue(f"{name}: {wrong}.", field=name, value=self.typed[name])
