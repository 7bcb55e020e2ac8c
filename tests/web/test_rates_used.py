"""“Rates used” on comparison and pair, in pages, JSON and CSV, with their ages."""

from __future__ import annotations

import csv
import io
from typing import Any

from starlette.testclient import TestClient

from tests.web.test_records import text_of


def section(client: TestClient, address: str) -> str:
    told = text_of(client.get(address))
    return told[told.index("Rates used") : told.index("Cautions")]


def test_a_comparison_names_its_rates_with_value_day_source_and_age(client: TestClient) -> None:
    told = section(client, "/compare/DN-1375")
    assert "Rates used: the newest that hold on 2026-03-02, ages on 2026-03-02" in told
    assert "MXN for one USD exchange rate 17.2 MXN/USD 1 USD = 17.2 MXN 2026-03-02 0" in told
    assert "Lane from Viet Nam freight lane Freight for a load 2,500 USD" in told
    assert "Duty, India duty 10 % 2026-01-01 60 demo value" in told
    assert "Cost of money charge 9 % a year 2026-01-01 60" in told
    assert "Old at the as-of date" not in told
    assert "7 days (exchange rate), 30 days (freight lane), 365 days (duty)" in told
    assert "common practice, no source" in told


def test_an_old_rate_is_warned_of_at_the_as_of_date(client: TestClient) -> None:
    told = section(client, "/compare/DN-1375?as_of=2026-03-10")
    assert "Old at the as-of date 2026-03-10: MXN for one USD (8 days)." in told
    assert "Lane from India (" not in told
    assert "MXN for one USD (7 days)" not in section(client, "/compare/DN-1375?as_of=2026-03-09")
    later = section(client, "/compare/DN-1375?as_of=2026-03-20")
    assert "Lane from India (32 days)" in later
    assert "and 2 more" in later


def test_a_pair_names_the_rates_of_its_offers(client: TestClient) -> None:
    told = section(client, "/compare/DN-1375/Q09/Q14?as_of=2026-03-20")
    assert "Lane from Viet Nam (32 days)" in told
    assert "Lane from India" not in told


def test_page_json_csv_and_api_name_the_same_rates(client: TestClient) -> None:
    asked = "?as_of=2026-03-10&currency=EUR"
    document = client.get(f"/compare/DN-1375.json{asked}").json()
    rates: list[dict[str, Any]] = document["rates_used"]
    assert client.get(f"/api/v1/compare/DN-1375{asked}").json()["rates_used"] == rates
    rows = list(
        csv.DictReader(io.StringIO(client.get(f"/compare/DN-1375/rates.csv{asked}").text[1:]))
    )
    assert [(row["rate"], row["valid_from"], row["age_days"]) for row in rows] == [
        (each["label"], each["valid_from"], str(each["age_days"]))
        for each in rates
        for _ in each["figures"]
    ]
    told = section(client, f"/compare/DN-1375{asked}")
    for each in rates:
        assert each["label"] in told
    peso = next(each for each in rates if "by way of" in each["label"])
    assert (peso["kind"], peso["age_days"], peso["old"]) == ("exchange rate", 8, True)
    assert peso["why"] == "1 USD = 17.2 MXN; 1 EUR = 1.186 USD"


def test_the_table_of_pairs_names_its_days(client: TestClient) -> None:
    text = client.get("/compare/DN-1375.csv?as_of=2026-03-10").text[1:]
    rows = list(csv.DictReader(io.StringIO(text)))
    assert {(row["Rates of"], row["As of"]) for row in rows} == {("2026-03-02", "2026-03-10")}


def test_the_files_of_a_pair_name_its_rates(client: TestClient) -> None:
    rates = client.get("/compare/DN-1375/Q09/Q14.json").json()["rates_used"]
    assert client.get("/api/v1/compare/DN-1375/Q09/Q14").json()["rates_used"] == rates
    text = client.get("/compare/DN-1375/Q09/Q14.csv").text[1:]
    rows = [row for row in csv.DictReader(io.StringIO(text)) if row["key"].startswith("rate: ")]
    assert [(row["figure"], float(row["value"])) for row in rows] == [
        (figure["label"], figure["value"]) for each in rates for figure in each["figures"]
    ]
    assert all(row["valid_from"] and row["source"] for row in rows)
