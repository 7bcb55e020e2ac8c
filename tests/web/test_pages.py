"""Every other page of the demonstration: what it must say, and its JSON and CSV."""

from __future__ import annotations

import csv
import io

import pytest
from starlette.testclient import TestClient


def test_home_names_what_needs_attention(client: TestClient) -> None:
    page = client.get("/").text
    assert "Q06 Nilabagh Spinning: valid until 2026-02-20" in page
    assert "Q11 Merapatih Spinning: cotton-origin file invoice chain only" in page
    assert "DN-1250: Q14/Q20 and Q14/Q19 differ by 0.021 USD/m" in page
    assert "Demonstration: invented companies, prices and people" in page


def test_offers_filter_and_sort_by_their_address(client: TestClient) -> None:
    found = client.get("/offers.json?spinning=air-jet").json()
    assert [each["offer"] for each in found] == ["Q32", "Q33"]
    sorted_ = client.get("/offers.json?sort=same_basis_price&spinning=OE&state=open").json()
    prices = [each["same_basis_price"] for each in sorted_]
    assert prices == sorted(prices)
    assert client.get("/offers.json?q=marrow+7/1").json()[0]["offer"] == "Q13"
    rows = list(csv.DictReader(io.StringIO(client.get("/offers.csv").text[1:])))
    assert len(rows) == 40
    assert rows[4]["Price as quoted"] == "112 USc/lb"


def test_one_offer_keeps_the_sellers_words_beside_our_figure(client: TestClient) -> None:
    page = client.get("/offers/Q05").text
    assert "112 USc/lb &#34;FOB mill&#34;" in page
    assert "2.681" in page
    assert "ships from United States" in page
    document = client.get("/offers/Q08.json").json()
    assert document["offer"]["price"] == "46.80"
    assert document["figures"]["offer.same_basis_price"] == pytest.approx(2.6815, abs=5e-5)


def test_the_legs_of_every_offer_sum_to_its_landed_price(client: TestClient) -> None:
    legs = ("goods_price", "origin_haulage", "freight", "insurance", "duty", "clearance",
            "inland", "financing")  # fmt: skip
    for each in client.get("/offers.json").json():
        figures = client.get(f"/offers/{each['offer']}.json").json()["figures"]
        total = sum(figures.get(f"offer.{leg}", 0.0) for leg in legs)
        assert total == pytest.approx(figures["offer.landed_price"], rel=1e-12)


def test_ring_in_name_only_raises_a_doubt(client: TestClient) -> None:
    assert "The description says ring, the process is open-end" in client.get("/offers/Q17").text
    assert "count is that of the base between the slubs" in client.get("/offers/Q23").text


def test_a_construction_shows_two_states_of_cloth(client: TestClient) -> None:
    page = client.get("/constructions/DN-1375").text
    assert "Loom state" in page
    assert "Finished state" in page
    assert "take-up 9.9 %" in page
    assert "67.4" in page
    opened = client.get("/constructions/DN-1375/ounces").text
    assert "33.90574747" in opened


def test_should_cost_stands_ring_beside_rotor_beside_air_jet(client: TestClient) -> None:
    routes = client.get("/should-cost.json?ne=7").json()["routes"]
    assert routes["ring"]["should_cost"] == pytest.approx(2.465, abs=5e-4)
    assert routes["OE"]["should_cost"] == pytest.approx(2.030, abs=5e-4)
    assert "roving" in routes["ring"]
    assert "roving" not in routes["OE"]
    page = client.get("/should-cost?ne=7").text
    assert "ring costs 0.435 USD/kg more than rotor" in page
    assert "Estimate from the assumptions listed" in page


def test_hours_in_parts_split_the_spinning_cost(client: TestClient) -> None:
    query = "ne=7&set=Rinconada+2026%2C+hours+in+parts"
    assert "Power in spinning" in client.get(f"/should-cost?{query}").text
    ring = client.get(f"/should-cost.json?{query}").json()["routes"]["ring"]
    parts = sum(ring[f"spinning_{part}"] for part in ("capital", "power", "labour", "maintenance"))
    assert parts == pytest.approx(ring["spinning"], rel=1e-12)


@pytest.mark.parametrize("ne", ["x", "0", "-7", "1e9", "nan"])
def test_a_count_that_is_none_is_answered_beside_the_field(client: TestClient, ne: str) -> None:
    answer = client.get(f"/should-cost?ne={ne}")
    assert answer.status_code == 422
    assert "is not a count. Enter a count in Ne" in answer.text


def test_a_calculator_computes_and_refuses_with_field_unit_and_remedy(client: TestClient) -> None:
    assert "84.363 tex" in client.get("/calculators/tex_from_ne?ne=7").text
    refused = client.get("/calculators/tex_from_ne?ne=0")
    assert refused.status_code == 422
    assert "ne = 0 Ne must be more than 0." in refused.text
    listed = client.get("/api/v1/calculators").json()
    assert len(listed) > 200
    assert all(each["source"] and each["unit"] for each in listed)
    answer = client.post("/api/v1/calculators/tex_from_ne", json={"ne": 7})
    assert answer.json()["value"] == pytest.approx(84.36303534974795)
    assert client.post("/api/v1/calculators/tex_from_ne", json={"ne": "x"}).status_code == 422
    assert client.post("/api/v1/calculators/none", json={}).status_code == 404


def test_every_answer_carries_the_security_headers(client: TestClient) -> None:
    for path in ("/", "/offers.csv", "/api/v1/calculators", "/static/css/base.css", "/none"):
        headers = client.get(path).headers
        assert headers["content-security-policy"].startswith("default-src 'self'")
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "same-origin"
        wanted = "immutable" if path.startswith("/static") else "no-store"
        assert wanted in headers["cache-control"]


def test_the_way_back_from_a_switch_stays_on_this_site(client: TestClient) -> None:
    for back in ("//elsewhere.example", "https://elsewhere.example/", "/\\elsewhere.example"):
        answer = client.get("/view", params={"back": back, "theme": "dark"}, follow_redirects=False)
        assert answer.headers["location"] == "/"
    answer = client.get(
        "/view", params={"back": "/offers?q=a", "units": "metric"}, follow_redirects=False
    )
    assert answer.headers["location"] == "/offers?q=a"
    assert "units=metric" in answer.headers["set-cookie"]


def test_a_request_from_another_site_is_refused(client: TestClient) -> None:
    body = {"ne": 7}
    for headers in ({"origin": "https://elsewhere.example"}, {"sec-fetch-site": "cross-site"}):
        answer = client.post("/api/v1/calculators/tex_from_ne", json=body, headers=headers)
        assert answer.status_code == 403


def test_a_body_too_long_for_an_entry_is_refused(client: TestClient) -> None:
    answer = client.post("/api/v1/suppliers", json={"name": "x" * 2_100_000})
    assert answer.status_code == 413
    assert answer.json()["message"] == (
        "The body is longer than 2000000 bytes; nothing was stored."
    )


def test_the_api_is_described_without_scripts(client: TestClient) -> None:
    page = client.get("/api").text
    assert "/api/v1/compare/{code}" in page
    assert "<script" not in page.replace('<script src="/static', "")
