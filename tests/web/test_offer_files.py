"""Files of an offer through the pages and the API."""

from __future__ import annotations

import html
import io
import re
import zipfile
from typing import Any

import httpx
import pytest
from starlette.testclient import TestClient

from tests.store.test_attachments import PDF

PNG = b"\x89PNG\r\n\x1a\n" + b"\0" * 20
JPEG = b"\xff\xd8\xff\xe0" + b"\0" * 20


def text_of(answer: httpx.Response) -> str:
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", answer.text)))


def send(client: TestClient, name: str, content: bytes, **form: str) -> Any:
    return client.post(
        "/offers/Q01/files",
        data={"kind": "TDS", "note": "", **form},
        files={"file": (name, content)},
        follow_redirects=False,
    )


def docx() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("word/document.xml", "<x/>")
    return out.getvalue()


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("sheet.pdf", PDF), ("a.PNG", PNG), ("b.jpg", JPEG), ("b.jpeg", JPEG),
        ("t.csv", b"tenacity,14.6\n"), ("Ünal, 3 % – x.txt", "yarı".encode("cp1254")),
    ],
)  # fmt: skip
def test_a_file_comes_back_byte_for_byte_as_a_harmless_download(
    client: TestClient, name: str, content: bytes
) -> None:
    assert send(client, name, content, note="by mail").status_code == 303
    page = client.get("/offers/Q01")
    assert name in html.unescape(page.text)
    assert "by mail" in page.text
    answer = client.get("/offers/Q01/files/1")
    assert answer.content == content
    assert answer.headers["content-type"] == "application/octet-stream"
    assert answer.headers["content-disposition"].startswith("attachment; filename*=UTF-8''")
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "sandbox" in answer.headers["content-security-policy"]


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        ("a.html", b"<html><script>alert(1)</script>", "is a web page"),
        ("a.txt", b"<html><script>alert(1)</script>", "is a web page"),
        ("a.svg", b"<svg onload='x'>", "although its name ends in .svg"),
        ("a.pdf", b"<svg onload='x'>", "although its name ends in .pdf"),
        ("a.png", PDF, "is a PDF file, although its name ends in .png"),
        ("a.exe", b"MZ\0\0", "is a program"),
        ("a.docx", docx(), "Word document"),
        ("a.zip", b"PK\x03\x04 cut", "damaged"),
        ("a.gif", b"GIF89a", "is a picture (GIF)"),
        ("sheet", PDF, "its name has no ending"),
        ("a.csv", b"", "is empty"),
    ],
)
def test_what_is_not_kept_is_refused_with_what_it_is(
    client: TestClient, name: str, content: bytes, told: str
) -> None:
    answer = send(client, name, content)
    assert answer.status_code == 422
    assert told in text_of(answer)
    assert ".pdf, .png, .jpeg, .xlsx, .xls, .ods, .csv or .txt" in text_of(answer)
    assert client.get("/api/v1/offers/Q01/files").json() == []


def test_no_file_no_kind_and_a_long_note_are_refused(client: TestClient) -> None:
    nothing = client.post("/offers/Q01/files", data={"kind": "TDS"})
    assert (nothing.status_code, "No file was chosen" in nothing.text) == (422, True)
    assert "is no kind of file" in text_of(send(client, "a.pdf", PDF, kind="picture"))
    assert "longer than 500" in text_of(send(client, "a.pdf", PDF, note="x" * 501))


def test_a_file_of_ten_megabytes_is_kept_and_one_above_is_not(client: TestClient) -> None:
    most = PDF.ljust(10_000_000, b"0")
    assert send(client, "most.pdf", most).status_code == 303
    above = send(client, "above.pdf", most + b"0")
    assert (above.status_code, "10 MB are kept" in text_of(above)) == (422, True)
    far_above = send(client, "far.pdf", most + b"0" * 200_000)
    assert far_above.status_code == 413
    assert "Go back and send a smaller file" in far_above.text
    to_api = client.post("/api/v1/offers/Q01/files", files={"file": ("a.pdf", most * 2)})
    assert (to_api.status_code, to_api.json()["code"]) == (413, "too_large")


def test_a_folder_in_the_name_is_left_out(client: TestClient) -> None:
    send(client, "C:\\sheets\\..\\lot 7.pdf", PDF)
    assert client.get("/api/v1/offers/Q01/files").json()[0]["name"] == "lot 7.pdf"


def test_a_removed_file_is_gone_but_told(client: TestClient) -> None:
    send(client, "sheet.pdf", PDF)
    answer = client.post("/offers/Q01/files/1/remove", follow_redirects=False)
    assert answer.status_code == 303
    assert client.get("/offers/Q01/files/1").status_code == 404
    assert "file sheet.pdf → (empty)" in text_of(client.get("/offers/Q01"))
    assert client.post("/offers/Q01/files/1/remove").status_code == 404


@pytest.mark.parametrize("number", ["0", "x", "99999999999", "1e3", "٣"])
def test_a_number_that_is_none_is_not_found(client: TestClient, number: str) -> None:
    assert client.get(f"/offers/Q01/files/{number}").status_code == 404
    assert client.get("/offers/none/files").status_code == 404


def test_a_file_of_another_offer_is_not_given(client: TestClient) -> None:
    send(client, "sheet.pdf", PDF)
    assert client.get("/offers/Q02/files/1").status_code == 404
    assert client.get("/api/v1/offers/Q02/files/1").status_code == 404


def test_the_api_attaches_lists_gives_and_removes(client: TestClient) -> None:
    added = client.post(
        "/api/v1/offers/Q01/files",
        data={"kind": "laboratory report", "note": "lot 7"},
        files={"file": ("lot.pdf", PDF)},
    )
    assert added.status_code == 201
    told = added.json()
    assert (told["name"], told["kind"], told["size_bytes"]) == (
        "lot.pdf", "laboratory report", len(PDF),
    )  # fmt: skip
    assert client.get("/api/v1/offers/Q01/files").json() == [told]
    assert client.get(f"/api/v1/offers/Q01/files/{told['id']}").content == PDF
    assert client.delete(f"/api/v1/offers/Q01/files/{told['id']}").status_code == 204
    assert client.get("/api/v1/offers/Q01/files").json() == []
    refused = client.post("/api/v1/offers/Q01/files", files={"file": ("a.html", b"<html>")})
    assert (refused.status_code, refused.json()["code"]) == (422, "unreadable_file")
    assert client.post("/api/v1/offers/Q01/files", data={"kind": "TDS"}).status_code == 422
