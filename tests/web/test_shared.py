"""What lies behind a link: the buyer's view and nothing of the house, for a while."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
from fastapi import FastAPI
from sqlalchemy import Engine, text
from starlette.testclient import TestClient

from server.actions.packs import choose_shown, stored_pack
from server.actions.shares import revoke, share, shares_of
from server.core.buyer_view import OPEN_BOOK, PRICE_AND_WEIGHT
from tests.entered import counts
from tests.web.meetings import frozen_pack
from tests.web.test_packs import refused, shown_text

PATHS = ("", ".json", ".csv", "/files/workbook.xlsx", "/files/handout.pdf", "/pairs/1/A1/A1")
HOUSE = ("Creelbook", "/compare", "/offers", "/suppliers", "/meetings", "main-nav", "keys.js",
         "Demonstration", 'class="switch"')  # fmt: skip


@pytest.fixture
def pack(house_engine: Engine) -> str:
    """A frozen pack with price and weight chosen."""
    reference = frozen_pack(house_engine, "Spring denim", ("DN-1375",))
    choose_shown(house_engine, reference, 1, PRICE_AND_WEIGHT,
                 stored_pack(house_engine, reference).version)  # fmt: skip
    return reference


@pytest.fixture
def token(house_engine: Engine, pack: str) -> str:
    return share(house_engine, pack, 1, days="3")


@pytest.fixture
def stranger(client: TestClient, demo_app: FastAPI) -> TestClient:
    """Somebody outside: another browser, no cookies."""
    assert client
    return TestClient(demo_app, headers={"user-agent": "elsewhere"})


def test_the_form_makes_a_link_that_is_shown_once(
    client: TestClient, house_engine: Engine, pack: str, stranger: TestClient
) -> None:
    answer = client.post(f"/meetings/{pack}/shares", data={"days": "5", "whom": "Anna"})
    assert answer.status_code == 200
    (link,) = set(re.findall(r"http://testserver(/shared/[\w-]+)", answer.text))
    assert link not in client.get(f"/meetings/{pack}").text
    assert "Anna" in client.get(f"/meetings/{pack}").text
    page = stranger.get(link)
    assert page.status_code == 200
    assert "Spring denim" in page.text
    (kept,) = shares_of(house_engine, pack)
    assert timedelta(days=4.9) < kept.expires_at - datetime.now(UTC) < timedelta(days=5.1)


def test_a_link_opens_everything_of_the_view_without_a_cookie(
    stranger: TestClient, token: str
) -> None:
    page = stranger.get(f"/shared/{token}")
    opened = set(re.findall(r'href="(/shared/[^"#]+)', page.text))
    assert len(opened) > 10
    for path in opened:
        answer = stranger.get(path)
        assert answer.status_code == 200, path
        assert "set-cookie" not in answer.headers
        assert answer.headers["cache-control"] == "no-store"
        assert answer.headers["referrer-policy"] == "no-referrer"
        assert answer.headers["x-robots-tag"] == "noindex, nofollow"
        assert "default-src 'self'" in answer.headers["content-security-policy"]
    assert not stranger.cookies


def test_a_page_behind_a_link_leads_nowhere_else_and_runs_nothing(
    stranger: TestClient, token: str
) -> None:
    for path in (f"/shared/{token}", f"/shared/{token}/pairs/1/A1/A1"):
        page = stranger.get(path).text
        for each in HOUSE:
            assert each not in page, each
        links = set(re.findall(r'(?:href|src|action)="([^"]*)"', page))
        assert all(each.startswith((f"/shared/{token}", "/static/", "#")) for each in links), links
        assert "<script" not in page
        assert "<form" not in page
        assert 'content="noindex, nofollow"' in page


def test_the_files_of_a_link_are_named_without_the_words_of_the_house(
    stranger: TestClient, token: str, pack: str
) -> None:
    assert "tarn-fell" in pack
    for path in PATHS:
        answer = stranger.get(f"/shared/{token}{path}")
        assert answer.status_code == 200, path
        assert "tarn-fell" not in str(answer.headers)
        assert b"tarn-fell" not in answer.content
    named = stranger.get(f"/shared/{token}/files/workbook.xlsx").headers["content-disposition"]
    assert named == f'attachment; filename="2026-03-12-{pack[-4:]}-buyer-workbook.xlsx"'


@pytest.mark.parametrize("path", PATHS)
@pytest.mark.parametrize("why", ["never was", "mistyped", "taken back", "ended", "pack gone"])
def test_a_link_that_does_not_hold_says_one_plain_sentence(
    stranger: TestClient, house_engine: Engine, pack: str, token: str, path: str, why: str
) -> None:
    assert stranger.get(f"/shared/{token}").status_code == 200
    tried = token
    if why == "never was":
        tried = "x" * 32
    elif why == "mistyped":
        tried = token.swapcase()
    elif why == "taken back":
        revoke(house_engine, pack, shares_of(house_engine, pack)[0].id, 1)
    elif why == "ended":
        with house_engine.begin() as database:
            database.execute(
                text("UPDATE pack_share SET expires_at = '2026-01-01 00:00:00.000000'")
            )
    else:
        tried = f"{token}%2F..%2F..%2Fmeetings"
    answer = stranger.get(f"/shared/{tried}{path}")
    assert answer.status_code == 404
    if why != "pack gone":
        assert "This link does not open anything" in answer.text
    for each in (*HOUSE, pack, "Spring denim", "DN-1375", token):
        assert each not in answer.text, each
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["referrer-policy"] == "no-referrer"
    assert "noindex" in answer.headers["x-robots-tag"]


def test_what_is_wrong_behind_a_link_shows_nothing_of_the_house(
    stranger: TestClient, token: str
) -> None:
    for path, status in (
        ("/pairs/9/A1/A1", 404), ("/pairs/1/Q14/Q14", 404), ("/pairs/x/A1/A1", 422),
        ("/files/other.exe", 404), ("/pack", 404), ("/again", 404), ("/edit", 404),
        ("/buyer", 404), ("/shares", 404),
    ):  # fmt: skip
        answer = stranger.get(f"/shared/{token}{path}")
        assert answer.status_code == status, path
        for each in (*HOUSE, "Q14 is"):
            assert each not in answer.text, (path, each)
        assert answer.headers["referrer-policy"] == "no-referrer", path


def test_behind_a_link_nothing_can_be_sent(
    stranger: TestClient, house_engine: Engine, token: str
) -> None:
    seen = counts(house_engine)
    for path in ("", "/shown", "/shares", "/freeze", "/pairs/1/A1/A1"):
        for method in ("POST", "PUT", "DELETE", "PATCH"):
            answer = stranger.request(method, f"/shared/{token}{path}")
            assert answer.status_code in (404, 405), (method, path)
    assert counts(house_engine) == seen


@pytest.mark.parametrize("days", ["", "0", "-3", "367", "two", "1.5", "9" * 20])
def test_days_that_cannot_be_are_refused_with_the_field(
    client: TestClient, house_engine: Engine, pack: str, days: str
) -> None:
    refused(client, house_engine, f"/meetings/{pack}/shares", {"days": days, "whom": ""},
            "from 1 to 366")  # fmt: skip
    seen = counts(house_engine)
    answer = client.post(f"/api/v1/meetings/{pack}/shares", json={"days": days})
    assert answer.status_code == 422
    assert answer.json()["field"] == "days"
    assert counts(house_engine) == seen


def test_nothing_chosen_nothing_shared(client: TestClient, house_engine: Engine) -> None:
    reference = frozen_pack(house_engine, "Nothing", ("DN-1375",))
    refused(client, house_engine, f"/meetings/{reference}/shares", {"days": "3"},
            "Nothing is chosen")  # fmt: skip


def test_a_price_link_and_a_cost_link_of_one_pack_are_not_open_together(
    client: TestClient, house_engine: Engine, pack: str, token: str
) -> None:
    choose_shown(house_engine, pack, 1, OPEN_BOOK, stored_pack(house_engine, pack).version)
    refused(client, house_engine, f"/meetings/{pack}/shares", {"days": "3"}, "tell the margin")
    assert token


def test_taking_back_ends_the_link_at_once(
    client: TestClient, house_engine: Engine, pack: str, token: str, stranger: TestClient
) -> None:
    stranger.get(f"/shared/{token}/files/workbook.xlsx")
    (kept,) = shares_of(house_engine, pack)
    page = client.get(f"/meetings/{pack}").text
    assert f'action="/meetings/{pack}/shares/{kept.id}/revoke"' in page
    answer = client.post(f"/meetings/{pack}/shares/{kept.id}/revoke", follow_redirects=False)
    assert answer.status_code == 303
    for path in PATHS:
        assert stranger.get(f"/shared/{token}{path}").status_code == 404
    page = client.get(f"/meetings/{pack}").text
    assert "taken back" in shown_text(page)
    assert "/revoke" not in page
    for number in (kept.id + 1, 0):
        assert client.post(f"/meetings/{pack}/shares/{number}/revoke").status_code == 404
    assert client.post(f"/meetings/{pack}/shares/x/revoke").status_code == 422


def test_the_secret_of_a_link_is_not_in_the_log_of_an_error(
    demo_app: FastAPI, client: TestClient, token: str, monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:  # fmt: skip
    from server.web import shared

    def broken(*_given: object) -> None:
        raise RuntimeError("broken")

    assert client
    monkeypatch.setattr(shared, "buyer_answer", broken)
    outside = TestClient(demo_app, raise_server_exceptions=False)
    answer = outside.get(f"/shared/{token}")
    assert answer.status_code == 500
    assert token not in caplog.text
    assert "unforeseen error" in caplog.text
    assert "/compare" not in answer.text
