"""Break-evens and the map over the API: the same documents as the pages give."""

from __future__ import annotations

from starlette.testclient import TestClient

PARTS = "Rinconada 2026, hours in parts"


def test_break_evens_are_those_of_the_page(client: TestClient) -> None:
    query = {"first": "Q25/Q35", "second": "Q22/Q35"}
    api = client.get("/api/v1/constructions/DN-1200S/break-even", params=query).json()
    page = client.get("/constructions/DN-1200S/break-even.json", params=query).json()
    assert api == page
    tie = next(each for each in api["ties"] if each["key"] == "exchange_rate.MXN")
    assert round(tie["tie"], 2) == 17.00


def test_a_change_is_named_in_the_same_query(client: TestClient) -> None:
    query = {"filling_ne": "7", "second": "weight-picks"}
    api = client.get("/api/v1/constructions/DN-1250/break-even", params=query).json()
    assert api["asked"] == {"filling_ne": "7"}
    assert api["second"]["option"] == "weight-picks"


def test_the_map_is_that_of_the_page(client: TestClient) -> None:
    query = {"assumption_set": PARTS}
    api = client.get("/api/v1/compare/DN-1375/map", params=query).json()
    assert api == client.get("/compare/DN-1375/map.json", params=query).json()
    assert api["cheapest_today"] == "own OE/own OE"


def test_bad_questions_name_their_field(client: TestClient) -> None:
    for path, query, field in (
        ("constructions/DN-1375/break-even", {"figure": "beauty"}, "figure"),
        ("constructions/DN-1375/break-even", {"second": "nope"}, "second"),
        ("compare/DN-1375/map", {"x": "beauty"}, "x"),
    ):
        answer = client.get(f"/api/v1/{path}", params=query)
        assert answer.status_code == 422
        assert answer.json()["field"] == field
