"""The texts for sellers on their page and as files: copied by hand or button, nothing leaks."""

from __future__ import annotations

import re
from html import unescape

from starlette.testclient import TestClient

from server.places import STATIC, TEMPLATES


def test_each_text_can_be_copied_with_and_without_scripts(client: TestClient) -> None:
    page = unescape(client.get("/fresh/requotes?days=14").text)
    fields = re.findall(r'<textarea id="(text-\d+)" lang="(\w\w)" rows="\d+" readonly', page)
    assert len(fields) == page.count("<section") > 4
    for name, _ in fields:
        assert f'data-copies="{name}" data-done="Copied" hidden' in page
    assert {language for _, language in fields} >= {"en", "es", "pt", "tr"}
    assert "- Q08: Ne 6/1, OE, 46.80 MXN/kg, DAP mill, OA 60; su oferta del 2026-02-24" in page
    assert "/static/js/copy.js" in page
    script = (STATIC / "js" / "copy.js").read_text("utf-8")
    assert "button.hidden = false" in script
    assert "style=" not in (TEMPLATES / "freshness" / "requotes.html").read_text("utf-8")


def test_the_language_can_be_one_for_all(client: TestClient) -> None:
    found = client.get("/fresh/requotes.json?days=14&language=fr").json()
    assert {each["language"] for each in found} == {"fr"}
    assert all(each["text"].startswith("Bonjour,") for each in found)


def test_a_text_is_a_file_for_one_seller_or_for_all(client: TestClient) -> None:
    answer = client.get("/fresh/requotes.txt?days=14&supplier=Yelk%C4%B1ran+%C4%B0plik")
    assert answer.headers["content-type"] == "text/plain; charset=utf-8"
    assert answer.headers["content-disposition"] == 'attachment; filename="requotes.txt"'
    assert answer.text.startswith("Yelkıran İplik, Türkiye\r\nYeni fiyat teklifi talebi\r\n")
    assert "Q34" in answer.text
    assert "Q08" not in answer.text
    every = client.get("/fresh/requotes.txt?days=14").text
    assert "Q08" in every
    assert "Q34" in every


def test_no_file_for_one_seller_holds_the_price_of_another(client: TestClient) -> None:
    offers = client.get("/offers.json").json()
    for seller in client.get("/fresh/requotes.json?days=365").json():
        name = seller["supplier"]
        text = client.get("/fresh/requotes.txt", params={"days": "365", "supplier": name}).text
        own = {each["price"] for each in offers if each["supplier"] == name}
        for other in offers:
            if other["supplier"] != name:
                assert not re.search(rf"\b{other['offer']}\b", text)
                assert other["supplier"] not in text
                assert other["price"] in own or other["price"] not in text
