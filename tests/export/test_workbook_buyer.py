"""The workbook of a buyer holds what the pack of the buyer holds, and nothing else."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from xml.etree import ElementTree

import pytest

from server.core.buyer_view import OPEN_BOOK, PRICE_AND_WEIGHT, for_buyer
from server.core.pack import COST, Pack
from tests.builders import demo_comparisons, pack_of
from tests.spreadsheet import MAIN, parts_of, workbook_of


@cache
def demo() -> Pack:
    return pack_of(*demo_comparisons())


def texts_of(book: bytes) -> str:
    """Everything a person could find in the file, unescaped; formulas without the cells."""
    told = []
    for text in parts_of(book).values():
        for each in ElementTree.fromstring(text).iter():
            told += [value for name, value in each.attrib.items() if name not in ("r", "sqref")]
            told.append(each.text or "")
            if each.tag == f"{MAIN}f":
                told[-1] = re.sub(r"\$?\b[A-Z]{1,3}\$?\d+\b", "", told[-1])
    return "\n".join(told)


def test_weight_and_cost_alone_make_a_workbook_of_fixed_figures() -> None:
    pack = for_buyer(demo(), ("weight", "cost"))
    assert pack.headline == COST
    told = texts_of(workbook_of(pack))
    assert "Cost of a finished metre" in told
    for hidden in ("Yarn cost", "Warp waste", "Overhead", "Loom speed", "Margin", "margin"):
        assert hidden not in told


@pytest.mark.parametrize(
    "shown", [(), ("cloth",), PRICE_AND_WEIGHT, OPEN_BOOK, (*OPEN_BOOK, "way")]
)
def test_a_buyers_workbook_holds_nothing_but_the_buyers_pack(shown: tuple[str, ...]) -> None:
    """Suppliers, offers, people, sources, notes: nowhere, not in names, properties or results."""
    internal = replace(demo(), notes="internal only: walk away at 2.40")
    told = texts_of(workbook_of(for_buyer(internal, shown, words="Good morning")))
    secrets = {yarn.supplier for c in internal.cloths for p in c.pairs for yarn in p.yarns}
    secrets |= {each.source for each in internal.inputs if each.source.startswith("offer")}
    secrets |= {"Rosalía", "walk away", "Rinconada 2026", "Aldercote", "demo value", "impossible"}
    assert {secret for secret in secrets if secret in told} == set()
    assert not re.search(r"\bQ\d\d\b|\bQ\d\d_", told)
    assert "Good morning" in told
    if "cost" not in shown and "price" not in shown:
        assert "USD/" not in told
    if "yarns" not in shown:
        assert "Ne 7" not in told


def test_a_pack_without_money_has_no_column_of_differences() -> None:
    told = texts_of(workbook_of(for_buyer(demo(), ("weight",))))
    assert "To the first" not in told
    assert "Weight, finished" in told


def test_prices_in_place_of_costs_head_the_summary() -> None:
    told = texts_of(workbook_of(for_buyer(demo(), PRICE_AND_WEIGHT)))
    assert "Price, metre" in told
    assert "Cost, metre" not in told
