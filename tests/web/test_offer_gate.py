"""The gate on the offer's page: what was found, who accepted it, and where that shows."""

from __future__ import annotations

import csv
import html
import io
import re

import httpx
import pytest
from sqlalchemy import Engine, delete
from sqlmodel import SQLModel
from starlette.testclient import TestClient

from tests.entered import counts
from tests.web.test_records import text_of

REASON = "Chain of custody seen at the gin in February"
FORM = {"about": "origin file", "role": "all roles", "reason": REASON}
TOLD = "accepted by Rosalía Quintero on"


def accept(client: TestClient, code: str = "Q11", **changed: str) -> httpx.Response:
    answer: httpx.Response = client.post(
        f"/offers/{code}/gate", data=FORM | changed, follow_redirects=False
    )
    return answer


def section(page: httpx.Response, beginning: str, end: str) -> str:
    told = text_of(page)
    return told[told.index(beginning) : told.index(end, told.index(beginning))]


def test_the_offer_page_shows_every_role_with_value_limit_source_and_owner(
    client: TestClient,
) -> None:
    told = section(client.get("/offers/Q17"), "Can it do the job?", "History")
    assert "Warp, rope-dyed impossible" in told
    assert "Filling impossible" in told
    assert "Tenacity fail Tenacity 11.6 cN/tex, at least 12.5 cN/tex for warp, rope-dyed" in told
    assert "11.6 cN/tex at least 12.5 cN/tex demo limit; denim yarn knowledge page" in told
    assert "(weak) Rosalía Quintero" in told
    assert "Validity fail expired on" in told
    assert "DN-1375 Larkspur warp" in told


def test_an_accepted_finding_shows_wherever_the_offer_shows(client: TestClient) -> None:
    answer = accept(client)
    assert answer.headers["location"] == "/offers/Q11?notice=added#gate"
    offer = client.get(answer.headers["location"])
    assert "Stored." in offer.text
    assert f"unknown: cotton-origin file invoice chain only; {TOLD}" in text_of(offer)
    assert "Warp, rope-dyed possible accepted" in text_of(offer)
    compared = text_of(client.get("/compare/DN-1375"))
    assert f"possible Q11 as filling: cotton-origin file invoice chain only; {TOLD}" in compared
    pair = text_of(client.get("/compare/DN-1375/Q11/Q11"))
    assert f"accepted cotton-origin file invoice chain only; {TOLD}" in pair
    document = client.get("/compare/DN-1375.json").json()
    (told,) = {each["accepted"] for each in document["pairs"] if each["pair"] == "Q11/Q14"}
    assert told.startswith("Q11 as warp: cotton-origin file")
    assert REASON in told
    assert client.get("/api/v1/compare/DN-1375").json() == document
    rows = list(csv.DictReader(io.StringIO(client.get("/compare/DN-1375.csv").text[1:])))
    assert {r["Accepted by decision"] for r in rows if r["Pair"] == "Q11/Q14"} == {told}
    assert client.get("/compare/DN-1375/Q11/Q14.json").json()["accepted"] == [told]


def test_the_matrix_shows_what_its_best_pair_rests_on(client: TestClient) -> None:
    accept(client)
    page = client.get("/compare/DN-1375?meeting=2026-03-21")  # others have expired by then
    matrix = section(page, "Warp spinning down", "Ladder")
    assert "accepted Q11 as" in matrix
    assert REASON in matrix


def test_the_lists_of_leaders_name_a_decision(client: TestClient) -> None:
    accept(client, "Q21", about="tenacity", role="filling")
    accept(client, "Q21", about="evenness", role="filling")
    document = client.get("/compare.json").json()
    leaders = {each["construction"]: each for each in document}
    told = leaders["DN-1250 Anvil"]["accepted"]
    assert "Q21 as filling" in told
    assert REASON in text_of(client.get("/compare"))
    assert REASON in text_of(client.get("/"))


def test_a_decision_is_withdrawn_and_stays_in_the_history(client: TestClient) -> None:
    accept(client)
    page = client.get("/offers/Q11").text
    action = re.search(r'action="(/offers/Q11/gate/\d+/withdraw)"', page)
    assert action
    answer = client.post(action[1], follow_redirects=False)
    assert answer.headers["location"] == "/offers/Q11?notice=changed#gate"
    told = text_of(client.get("/offers/Q11"))
    assert "Decisions" not in told
    assert f"Accepted origin file, all roles {REASON} → (empty)" in told
    history = text_of(client.get("/offers/Q11/history"))
    assert f"Accepted origin file, all roles {REASON} –" in history
    assert client.post(action[1]).status_code == 404


def test_a_decision_that_lapsed_is_shown_so_and_does_not_hold(client: TestClient) -> None:
    accept(client, until="2026-03-10")
    assert "Warp, rope-dyed possible" in text_of(client.get("/offers/Q11"))
    later = text_of(client.get("/offers/Q11?as_of=2026-03-11"))
    assert "Warp, rope-dyed unproven" in later
    assert "lapsed origin file for all roles" in later


@pytest.mark.parametrize(
    ("changed", "field", "told"),
    [
        ({"reason": "fine"}, "reason", "at least 10"),
        ({"about": "validity"}, "about", "quoted again"),
        ({"about": "tenacity"}, "about", "nothing to accept"),
        ({"until": "2020-01-01"}, "until", "would never hold"),
    ],
)
def test_a_refused_decision_comes_back_with_what_was_typed(
    client: TestClient, house_engine: Engine, changed: dict[str, str], field: str, told: str
) -> None:
    seen = counts(house_engine)
    answer = accept(client, **changed)
    assert answer.status_code == 422
    assert f'href="#f-{field}"' in answer.text
    assert told in html.unescape(answer.text)
    for typed in (FORM | changed).values():
        assert html.escape(typed) in answer.text
    assert counts(house_engine) == seen


def test_words_of_a_decision_are_text_on_every_page(client: TestClient) -> None:
    accept(client, reason="<script>alert(1)</script> & so on")
    for page in ("/offers/Q11", "/compare/DN-1375", "/offers/Q11/history"):
        assert "<script>alert" not in client.get(page).text
        assert "&lt;script&gt;alert(1)" in client.get(page).text


def test_the_gate_is_read_as_csv_and_json(client: TestClient) -> None:
    accept(client, role="filling")
    document = client.get("/offers/Q11/gate.json").json()
    assert document["roles"]["filling"]["state"] == "possible"
    assert document["roles"]["warp, rope-dyed"]["state"] == "unproven"
    rows = list(csv.DictReader(io.StringIO(client.get("/offers/Q11/gate.csv").text[1:])))
    found = next(r for r in rows if (r["role"], r["about"]) == ("filling", "origin file"))
    assert found["outcome"] == "accepted"
    assert REASON in found["decision"]
    limit = next(r for r in rows if (r["role"], r["about"]) == ("filling", "tenacity"))
    assert (limit["limit"], limit["owner"]) == ("at least 11 cN/tex", "Rosalía Quintero")


def test_an_offer_that_nothing_stands_against_offers_no_decision(client: TestClient) -> None:
    assert "Accept a finding" not in client.get("/offers/Q09").text
    assert "Accept a finding" in client.get("/offers/Q11").text


def test_figures_of_an_offer_still_open(client: TestClient) -> None:
    assert client.get("/offers/Q11/offer.same_basis_price").status_code == 200
    assert client.get("/offers/Q11/gate").status_code == 200
    assert client.get("/offers/Q99/gate").status_code == 404
    assert client.post("/offers/Q99/gate", data=FORM).status_code == 404


def test_a_house_without_a_basis_shows_the_offer_without_its_gate(
    client: TestClient, house_engine: Engine
) -> None:
    with house_engine.begin() as connection:
        for name in ("house_regain", "basis"):
            connection.execute(delete(SQLModel.metadata.tables[name]))
        connection.exec_driver_sql("INSERT INTO audit_event (at, person_id, table_name, row_id,"
                                   " action, changes) SELECT at, person_id, table_name, row_id,"
                                   " action, changes FROM audit_event LIMIT 1")  # fmt: skip
    page = client.get("/offers/Q11")
    assert page.status_code == 200
    assert "Can it do the job?" not in page.text
    assert client.get("/offers/Q11/gate").status_code == 404
    assert accept(client).status_code == 404


def test_the_list_of_offers_names_a_decision(client: TestClient) -> None:
    accept(client)
    assert f"origin file, all roles: {TOLD}" in text_of(client.get("/offers?q=Merapatih"))
    document = client.get("/offers.json").json()
    told = {each["offer"]: each["accepted"] for each in document}
    assert told["Q11"].endswith(REASON)
    assert told["Q09"] == ""
    rows = list(csv.DictReader(io.StringIO(client.get("/offers.csv").text[1:])))
    assert {r["Offer"]: r["Accepted by decision"] for r in rows} == told
