"""The page of break-evens: two options, the nearest tie, prices to beat, both costs opened."""

from __future__ import annotations

import csv
import io
import re
from urllib.parse import quote, urlencode

import pytest
from starlette.testclient import TestClient


def address(code: str, ending: str = "", **query: str) -> str:
    return f"/constructions/{code}/break-even{ending}?{urlencode(query)}"


def test_the_page_says_when_the_peso_decides(client: TestClient) -> None:
    """Trade guide 7.13, story 6: tie at 17.00 MXN/USD; demo rate 17.20."""
    page = client.get(address("DN-1200S", first="Q25/Q35", second="Q22/Q35")).text
    assert (
        "Q25/Q35 stays cheaper than Q22/Q35 until 1 USD = 17.00 MXN (today 17.20, −1.2 %)" in page
    )
    data = client.get(address("DN-1200S", ".json", first="Q25/Q35", second="Q22/Q35")).json()
    tie = next(each for each in data["ties"] if each["key"] == "exchange_rate.MXN")
    assert round(tie["tie"], 2) == 17.00
    assert tie["unit"] == "MXN/USD"


@pytest.mark.parametrize(
    ("code", "first", "second", "offer", "printed", "unit", "term"),
    [
        ("DN-1375", "Q14/Q10", "Q14/Q12", "Q12", "51.09", "MXN/kg", "DAP"),
        ("DN-1200S", "Q25/Q35", "Q22/Q35", "Q22", "2.547", "USD/kg", "FOB"),
        ("DN-1450", "Q01/Q07", "Q01/Q05", "Q05", "97.10", "USc/lb", "FCA"),
    ],
)
def test_a_price_to_beat_stands_in_the_sellers_own_unit_and_term(
    client: TestClient, code: str, first: str, second: str, offer: str,
    printed: str, unit: str, term: str,
) -> None:  # fmt: skip
    """Trade guide 7.13, story 8."""
    page = client.get(address(code, first=first, second=second)).text
    row = next(each for each in page.split("<tr>") if f"Price of {offer}, to beat" in each)
    assert f"<b>{printed}</b>" in row
    assert unit in row
    assert f"<small>{term} " in row
    assert "quoted “" in row
    data = client.get(address(code, ".json", first=first, second=second)).json()
    tie = next(each for each in data["ties"] if each["key"] == f"quoted_price:{offer}")
    assert f"{tie['price_to_beat']:.{len(printed.partition('.')[2])}f}" == printed


def test_every_tie_opens_to_two_equal_costs(client: TestClient) -> None:
    asked = {"first": "Q14/Q14", "second": "Q14/Q09"}
    data = client.get(address("DN-1375", ".json", **asked)).json()
    assert len(data["ties"]) > 5
    for tie in data["ties"][:6]:
        page = client.get(address("DN-1375", f"/{tie['key']}", **asked)).text
        tops = re.findall(r'<span class="figure"><b>([\d.]+)</b>', page)
        assert page.count('class="ties-opened"') == 2
        first, second = (
            part[part.index("<b>") + 3 : part.index("</b>")]
            for part in page.split('class="ties-opened"')[1:]
        )
        assert first == second == tops[0]
        assert "at the tie" in page
        assert float(first) == pytest.approx(tie["cost_of_both"], rel=1e-5)


def test_both_costs_of_today_open_too(client: TestClient) -> None:
    page = client.get(address("DN-1375", "/today", first="Q14/Q14", second="Q14/Q09")).text
    assert "Difference +0.153 USD/m" in page
    assert "at the tie" not in page


def test_a_change_is_held_against_what_stands_now(client: TestClient) -> None:
    """Trade guide 7.13, story 10: DN-1250 filling Ne 8 to 7, weight-neutral by picks."""
    page = client.get(address("DN-1250", filling_ne="7", second="weight-picks")).text
    assert "Filling count 8 → 7 Ne" in page
    assert "Same weight, by picks (Q14/Q14) stays cheaper than As it stands (Q14/Q20)" in page
    assert "−0.032" in page


def test_own_spinning_ties_in_cotton_and_speeds(client: TestClient) -> None:
    data = client.get(
        address("DN-1375", ".json", first="own ring/own ring", second="Q09/Q09")
    ).json()
    keys = {each["key"] for each in data["ties"]}
    assert {"ring.fibre_price", "ring.spindle_rpm"} <= keys


def test_what_brings_no_tie_is_counted_and_told(client: TestClient) -> None:
    asked = {"first": "Q14/Q14", "second": "Q14/Q09"}
    page = client.get(address("DN-1375", **asked)).text
    count = re.search(r"(\d+) figures bring no tie within ± 90 %", page)
    assert count is not None
    data = client.get(address("DN-1375", ".json", **asked)).json()
    assert int(count[1]) == len(data["no_tie"])
    assert "moves both alike" in page


def test_a_variant_is_an_option_by_its_name(client: TestClient) -> None:
    sent = client.post(
        "/constructions/DN-1250/variants",
        data={"name": "Finer picks", "query": "pair=Q14/Q20&loom_ppi=38"},
        headers={"origin": "http://testserver"},
    )
    assert sent.status_code == 200
    page = client.get(address("DN-1250", second="variant:Finer picks")).text
    assert "Finer picks (Q14/Q20)" in page
    assert "Variant Finer picks" in page


def test_another_construction_moves_with_the_world_alone(client: TestClient) -> None:
    """Trade guide 7.13, story 13: a narrow cloth against a wide one, by the garment."""
    leader = client.get("/compare/DN-1050S.json").json()["pairs"][0]["pair"]
    data = client.get(
        address("DN-1450", ".json", second=f"DN-1050S:{leader}", figure="garment_fabric")
    ).json()
    assert data["second"]["label"].endswith("in DN-1050S")
    both = [each for each in (*data["ties"], *data["no_tie"]) if each["moves_in"] == "both"]
    assert both
    assert not {"total_ends", "loom_ppi", "length_shrink"} & {each["key"] for each in both}


def test_money_of_the_set_moves_with_the_rate_of_its_currency(client: TestClient) -> None:
    asked = {"first": "own ring/own ring", "second": "Q09/Q09", "currency": "MXN"}
    page = client.get(address("DN-1375", **asked)).text
    assert "The assumption set is in USD: its money moves with that rate." in page
    data = client.get(address("DN-1375", ".json", **asked)).json()
    told = [*data["ties"], *data["no_tie"]]
    assert any(each["key"] == "exchange_rate.USD" for each in told)


def test_ties_can_be_of_another_figure(client: TestClient) -> None:
    data = client.get(
        address("DN-1375", ".json", first="Q14/Q14", second="Q14/Q09", figure="yarn_cost")
    ).json()
    assert data["unit"] == "USD/m"
    assert data["first"]["cost"] == pytest.approx(1.638, abs=5e-4)


def test_the_csv_has_a_line_for_each_tie(client: TestClient) -> None:
    asked = {"first": "Q14/Q14", "second": "Q14/Q09"}
    text = client.get(address("DN-1375", ".csv", **asked)).text
    rows = list(csv.DictReader(io.StringIO(text.lstrip("\ufeff"))))
    data = client.get(address("DN-1375", ".json", **asked)).json()
    assert [row["key"] for row in rows] == [each["key"] for each in data["ties"]]


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("first", "nope", "is no option"),
        ("second", "Q14/ZZ", "ZZ is no offer near Ne 7"),
        ("second", "variant:none", "has no variant"),
        ("second", "weight-picks", "cost the same today"),
        ("figure", "beauty", "is no figure in which two options can tie"),
        ("meeting", "2026-02-30", "is not a date"),
        ("filling_ne", "0", "greater than 0"),
    ],
)
def test_bad_questions_are_answered_beside_their_field(
    client: TestClient, name: str, value: str, said: str
) -> None:
    answer = client.get(address("DN-1375", **{name: value}))
    assert said in answer.text
    if value != "weight-picks":
        assert answer.status_code == 422
        assert client.get(address("DN-1375", ".json", **{name: value})).status_code == 422


def test_a_tie_that_is_none_is_not_found(client: TestClient) -> None:
    assert client.get(address("DN-1375", "/no-such-thing")).status_code == 404
    assert client.get(address("NO-SUCH")).status_code == 404


def test_compare_and_pair_pages_lead_here(client: TestClient) -> None:
    assert (
        "/constructions/DN-1375/break-even?currency=EUR"
        in client.get("/compare/DN-1375?currency=EUR").text
    )
    pair = client.get("/compare/DN-1375/Q14/Q14").text
    assert "/constructions/DN-1375/break-even?second=Q14%2FQ14" in pair
    assert "cost the same" not in client.get(address("DN-1375", second="Q14/Q14")).text


def test_a_key_may_hold_a_slash(client: TestClient) -> None:
    """Such as the house regain of 50/50 polyester/cotton."""
    answer = client.get(address("DN-1375", f"/{quote('house_regain:50/50', safe='')}"))
    assert answer.status_code == 404
    assert "do not tie in “house_regain:50/50”" in answer.text
