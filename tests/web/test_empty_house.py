"""An empty house: every page answers and says where to begin; then the first entries."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from server.app import create_app
from server.settings import Settings

PAGES = (
    "/", "/compare", "/compare.json", "/compare.csv", "/offers", "/offers.json", "/offers.csv",
    "/offers/new", "/suppliers", "/constructions", "/constructions.json", "/should-cost",
    "/assumptions", "/scenarios", "/rates", "/gate", "/bases", "/calculators", "/api", "/health",
    "/fresh", "/fresh.json", "/fresh.csv", "/fresh/requotes", "/fresh/requotes.txt",
)  # fmt: skip


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[TestClient]:
    """A new house."""
    app = create_app(Settings(database_url=f"sqlite:///{tmp_path / 'new.sqlite'}"))
    with TestClient(app) as client:
        yield client


@pytest.mark.parametrize("path", PAGES)
def test_every_page_answers_before_anything_is_entered(empty: TestClient, path: str) -> None:
    assert empty.get(path).status_code == 200


def test_the_pages_say_where_to_begin(empty: TestClient) -> None:
    assert "Nothing has been entered yet. Begin with" in empty.get("/").text
    assert "There are no assumptions yet." in empty.get("/should-cost").text
    assert "No construction yet." in empty.get("/compare").text
    assert "Demonstration" not in empty.get("/").text


def _enter(client: TestClient, path: str, **fields: str) -> None:
    answer = client.post(f"{path}/new", data=fields, follow_redirects=False)
    assert answer.status_code == 303, answer.text


def test_an_offer_stands_in_the_list_before_there_is_a_basis(empty: TestClient) -> None:
    _enter(empty, "/suppliers", name="Vayuna Cotton Spinners", country="India")
    _enter(
        empty, "/offers", code="V1", supplier="Vayuna Cotton Spinners",
        as_quoted="7/1 OE 2.10 USD/kg FOB", price="2.10", currency="USD", price_unit="kg",
        term="FOB", payment="LC sight", lead_days="20", quoted_on="2026-02-20",
        valid_until="2026-04-01", count="7", count_system="Ne", spinning="OE",
    )  # fmt: skip
    assert "V1" in empty.get("/offers").text
    page = empty.get("/offers/V1")
    assert page.status_code == 200
    assert "There is no basis yet; enter one" in page.text


def test_a_comparison_names_every_assumption_it_lacks(empty: TestClient) -> None:
    _enter(
        empty, "/assumptions", set_name="First", currency="USD", key="fabric.loom_rpm",
        value="600", source="own", noted_on="2026-01-01",
    )  # fmt: skip
    _enter(
        empty, "/bases", name="Now", currency="USD", rates_on="2026-03-01", delivery_point="mill",
        as_of="2026-03-01", meeting="2026-03-10", need_by="2026-06-01", quantity="first price",
        assumption_set="First", mix1="cotton", mix1_regain_percent="8.5",
    )  # fmt: skip
    _enter(
        empty, "/constructions", code="A1", name="One", weave="3/1 twill", twill_hand="right",
        entered_state="finished", finished_epi="68", finished_ppi="46",
        filling_crimp_percent="7", length_shrink_percent="13", finished_width_in="60",
        cuttable_width_in="58.5", net_finish_percent="3", warp_ne="7", warp_crimp_percent="11",
        warp_waste_percent="4.5", filling_ne="7", filling_waste_percent="3.5",
    )  # fmt: skip
    assert "derived from the finished state" in empty.get("/constructions/A1").text
    answer = empty.get("/compare/A1")
    assert answer.status_code == 422
    for missing in ("fabric.loom_efficiency", "fabric.sizing", "fabric.margin_on_price"):
        assert missing in answer.text
    assert "fabric.loom_rpm" not in answer.text
