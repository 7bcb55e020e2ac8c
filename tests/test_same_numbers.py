"""Page, JSON, CSV and API of the same comparison show the same numbers."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from server.web.numbers import Writer

CODES = ("DN-1450", "DN-1375", "DN-1250", "DN-1200S", "DN-1100A", "DN-0975")


@pytest.fixture
def house(client: TestClient) -> TestClient:
    """The running demonstration."""
    return client


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize("basis", ["", "?currency=EUR&quantity=season"])
def test_page_json_csv_and_api_agree(house: TestClient, code: str, basis: str) -> None:
    document = house.get(f"/compare/{code}.json{basis}").json()
    assert house.get(f"/api/v1/compare/{code}{basis}").json() == document
    rows = list(csv.DictReader(io.StringIO(house.get(f"/compare/{code}.csv{basis}").text[1:])))
    assert [row["Pair"] for row in rows] == [pair["pair"] for pair in document["pairs"]]
    currency = document["basis"]["currency"]
    for row, pair in zip(rows, document["pairs"], strict=True):
        assert float(row[f"Finished cloth [{currency}/m]"]) == pair["fabric_cost"]
        assert float(row["Weight [oz/yd²]"]) == pair["ounces"]
    page = house.get(f"/compare/{code}{basis}").text
    writer = Writer("trade", currency)
    shown = _table_rows(page)
    for pair in document["pairs"][:50]:
        cells = shown[pair["pair"]]
        assert writer.text(pair["fabric_cost"], "¤/m") in cells
        assert writer.text(pair["yarn_cost"], "¤/m") in cells
        assert writer.text(pair["ounces"], "oz/yd²") in cells
        assert writer.text(pair["fabric_per_kg"], "¤/kg") in cells
    for cell in (cell for line in document["matrix"] for cell in line if cell["pair"]):
        assert writer.text(cell["fabric_cost"], "¤/m") in page


def test_the_pair_page_opens_to_the_number_of_the_comparison(house: TestClient) -> None:
    pair = house.get("/compare/DN-1375.json").json()["leader"]
    figures = house.get(f"/compare/DN-1375/{pair['pair']}.json").json()["figures"]
    opened = house.get(f"/api/v1/compare/DN-1375/{pair['pair']}/fabric_cost").json()
    assert figures["fabric_cost"]["value"] == pair["fabric_cost"] == opened["value"]
    assert figures["ounces"]["value"] == pair["ounces"]


def test_units_change_the_text_and_not_the_number(house: TestClient) -> None:
    pair: dict[str, Any] = house.get("/compare/DN-1375.json").json()["leader"]
    page = house.get("/compare/DN-1375?units=inch-pound").text
    assert f"{pair['fabric_cost'] * 0.9144:.3f}" in page
    assert "USD/yd" in page
    metric = house.get("/compare/DN-1375?units=metric").text
    assert f"{pair['ounces'] * 33.905747474:.1f}" in metric


def _table_rows(page: str) -> dict[str, str]:
    table = page[page.index('id="pairs"') :]
    found = {}
    for row in re.findall(r"<tr.*?</tr>", table, flags=re.DOTALL):
        key = re.search(r">(Q\d+/Q\d+)<", row)
        if key and key[1] not in found:
            found[key[1]] = re.sub(r"<[^>]+>", " ", row)
    return found


def test_this_file_names_constructions_of_the_demo() -> None:
    text = (Path(__file__).parents[1] / "seed_demo" / "constructions.csv").read_text("utf-8")
    assert all(code in text for code in CODES)
