"""The entry API on a copy of the demonstration: reading, adding, changing, and any bad input."""

from __future__ import annotations

import json
import re
from typing import Any
from urllib.parse import quote

import httpx
import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from server.actions.nouns import NOUNS
from server.actions.records import list_records, one_record
from tests.entered import counts, fresh, key_of
from tests.store.databases import EVERY_NOUN

PROBLEM = {"code", "message", "field", "value", "unit", "remedy"}
RATE = {
    "base": "EUR",
    "quote": "GBP",
    "rate": "0.8600",
    "valid_from": "2026-03-02",
    "source": "a public table",
}


def at(path: str, key: str = "") -> str:
    return f"/api/v1/{path}" + (f"/{quote(key, safe='')}" if key else "")


def refused(answer: httpx.Response, status: int = 422) -> dict[str, Any]:
    """The body of a refusal, which has all its parts and a sentence."""
    assert answer.status_code == status, answer.text
    body: dict[str, Any] = answer.json()
    assert set(body) >= PROBLEM
    assert body["message"]
    assert body["remedy"]
    return body


@pytest.mark.parametrize("path", EVERY_NOUN)
def test_every_noun_is_listed_and_read_with_a_version(
    client: TestClient, house_engine: Engine, path: str
) -> None:
    listed = client.get(at(path)).json()
    assert len(listed) == len(list_records(house_engine, NOUNS[path]))
    answer = client.get(at(path, listed[0]["key"]))
    assert answer.json() == listed[0]
    assert answer.headers["etag"] == '"1"'
    assert set(listed[0]["entry"]) == set(NOUNS[path].fields)


@pytest.mark.parametrize("path", EVERY_NOUN)
def test_every_noun_is_added_and_what_was_read_can_be_sent_back(
    client: TestClient, house_engine: Engine, path: str
) -> None:
    added = client.post(at(path), json=fresh(path))
    assert added.status_code == 201, added.text
    document = added.json()
    seen = counts(house_engine)
    again = client.put(
        at(path, document["key"]), json={**document["entry"], "version": document["version"]}
    )
    assert again.status_code == 200, again.text
    assert again.json()["entry"] == document["entry"]
    assert counts(house_engine) == seen


def test_decimals_come_out_as_the_text_that_was_sent(client: TestClient) -> None:
    added = client.post(at("rates/exchange"), json=RATE).json()
    assert added["entry"]["rate"] == "0.8600"
    number = client.post(at("rates/exchange"), json={**RATE, "quote": "CHF", "rate": 0.93}).json()
    assert number["entry"]["rate"] == "0.93"
    offer = client.get(at("offers", "Q08")).json()["entry"]
    assert (offer["price"], offer["lead_days"], offer["moq_tonnes"]) == ("46.80", 14, "5")


def test_a_change_needs_the_version_in_the_body_or_in_the_header(client: TestClient) -> None:
    address = at("rates/exchange", "1")
    entry = client.get(address).json()["entry"] | {"rate": "1.2000"}
    body = refused(client.put(address, json=entry))
    assert body["field"] == "version"
    bad: tuple[Any, ...] = (True, 1.5, "x", [], {}, "9" * 5000, -1, None)
    for version in bad:
        assert refused(client.put(address, json={**entry, "version": version}))
    by_header = client.put(address, json=entry, headers={"if-match": '"1"'})
    assert by_header.status_code == 200
    assert by_header.headers["etag"] == '"2"'
    by_body = client.put(address, json={**entry, "rate": "1.21", "version": 2})
    assert by_body.json()["version"] == 3


def test_a_stale_change_is_a_conflict_and_changes_nothing(
    client: TestClient, house_engine: Engine
) -> None:
    address = at("suppliers", "Yelkıran İplik")
    document = client.get(address).json()
    entry = {**document["entry"], "version": document["version"]}
    assert client.put(address, json={**entry, "notes": "theirs"}).status_code == 200
    seen = counts(house_engine)
    body = refused(client.put(address, json={**entry, "notes": "mine"}), 409)
    assert body["code"] == "conflict"
    assert counts(house_engine) == seen
    kept = one_record(house_engine, NOUNS["suppliers"], "Yelkıran İplik")
    assert kept.values["notes"] == "theirs"


def test_a_quoted_price_cannot_change(client: TestClient) -> None:
    document = client.get(at("offers", "Q05")).json()
    entry = {**document["entry"], "version": 1, "price": "111"}
    body = refused(client.put(at("offers", "Q05"), json=entry))
    assert body["field"] == "price"
    assert "kept as quoted" in body["message"]


def test_a_key_with_letters_and_a_slash_is_an_address(client: TestClient) -> None:
    client.post(at("suppliers"), json={"name": "Dệt A/S ı", "country": "Farland"})
    assert client.get(at("suppliers", "Dệt A/S ı")).json()["key"] == "Dệt A/S ı"


def test_every_faulty_field_is_named_with_value_unit_and_remedy(client: TestClient) -> None:
    body = refused(client.post(at("offers"), json=fresh("offers") | {"price": "-1", "term": "X"}))
    by_field = {each["field"]: each for each in body["errors"]}
    assert set(by_field) == {"price", "term"}
    assert by_field["price"]["value"] == "-1"
    assert by_field["price"]["unit"] == "quoted currency and unit"
    assert "must be greater than 0" in by_field["price"]["message"]


def test_what_is_not_there_is_not_found(client: TestClient) -> None:
    for path in EVERY_NOUN:
        assert refused(client.get(at(path, "0")), 404)["code"] == "not_found"
        answer = client.put(at(path, "0"), json={**fresh(path), "version": 1})
        assert refused(answer, 404)
    assert refused(client.get("/api/v1/nothing"), 404)
    assert refused(client.delete(at("offers", "Q05")), 405)


DEEP = b'{"name":' + b"[" * 100_000 + b"]" * 100_000 + b"}"
SOMEWHAT_DEEP = b'{"name":' + b"[" * 900 + b"]" * 900 + b',"country":"B"}'
BODIES = [
    b"", b"null", b"[]", b'"text"', b"5", b"{", b"\xff\xfe", b"NaN",
    b'{"name":"\\u0000","country":"B"}',
    b'{"name":"\\ud800","country":"B"}',
    b'{"\\ud800":"x","name":"A","country":"B"}',
    b'{"name":1e400,"country":"B"}',
    b'{"name":' + b"9" * 5000 + b',"country":"B"}',
    b'{"name":{"a":1},"country":["B"]}',
    b'{"name":"' + b"x" * 1_000_000 + b'","country":"B"}',
    b'{"name":"<script>alert(1)</script>","country":"B"}',
    b'{"name":true,"country":null}',
    DEEP, SOMEWHAT_DEEP,
]  # fmt: skip


@pytest.mark.parametrize("body", BODIES, ids=lambda body: body[:24].decode("latin-1"))
def test_any_body_gets_a_readable_refusal_and_stores_nothing(
    client: TestClient, house_engine: Engine, body: bytes
) -> None:
    seen = counts(house_engine)
    headers = {"content-type": "application/json"}
    for answer in (
        client.post(at("suppliers"), content=body, headers=headers),
        client.put(at("suppliers", "Yelkıran İplik"), content=body, headers=headers),
    ):
        assert 400 <= answer.status_code < 500
        refused(answer, answer.status_code)
    assert counts(house_engine) == seen


VALUES = [
    "1e400", "-1e400", "1e-400", "Infinity", "nan", "0x10", "1_000", "1,5", "", " ", "-0", "\0",
    "\ud800", "٣" * 30, "9" * 1_000_000, [], {}, True, -1, 1e308, 10**40,
]  # fmt: skip


@pytest.mark.parametrize(
    ("path", "field"),
    [
        ("rates/exchange", "rate"),
        ("offers", "price"),
        ("offers", "lead_days"),
        ("offers", "quoted_on"),
        ("offers", "term"),
        ("constructions", "warp_crimp_percent"),
        ("constructions", "finished_width_in"),
    ],
)
def test_no_value_of_a_figure_brings_the_server_down(
    client: TestClient, house_engine: Engine, path: str, field: str
) -> None:
    seen = counts(house_engine)
    for value in VALUES:
        if field in ("warp_crimp_percent", "lead_days") and value == "-0":
            continue  # is nought
        if field in ("lead_days", "term") and str(value).strip() == "":
            continue  # not said: the offer is stored and a question stands
        body = json.dumps({**fresh(path), field: value}).encode()
        answer = client.post(at(path), content=body, headers={"content-type": "application/json"})
        refused(answer)
    assert counts(house_engine) == seen


def test_bad_keys_in_the_address_are_not_found(client: TestClient) -> None:
    for key in ("%00", "%ED%A0%80", "9" * 400, "..%2F..", "%F0%9F%A7%B5", "-1", "1e3", "²"):
        for path in ("suppliers", "rates/exchange", "offers"):
            assert client.get(f"/api/v1/{path}/{key}").status_code == 404


def test_a_body_larger_than_allowed_is_refused(client: TestClient) -> None:
    answer = client.post(at("suppliers"), json={"name": "x" * 10_500_000, "country": "B"})
    assert 400 <= answer.status_code < 500


def test_a_write_from_another_site_is_refused(client: TestClient, house_engine: Engine) -> None:
    seen = counts(house_engine)
    for headers in ({"sec-fetch-site": "cross-site"}, {"origin": "https://elsewhere.example"}):
        answer = client.post(at("rates/exchange"), json=RATE, headers=headers)
        assert answer.status_code == 403
    assert counts(house_engine) == seen


def test_a_change_is_in_the_history_with_before_and_after(client: TestClient) -> None:
    address = at("rates/exchange", "1")
    entry = client.get(address).json()["entry"] | {"rate": "1.2000", "version": 1}
    assert client.put(address, json=entry).status_code == 200
    page = client.get("/rates/exchange/1").text
    assert "<td>1.1860</td><td>1.2000</td>" in re.sub(r"\s*\n\s*", "", page)


def test_the_description_names_every_field_with_its_unit(client: TestClient) -> None:
    document = client.get("/api/v1/openapi.json").json()
    for path, noun in NOUNS.items():
        listed, one = document["paths"][at(path)], document["paths"][f"{at(path)}/{{key}}"]
        assert set(listed) == {"get", "post"}
        assert set(one) == {"get", "put"}
        schema = listed["post"]["requestBody"]["content"]["application/json"]["schema"]
        assert set(schema["properties"]) == set(noun.fields)
        assert key_names(schema) == {
            name for name, info in noun.fields.items() if info.is_required()
        }
        for name, about in schema["properties"].items():
            assert about["title"] == noun.fields[name].title
            assert about["unit"] in ("", "date") or about["unit"] in about["description"]
        changed = one["put"]["requestBody"]["content"]["application/json"]["schema"]
        assert "version" in changed["properties"]


def key_names(schema: dict[str, Any]) -> set[str]:
    return set(schema["required"])


def test_the_first_record_of_a_noun_is_the_first_of_its_pages(
    client: TestClient, house_engine: Engine
) -> None:
    for path in EVERY_NOUN:
        assert client.get(at(path)).json()[0]["key"] == key_of(house_engine, path)
