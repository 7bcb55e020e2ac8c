"""The change desk's page: columns, messages beside fields, the answer alone, and what is kept."""

from __future__ import annotations

import csv
import html
import io
import re

import httpx
import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from server.web.numbers import Writer
from tests.entered import counts

PATH = "/constructions/DN-1250/change"
CHANGE = f"{PATH}?pair=Q14%2FQ20&filling_ne=7"


def text_of(answer: httpx.Response) -> str:
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", answer.text)))


def cells(page: str, label: str) -> list[str]:
    """The figures of a row, without their differences."""
    row = re.search(rf"<tr><th scope=\"row\">{re.escape(label)} .*?</tr>", page, re.S)
    assert row, label
    return re.findall(r"<a class=\"opens\"[^>]*>([^<]+)</a>", row[0])


def test_the_columns_show_the_figures_of_the_data(client: TestClient) -> None:
    page, document = (
        client.get(CHANGE),
        client.get(CHANGE.replace("change?", "change.json?")).json(),
    )
    assert page.status_code == 200
    writer = Writer("trade", "USD")
    for key, label, unit in (
        ("fabric_cost", "Cost of a metre", "¤/m"),
        ("ounces", "Weight, finished and unwashed", "oz/yd²"),
        ("filling_cover_loom", "Filling cover factor, loom", "1/(in·√Ne)"),
    ):
        shown = cells(page.text, label)
        values = [document["before"]["figures"][key]["value"]] + [
            each["figures"][key]["value"] for each in document["alternatives"]
        ]
        assert shown == [writer.text(value, unit) for value in values]


def test_the_csv_has_every_figure_of_every_alternative(client: TestClient) -> None:
    rows = list(
        csv.DictReader(io.StringIO(client.get(CHANGE.replace("change?", "change.csv?")).text[1:]))
    )
    document = client.get(CHANGE.replace("change?", "change.json?")).json()
    for each in document["alternatives"]:
        found = {row["key"]: row for row in rows if row["alternative"] == each["label"]}
        assert set(found) == set(each["figures"])
        assert float(found["ounces"]["value"]) == each["figures"]["ounces"]["value"]
        assert float(found["ounces"]["difference"]) == each["differences"]["ounces"]


def test_every_figure_opens_in_every_column(client: TestClient) -> None:
    page = client.get(CHANGE).text
    hrefs = {
        html.unescape(each)
        for each in re.findall(r'class="opens" href="([^"]+/change/[^"]+)"', page)
    }
    assert len(hrefs) > 100
    for href in sorted(hrefs)[::9]:
        answer = client.get(href)
        assert answer.status_code == 200, href
        assert 'class="formula"' in answer.text
    opened = text_of(client.get(f"{PATH}/weight-picks/filling.mass?pair=Q14%2FQ20&filling_ne=7"))
    assert "before: 40" in opened
    assert "changed here, not stored" in opened


def test_blank_fields_of_a_form_leave_the_address(client: TestClient) -> None:
    answer = client.get(
        f"{PATH}?pair=Q14/Q20&filling_ne=7&loom_ppi=&weave=", follow_redirects=False
    )
    assert answer.status_code == 303
    assert answer.headers["location"] == f"{PATH}?pair=Q14%2FQ20&filling_ne=7"


def test_a_basis_as_it_is_stored_leaves_the_address_and_a_changed_one_stays(
    client: TestClient,
) -> None:
    stored = "currency=USD&rates_on=2026-03-02&quantity=first+price&assumption_set=Rinconada+2026"
    answer = client.get(f"{PATH}?{stored}&meeting=2026-03-10&loom_ppi=39", follow_redirects=False)
    assert answer.headers["location"] == f"{PATH}?meeting=2026-03-10&loom_ppi=39"


def test_the_page_asks_for_the_answer_alone(client: TestClient) -> None:
    answer = client.get(f"{CHANGE}&loom_ppi=", headers={"hx-request": "true"})
    assert "<html" not in answer.text
    assert answer.headers["hx-replace-url"] == CHANGE
    assert 'id="n-filling_ne" hx-swap-oob="true"' in answer.text
    whole = client.get(CHANGE).text
    for label in ("Cost of a metre", "Loom output"):
        assert cells(answer.text, label) == cells(whole, label)


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ("filling_ne=0", "filling_ne", "must be greater than 0"),
        ("loom_ppi=4,5", "loom_ppi", "decimal point"),
        ("reed_width_in=20", "reed_width_in", "above the reed width"),
        ("fabric.loom_rpm=0", "fabric.loom_rpm", "must be at least 1"),
        ("filling_yarn=Q99", "filling_yarn", "is no offer near"),
    ],
)
@pytest.mark.parametrize("alone", [True, False])
def test_a_wrong_figure_is_answered_beside_its_field(
    client: TestClient, house_engine: Engine, typed: str, field: str, said: str, alone: bool
) -> None:
    before = counts(house_engine)
    headers = {"hx-request": "true"} if alone else {}
    answer = client.get(f"{PATH}?{typed}", headers=headers)
    assert answer.status_code == (200 if alone else 422)
    note = re.search(rf'<p class="change-note" id="n-{re.escape(field)}".*?</p>', answer.text, re.S)
    assert note
    assert said in html.unescape(note[0])
    assert "Cost of a metre" in answer.text
    assert counts(house_engine) == before
    assert client.get(f"{PATH}.json?{typed}").status_code == 422
    assert client.get(f"{PATH}.csv?{typed}").status_code == 422


def test_a_wrong_chip_is_answered_and_the_rest_holds(client: TestClient) -> None:
    answer = client.get(f"{CHANGE}&meeting=2026-02-30")
    assert answer.status_code == 422
    assert "“2026-02-30” is not a date" in answer.text
    later = client.get(f"{CHANGE}&need_by=2026-01-01")
    assert later.status_code == 422
    assert "before the meeting" in later.text


def test_the_unusual_is_let_in_with_a_doubt(client: TestClient) -> None:
    answer = client.get(f"{PATH}?loom_ppi=90")
    assert answer.status_code == 200
    assert "unusual: 30 to 70 1/in is common" in text_of(answer)


def test_a_price_that_is_held_says_so_in_its_column(client: TestClient) -> None:
    told = text_of(client.get(f"{PATH}?pair=Q14/Q20&filling_ne=7.4"))
    assert "Q20’s price" in told


def test_an_alternative_out_of_reach_gives_its_reason(client: TestClient) -> None:
    told = text_of(client.get(f"{PATH}?pair=Q14/Q20&filling_ne=1&filling_yarn=own+OE"))
    assert "Not reached within 80% of the picks of the swap." in told


def keep(client: TestClient, name: str = "Ne 7", query: str = "pair=Q14/Q20&filling_ne=7") -> int:
    answer = client.post(
        "/constructions/DN-1250/variants",
        data={"name": name, "query": query, "notes": "ễ & “words”"},
        follow_redirects=False,
    )
    return int(answer.status_code)


def test_a_change_is_kept_and_opens_again_as_it_was(client: TestClient) -> None:
    assert keep(client) == 303
    page = client.get("/constructions/DN-1250/variants")
    assert "Filling count 8 → 7 Ne" in text_of(page)
    link = re.search(r'class="opens" href="([^"]+)">Ne 7<', page.text)
    assert link
    assert cells(client.get(html.unescape(link[1])).text, "Cost of a metre") == cells(
        client.get(CHANGE).text, "Cost of a metre"
    )
    rows = client.get("/constructions/DN-1250/variants.json").json()
    assert [row["name"] for row in rows] == ["Ne 7"]
    table = list(
        csv.DictReader(io.StringIO(client.get("/constructions/DN-1250/variants.csv").text[1:]))
    )
    assert float(table[0]["ounces"]) == rows[0]["ounces"]


def test_a_refused_variant_stores_nothing(client: TestClient, house_engine: Engine) -> None:
    keep(client)
    before = counts(house_engine)
    assert keep(client) == 422
    assert keep(client, name="<i>") == 422
    assert keep(client, name="two", query="filling_ne=0") == 422
    assert keep(client, name="two", query="nonsense=1") == 422
    assert keep(client, name="two", query="x" * 9000) == 422
    assert counts(house_engine) == before


def test_promoting_from_the_page(client: TestClient) -> None:
    keep(client)
    page = client.get("/constructions/DN-1250/variants").text
    action = re.search(r'action="([^"]+/promote)"', page)
    version = re.search(r'name="version" value="(\d+)"', page)
    assert action
    assert version
    stale = client.post(action[1], data={"version": "77"}, follow_redirects=False)
    assert stale.status_code == 409
    done = client.post(action[1], data={"version": version[1]}, follow_redirects=False)
    assert done.headers["location"] == "/constructions/DN-1250?notice=changed"
    assert client.get("/constructions/DN-1250.json").json()["construction"]["filling_ne"] == "7"
    assert "version 2" in text_of(client.get("/constructions/DN-1250/variants"))


def test_no_variant_yet_says_what_to_do(client: TestClient) -> None:
    told = text_of(client.get("/constructions/DN-1250/variants"))
    assert "No variant is kept yet. Change a figure on the change desk" in told


def test_a_construction_that_is_not_there_is_not_found(client: TestClient) -> None:
    for path in ("change", "change.json", "change.csv", "variants", "change/swap/ounces"):
        assert client.get(f"/constructions/DN-0000/{path}").status_code == 404


def test_a_search_for_script_is_text(client: TestClient) -> None:
    answer = client.get(f"{PATH}?filling_yarn=%3Cscript%3Ealert(1)%3C/script%3E&pair=%3Cimg%3E/x")
    assert answer.status_code == 422
    assert "<script>alert" not in answer.text
    assert "<img>" not in answer.text
