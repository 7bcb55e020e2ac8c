"""The intake pages: paste, upload, match, answer, store, take back; bad input changes nothing."""

from __future__ import annotations

import re
import time
from datetime import UTC, datetime
from html import unescape
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import Engine

from server.actions import intakes
from server.actions.book import current_book
from server.actions.jobs import job_of
from tests.intake.making import text as as_text
from tests.intake.making import xlsx
from tests.store.test_migrations import counts

LINE = (
    "Ne 9/1 OE carded 1.95 USD/kg FOB Karachi, LC sight, regain 8.5%, delivery 30 days, "
    "valid till 2026-04-10"
)
SHEET: list[list[Any]] = [
    ["Count (Ne)", "Price USD/kg", "Process", "Delivery"],
    ["8/1", 1.9, "OE", "FOB Karachi"],
    ["10/1", 2.7, "ring carded", "FOB Karachi"],
]


def paste(client: TestClient, text: str, supplier: str = "Nilabagh Spinning") -> str:
    answer = client.post(
        "/intake/new",
        data={"text": text, "supplier": supplier, "received_on": "2026-03-02", "shape": "lines"},
    )
    assert answer.status_code == 200, unescape(answer.text)
    return str(answer.url.path)


def upload(client: TestClient, name: str, content: bytes) -> str:
    answer = client.post(
        "/intake/new",
        data={"supplier": "Nilabagh Spinning", "received_on": "2026-03-02"},
        files={"file": (name, content)},
    )
    assert answer.status_code == 200, unescape(answer.text)
    return str(answer.url.path)


def words(html: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", html)))


def test_a_pasted_line_stands_there_with_what_each_piece_was_taken_for(client: TestClient) -> None:
    page = client.get(paste(client, "OE 6/1 Rs 2310/10 lbs FOB mill"))
    assert '<ruby class="taken short">6/1<rt>count Ne 6</rt></ruby>' in page.text
    assert '<ruby class="asked short">FOB mill<rt>asked: delivery term</rt></ruby>' in page.text
    assert "can be several currencies" in page.text
    assert "Not said: Payment, Weight basis (regain), Lead time, Valid until" in words(page.text)


def test_a_paste_is_answered_stored_and_taken_back(
    client: TestClient, house_engine: Engine
) -> None:
    path = paste(client, f"{LINE}\nNe 8/1 OE Rs 2310/10 lbs FOB Karachi")
    before = {offer.code for offer in current_book(house_engine).offers}
    answered = client.post(
        f"{path}/lines",
        data={"a.2.currency": "PKR", "all.lead_days": "30", "all.payment": "LC sight",
              "all.quoted_regain_percent": "8.5", "all.valid_until": "2026-04-01", "d.1": "new"},
    )  # fmt: skip
    assert answered.status_code == 200
    assert "Store 2 offers" in words(answered.text)
    stored = client.post(f"{path}/store")
    assert "2 offers were stored from this intake" in words(stored.text)
    new = {offer.code for offer in current_book(house_engine).offers} - before
    assert len(new) == 2
    offer = client.get(f"/offers/{max(new)}")
    assert "Came in with" in offer.text
    assert "Open questions" not in offer.text
    taken_back = client.post(f"{path}/undo")
    assert "were taken back" in words(taken_back.text)
    assert {offer.code for offer in current_book(house_engine).offers} == before


def test_faulty_lines_keep_all_out_and_can_be_taken_away_as_csv(
    client: TestClient, house_engine: Engine
) -> None:
    path = paste(client, f"{LINE}\n=cmd|' /C calc'!A0 best regards")
    before = counts(house_engine)
    refused = client.post(f"{path}/store")
    assert refused.status_code == 422
    assert "Nothing was stored" in words(refused.text)
    assert counts(house_engine) == before
    rows = client.get(f"{path}/faulty.csv")
    assert "no count was found; enter it" in rows.text
    assert "\"'=cmd" in rows.text or ",'=cmd" in rows.text  # never a formula
    kept = client.post(f"{path}/store", data={"leave_out_faulty": "yes"})
    assert "1 offer was stored" in words(kept.text)


@pytest.mark.parametrize(
    ("data", "field", "message"),
    [
        ({"text": "", "received_on": "2026-03-02"}, "Text", "is empty"),
        ({"text": "x", "received_on": "2026-02-30"}, "Received on", "not a day of the calendar"),
        ({"text": "x", "received_on": "2026-03-02", "supplier": "Nobody"}, "", "no supplier"),
    ],
)
def test_what_cannot_be_received_is_told_beside_its_field(
    client: TestClient, house_engine: Engine, data: dict[str, str], field: str, message: str
) -> None:
    before = counts(house_engine)
    answer = client.post("/intake/new", data=data)
    assert answer.status_code in (404, 422)
    assert field in words(answer.text)
    assert message in words(answer.text)
    assert counts(house_engine) == before


def test_a_sheet_goes_by_its_columns_to_its_lines(client: TestClient, house_engine: Engine) -> None:
    path = upload(client, "prices.xlsx", xlsx({"March": [["Price list"], [], *SHEET]}))
    assert path.endswith("/columns")
    page = client.get(path)
    assert '<option value="count" selected>' in page.text
    assert 'name="heading_line" inputmode="numeric" size="4" value="3"' in page.text
    lines = client.post(
        path,
        data={"c0": "count", "c1": "price", "c2": "spinning", "c3": "term", "sheet": "March",
              "heading_line": "3", "all.lead_days": "30"},
    )  # fmt: skip
    assert "Line 4" in words(lines.text)
    assert "Price USD/kg" in lines.text
    assert "Store 2 offers" in words(lines.text)
    again = client.post(path, data={"c0": "count", "c1": "count", "heading_line": "3"})
    assert again.status_code == 422
    assert "chosen for two columns" in again.text


def test_a_file_in_an_unknown_encoding_is_shown_in_each_and_asked(client: TestClient) -> None:
    content = as_text([["Hilo", "Precio"], ["algodón peinado año", "2,46"]]).encode("cp1252")
    path = upload(client, "precios.csv", content)
    page = client.get(path)
    assert "In which of these do its words read right?" in page.text
    assert "algodón peinado año" in page.text
    chosen = client.get(path, params={"encoding": "cp1252"})
    assert "algodón peinado año" in chosen.text
    assert 'name="c0"' in chosen.text


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        ("offer.pdf", b"%PDF-1.7 x", "PDF"),
        ("offer.xlsx", b"PK\x03\x04 not a zip", "offer.xlsx"),
        ("offer.csv", bytes(range(256)) * 50, "offer.csv"),
        ("offer.xlsx", b"", "“offer.xlsx” is empty"),
        ("\u202eslx.exe\U0001f9f5.xlsx", b"MZ\x90\x00" + b"\0" * 400, "program"),
    ],
)
def test_a_hostile_file_gets_a_message_and_nothing_is_stored(
    client: TestClient, house_engine: Engine, name: str, content: bytes, message: str
) -> None:
    before = counts(house_engine)
    answer = client.post(
        "/intake/new",
        data={"received_on": "2026-03-02"},
        files={"file": (name, content)},
    )
    assert answer.status_code == 422
    assert message in words(answer.text)
    assert counts(house_engine) == before


def test_the_original_comes_back_byte_for_byte_and_is_not_run(client: TestClient) -> None:
    content = xlsx({"March": SHEET})
    path = upload(client, "prices <b>.xlsx", content).removesuffix("/columns")
    file = client.get(f"{path}/file")
    assert file.content == content
    assert file.headers["content-type"] == "application/octet-stream"
    assert file.headers["content-disposition"].startswith("attachment")
    assert file.headers["x-content-type-options"] == "nosniff"


def test_a_long_file_shows_its_progress_and_then_its_lines(
    client: TestClient, house_engine: Engine
) -> None:
    rows: list[list[Any]] = [
        ["Count (Ne)", "Price USD/kg"],
        *([f"{n / 10 + 4:.1f}/1", 1.9] for n in range(700)),
    ]
    path = upload(client, "long.xlsx", xlsx({"A": rows}))
    working = client.post(path, data={"c0": "count", "c1": "price", "heading_line": "1"})
    number = int(path.split("/")[2])
    if "<progress" in working.text:
        assert '<meta http-equiv="refresh" content="1">' in working.text
    job = job_of(house_engine, intakes.key_of(number))
    while job is not None and not job.finished:
        time.sleep(0.05)
    done = client.get(f"/intake/{number}")
    assert "all 700" in words(done.text)
    assert "Line 21 " in words(done.text)
    assert "Line 22 " not in words(done.text)
    after = client.get(f"/intake/{number}?after=21")
    assert "Line 22 " in words(after.text)


def test_the_list_of_intakes_says_where_each_stands(client: TestClient) -> None:
    assert "lines to be looked at" in client.get("/intake").text  # the morning's mail
    path = paste(client, LINE)
    assert "lines to be looked at" in client.get("/intake").text
    client.post(f"{path}/store")
    assert "stored" in words(client.get("/intake").text)
    assert client.get("/intake/9999").status_code == 404
    assert client.get("/intake/none").status_code in (404, 422)


def test_an_open_question_is_answered_on_the_offer(
    client: TestClient, house_engine: Engine
) -> None:
    path = paste(client, LINE.replace("1.95 USD/kg", "$1.95/kg"))
    client.post(f"{path}/store")
    code = next(o.code for o in current_book(house_engine).offers if o.intake_id)
    page = client.get(f"/offers/{code}")
    assert "Open questions" in page.text
    version = re.search(r'name="version" value="(\d+)"', page.text)
    assert version
    form = {"version": version[1], "field": "currency"}
    empty = client.post(f"/offers/{code}/answer", data={**form, "answer": ""})
    assert empty.status_code == 422
    wrong = client.post(f"/offers/{code}/answer", data={**form, "own": "doubloons"})
    assert wrong.status_code == 422
    done = client.post(f"/offers/{code}/answer", data={**form, "answer": "USD"})
    assert "Open questions" not in done.text
    late = client.post(f"/offers/{code}/answer", data={**form, "answer": "CAD"})
    assert late.status_code == 409


def test_a_paste_sent_by_another_site_is_refused(client: TestClient) -> None:
    answer = client.post(
        "/intake/new", data={"text": LINE}, headers={"origin": "https://elsewhere.example"}
    )
    assert answer.status_code == 403


def test_received_on_is_today_by_itself(client: TestClient) -> None:
    assert f'value="{datetime.now(UTC).date().isoformat()}"' in client.get("/intake/new").text
