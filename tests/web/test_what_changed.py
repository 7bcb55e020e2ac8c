"""What changed since a pack: pages, the opened totals, CSV, JSON and API with the same digits."""

from __future__ import annotations

import csv
import html
import io
import re
from dataclasses import dataclass

import httpx
import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from server.web.numbers import Writer
from tests.entered import counts
from tests.web.meetings import BOTH, a_week_later, changed, frozen_pack, requoted


@dataclass
class Packs:
    first: str
    second: str


@pytest.fixture
def packs(house_engine: Engine) -> Packs:
    first = frozen_pack(house_engine, "First talk", BOTH)
    a_week_later(house_engine)
    return Packs(first, frozen_pack(house_engine, "Second talk", (*BOTH, "DN-0975")))


def text_of(answer: httpx.Response) -> str:
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", answer.text)))


def address(packs: Packs, against: str = "", form: str = "", **query: str) -> str:
    told = "&".join(f"{name}={value}" for name, value in {"against": against, **query}.items())
    return f"/meetings/{packs.second}/changed{form}?{told}"


def test_a_sentence_can_be_read_out(client: TestClient, packs: Packs) -> None:
    page = text_of(client.get(address(packs, packs.first)))
    assert re.search(
        r"DN-1375 costs 0\.\d{3} USD/m more than [^:]+: \+0\.\d{3} price of Q14 \(now Q61\), "
        r"\+0\.\d{3} count and construction, \+0\.\d{3} process assumptions\.",
        page,
    )
    assert "DN-0975 has come in" in page


def test_the_order_of_the_two_does_not_matter(client: TestClient, packs: Packs) -> None:
    there = client.get(address(packs, packs.first, ".json")).json()
    back = client.get(f"/meetings/{packs.first}/changed.json?against={packs.second}").json()
    if there["before"]["reference"] == back["before"]["reference"]:
        assert there == back
    else:  # frozen in the same second: the one in the address is the later
        assert there["constructions"][0]["difference"] == pytest.approx(
            -back["constructions"][0]["difference"]
        )


def test_json_csv_and_api_have_the_same_digits(client: TestClient, packs: Packs) -> None:
    data = client.get(address(packs, packs.first, ".json")).json()
    api = client.get(f"/api/v1{address(packs, packs.first)}").json()
    assert api == data
    lines = list(
        csv.DictReader(io.StringIO(client.get(address(packs, packs.first, ".csv")).text[1:]))
    )
    for each in data["constructions"]:
        own = [line for line in lines if line["construction"] == each["construction"]]
        assert [line["cause"] for line in own[1:]] == [step["label"] for step in each["steps"]]
        assert [float(line["amount"]) for line in own[1:]] == [
            step["amount"] for step in each["steps"]
        ]
        assert [float(line["total"]) for line in own[1:]] == [
            step["total"] for step in each["steps"]
        ]
        total = sum(step["amount"] for step in each["steps"])
        assert total == pytest.approx(each["difference"] or 0.0, abs=1e-12)


def test_the_page_shows_the_digits_of_the_data(client: TestClient, packs: Packs) -> None:
    writer = Writer("trade", "USD")
    data = client.get(address(packs, packs.first, ".json")).json()
    page = text_of(client.get(address(packs, packs.first)))
    for each in data["constructions"]:
        for step in each["steps"]:
            assert writer.text(step["total"], "¤/m") in page
            if step["amount"]:
                assert writer.signed(step["amount"], "¤/m") in page
    season = data["season"]
    assert writer.signed(season["after"] - season["before"], "¤") in page


def test_every_running_total_opens(client: TestClient, packs: Packs) -> None:
    page = client.get(address(packs, packs.first, cloth="DN-1375")).text
    links = re.findall(r'href="(/meetings/[^"]+/changed/[^"]+)"', page)
    assert len(links) == 7  # before and six causes; after is the last of them
    data = client.get(address(packs, packs.first, ".json")).json()
    totals = [step["total"] for step in data["constructions"][0]["steps"]]
    opened = client.get(html.unescape(links[-1]))
    assert opened.status_code == 200
    assert f"{totals[-1]:.3f} USD/m" in text_of(opened)
    assert all(client.get(html.unescape(link)).status_code == 200 for link in links)


def test_a_step_opens_to_the_records_that_moved(client: TestClient, packs: Packs) -> None:
    data = client.get(address(packs, packs.first, ".json")).json()
    price = data["constructions"][0]["steps"][0]
    quoted = next(each for each in price["inputs"] if each["label"] == "Price as quoted")
    assert quoted["before"] == {
        "value": 2.08, "unit": "USD/kg", "as_entered": "2.08 USD/kg",
        "source": "offer Q14, Thuyền Sao Yarn", "on": "2026-02-25",
    }  # fmt: skip
    assert (quoted["after"]["as_entered"], quoted["record"]) == ("97.50 USc/lb", "/offers/Q61")
    page = client.get(address(packs, packs.first, cloth="DN-1375"))
    assert 'href="/offers/Q61"' in page.text
    told = text_of(page)
    assert "Warp: Q14 was quoted anew as Q61." in told
    assert "Warp: term CFR before, FOB after." in told


def test_today_tells_who_changed_it_and_when(
    client: TestClient, house_engine: Engine, packs: Packs
) -> None:
    changed(house_engine, "constructions", "DN-1250", loom_ppi="44")
    data = client.get(address(packs, "today", ".json")).json()
    assert data["after"]["today"] is True
    each = next(each for each in data["constructions"] if each["construction"] == "DN-1250")
    moved = [entry for step in each["steps"] for entry in step["inputs"]]
    assert [entry["input"] for entry in moved] == ["loom_ppi"]
    assert moved[0]["touched"]["by"] == "Rosalía Quintero"
    assert moved[0]["touched"]["what"] == "changed"
    page = text_of(client.get(address(packs, "today", cloth="DN-1250")))
    assert "Rosalía Quintero changed 20" in page


def test_a_requote_is_entered_by_somebody(
    client: TestClient, house_engine: Engine, packs: Packs
) -> None:
    requoted(house_engine, "Q61", "Q62", price="99.00", as_quoted="99.00 USc/lb FOB")
    data = client.get(address(packs, "today", ".json")).json()
    step = data["constructions"][0]["steps"][0]
    assert step["offers"] == ["Q61 (now Q62)"]
    touched = {entry["record"]: entry["touched"] for entry in step["inputs"]}
    assert touched["/offers/Q62"]["what"] == "entered"


def test_an_expired_offer_says_so_in_the_mix(
    client: TestClient, house_engine: Engine, packs: Packs
) -> None:
    requoted(house_engine, "Q61", "Q62", valid_until="2026-03-03")
    page = text_of(client.get(address(packs, "today", cloth="DN-1375")))
    assert re.search(r"Q62 \([^)]+\)\. Q62 is no longer ranked: expired", page)


def test_nothing_said_means_the_pack_it_follows_or_today(
    client: TestClient, house_engine: Engine, packs: Packs
) -> None:
    assert client.get(f"/meetings/{packs.first}/changed.json").json()["after"]["today"] is True


def test_pairs_may_be_chosen(client: TestClient, packs: Packs) -> None:
    query = {"cloth": "DN-1375", "before": "Q14/Q14"}
    page = client.get(address(packs, packs.first, "", **query))
    keys = re.findall(r'name="after">(.*?)</select>', page.text, re.S)[0]
    other = re.findall(r"<option>([^<]+)</option>", keys)[1]
    data = client.get(address(packs, packs.first, ".json", **query, after=other)).json()
    assert data["constructions"][0]["pair_after"] == other
    assert data["constructions"][0]["steps"][-1]["amount"] != 0


def test_the_waterfall_is_drawn_in_both_colours(client: TestClient, packs: Packs) -> None:
    page = client.get(address(packs, packs.first, cloth="DN-1375")).text
    pictures = re.findall(r'(?:src|srcset)="(/charts/meetings/[^"]+)"', page)
    assert len(pictures) == 4
    for each in pictures:
        answer = client.get(html.unescape(each))
        assert answer.headers["content-type"] == "image/svg+xml"
        assert "Price" in answer.text


def test_figures_follow_the_units_switch(client: TestClient, packs: Packs) -> None:
    page = text_of(client.get(address(packs, packs.first, units="inch-pound")))
    assert "USD/yd" in page
    assert "USD/m " not in page.partition("The order of the causes")[0]


def test_looking_stores_nothing(client: TestClient, house_engine: Engine, packs: Packs) -> None:
    before = counts(house_engine)
    for against in (packs.first, "today"):
        for form in ("", ".json", ".csv"):
            assert client.get(address(packs, against, form)).status_code == 200
    assert counts(house_engine) == before


@pytest.mark.parametrize(
    ("query", "status", "field"),
    [
        ({"against": "no-such-pack"}, 404, "pack"),
        ({"cloth": "DN-9999"}, 422, "cloth"),
        ({"cloth": "DN-1375", "before": "Q99/Q99"}, 422, "before"),
        ({"after": "Q14/Q14"}, 422, "cloth"),
        ({"variant": "Finer"}, 422, "cloth"),
        ({"against": "x" * 300}, 422, "against"),
        ({"cloth": "DN-1375\n"}, 422, "cloth"),
        ({"cloth": "DN-1375\x00b"}, 422, "cloth"),
    ],
)
def test_what_is_not_there_is_refused(
    client: TestClient, packs: Packs, query: dict[str, str], status: int, field: str
) -> None:
    asked = {"against": packs.first, **query}
    if query.get("cloth", "").endswith("\n"):
        status, field = 200, ""  # blanks around a code are nothing
    for path in (f"/meetings/{packs.second}/changed", f"/api/v1/meetings/{packs.second}/changed"):
        assert client.get(path, params=asked).status_code == status
    answer = client.get(f"/meetings/{packs.second}/changed.json", params=asked)
    assert answer.status_code == status
    if field:
        assert answer.json()["field"] == field
        assert answer.json()["remedy"]


def test_a_pack_against_itself_is_refused(client: TestClient, packs: Packs) -> None:
    answer = client.get(address(packs, packs.second, ".json"))
    assert (answer.status_code, answer.json()["field"]) == (422, "against")


def test_another_currency_is_refused(
    client: TestClient, house_engine: Engine, packs: Packs
) -> None:
    euros = frozen_pack(house_engine, "In euros", BOTH, {"currency": "EUR"})
    answer = client.get(address(packs, euros, ".json"))
    assert answer.status_code == 422
    body = answer.json()
    assert (body["field"], "EUR" in body["value"]) == ("against", True)
    assert "Freeze one of them again" in body["remedy"]


@pytest.mark.parametrize("path", ["nonsense/fabric_cost", "price/nonsense", "start/nonsense"])
def test_a_total_that_is_not_there_is_not_found(
    client: TestClient, packs: Packs, path: str
) -> None:
    base = f"/meetings/{packs.second}/changed/{path}"
    assert client.get(f"{base}?against={packs.first}&cloth=DN-1375").status_code == 404
    assert client.get(f"{base}?against={packs.first}").status_code == 404


def test_the_printed_line_says_internal(client: TestClient, packs: Packs) -> None:
    page = client.get(address(packs, packs.first))
    assert "internal" in text_of(page)
