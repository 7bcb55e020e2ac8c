"""How close computed weights come to those of real cloths: page, data and opened figures."""

from __future__ import annotations

import csv
import html
import io
import re

import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from server.core.how_close import held_cloths
from tests.entered import counts

PATH = "/constructions/how-close"


def told(client: TestClient, path: str) -> str:
    text = html.unescape(re.sub(r"<[^>]+>", " ", client.get(path).text))
    return re.sub(r"\s+", " ", text)


def test_the_page_says_median_and_worst_and_explains_the_far_ones(client: TestClient) -> None:
    page = told(client, PATH)
    assert "half come within 5.1 % of the stated weight, the worst is 10.6 % off" in page
    assert "rigid denim 6 −17.0 −19.0 4.3 7.6 0.7 2.5" in page
    assert "all 17 −12.3 −19.0 5.1 10.6 2.5 10.6" in page
    assert "S-14 −10.6 % The worst case" in page
    assert "The picks were counted in an inch and read as of a centimetre" in page
    assert "some 53 g/m² would not be yarn" in page
    assert "With a mill's own measured pieces 1.5 to 2.0 % is to be hoped for" in page
    assert "7 of 7 agree" in page
    for number in range(1, 33):
        assert f"S-{number:02d}" in page


def test_page_json_csv_and_api_hold_the_same_figures(client: TestClient) -> None:
    document = client.get(f"{PATH}.json").json()
    assert client.get("/api/v1/how-close").json() == document
    assert document["hoped_for_with_own_data"]["low"] == 0.015
    rows = list(csv.DictReader(io.StringIO(client.get(f"{PATH}.csv").text[1:])))
    assert len(rows) == len(document["cloths"]) == len(held_cloths()) == 32
    for row, cloth in zip(rows, document["cloths"], strict=True):
        assert row["Cloth"] == cloth["id"]
        if cloth["M0.deviation"] is not None:
            assert float(row["M0 against stated [share]"]) == cloth["M0.deviation"]
    page = told(client, PATH)
    for cloth in document["cloths"]:
        if cloth["model"] == "M2":
            assert f"{cloth['M2']:.1f}" in page


@pytest.mark.parametrize("figure", ["M3.deviation", "straight", "ratio", "ounces"])
def test_a_figure_opens_to_its_ruling(client: TestClient, figure: str) -> None:
    page = told(client, f"{PATH}/S-01/{figure}")
    assert "US Customs ruling NY D88408 (1999)" in page


def test_every_figure_that_a_page_links_opens(client: TestClient) -> None:
    links = set(re.findall(rf'href="({PATH}/S-[^"]+)"', client.get(PATH).text))
    assert len(links) > 100
    for link in sorted(links)[::7]:
        assert client.get(link).status_code == 200


@pytest.mark.parametrize("path", ["S-99/M2", "S-01/M4", "S-26/straight"])
def test_a_figure_that_is_not_there_is_not_found(client: TestClient, path: str) -> None:
    answer = client.get(f"{PATH}/{path}")
    assert answer.status_code == 404
    assert "Open a figure from the page" in answer.text


def test_no_construction_can_take_the_address(client: TestClient, house_engine: Engine) -> None:
    before = counts(house_engine)
    kept = client.get("/api/v1/constructions/DN-1250").json()["entry"]
    answer = client.post("/api/v1/constructions", json={**kept, "code": "how-close"})
    assert answer.status_code == 422
    assert answer.json()["field"] == "code"
    assert counts(house_engine) == before


def test_the_page_is_found_from_constructions_and_calculators(client: TestClient) -> None:
    for path in ("/constructions", "/calculators"):
        assert f'href="{PATH}"' in client.get(path).text
