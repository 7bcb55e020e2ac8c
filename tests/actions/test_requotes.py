"""Whom to ask again: the days and the language in the address, and what is refused."""

from __future__ import annotations

import pytest
from sqlalchemy import Engine

from server.actions.compare import BasisChange
from server.actions.requotes import requotes
from server.core.errors import BadValue, NotFound

STORED = BasisChange({}, {})


def test_requotes_take_the_days_from_the_address(house_engine: Engine) -> None:
    def codes(**asked: str) -> list[str]:
        found = requotes(house_engine, STORED, asked)
        return sorted(offer.code for each in found.requotes for offer in each.lapsed)

    assert codes() == ["Q04", "Q06", "Q17", "Q27"]
    assert codes(days="0") == ["Q06"]
    assert codes(days="6") == ["Q04", "Q06", "Q17"]
    assert codes(order="2026-03-12") == codes()
    assert len(codes(order="2026-03-17")) == 14
    assert len(codes(days="365")) == 40
    one = requotes(house_engine, STORED, {"supplier": "Nilabagh Spinning"}).requotes
    assert [each.supplier.name for each in one] == ["Nilabagh Spinning"]


@pytest.mark.parametrize(
    ("asked", "field", "error"),
    [
        ({"days": "-1"}, "days", BadValue),
        ({"days": "1e3"}, "days", BadValue),
        ({"days": "366"}, "days", BadValue),
        ({"days": "٣"}, "days", BadValue),
        ({"language": "de"}, "language", BadValue),
        ({"supplier": "Nobody"}, "supplier", NotFound),
    ],
)
def test_what_cannot_be_asked_is_refused(
    house_engine: Engine, asked: dict[str, str], field: str, error: type[BadValue]
) -> None:
    with pytest.raises(error) as refused:
        requotes(house_engine, STORED, asked)
    assert refused.value.field == field
