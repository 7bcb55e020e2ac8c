"""Meeting packs as pages: put together, frozen, computed again; every bad input refused."""

from __future__ import annotations

import html
import json
import re
import threading
from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

import pytest
from sqlalchemy import Engine, text
from starlette.testclient import TestClient

from server.actions.asked_change import read_change
from server.actions.packs import (
    ClothAsked,
    choose_shown,
    freeze,
    new_pack,
    put_into,
    stored_pack,
)
from server.actions.variants import save_variant
from server.core.buyer_view import BY_KEY, COSTS
from server.core.errors import Conflict
from server.web.numbers import Writer
from server.web.pack_view import pack_view
from tests.entered import counts
from tests.export.handouts import variant_pack
from tests.web.meetings import changed, frozen_pack

TYPED = {"title": "Spring denim", "buyer": "Tarn & Fell", "meeting": "2026-03-12",
         "notes": "ours alone", "words": "Good morning"}  # fmt: skip


def shown_text(page: str) -> str:
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", page)))


def put(client: TestClient, **fields: str) -> str:
    """Put something into a pack by its form; gives the address of the pack."""
    answer = client.post("/meetings/put", data=TYPED | fields, follow_redirects=False)
    assert answer.status_code == 303, answer.text[:500]
    return str(answer.headers["location"]).partition("?")[0]


def version(client: TestClient, path: str) -> str:
    found = re.search(r'name="version" value="(\d+)"', client.get(path).text)
    assert found
    return str(found[1])


def freeze_by_form(client: TestClient, path: str) -> None:
    answer = client.post(f"{path}/freeze", data={"version": version(client, path)},
                         follow_redirects=False)  # fmt: skip
    assert answer.status_code == 303, answer.text[:500]


def refused(
    client: TestClient,
    engine: Engine,
    path: str,
    data: Mapping[str, Any],
    told: str,
    status: int = 422,
    **sent: Any,
) -> str:
    """Send something wrong; nothing of any table may have moved. Gives the answer's words."""
    seen = counts(engine)
    answer = client.post(path, data=data, follow_redirects=False, **sent)
    assert answer.status_code == status, (answer.status_code, shown_text(answer.text)[:400])
    assert told in shown_text(answer.text), shown_text(answer.text)[-1200:]
    assert counts(engine) == seen
    return str(answer.text)


def test_from_a_comparison_to_a_frozen_pack(client: TestClient) -> None:
    offered = client.get("/meetings/put?construction=DN-1375&pair=Q14/Q14").text
    assert re.search(r'name="pair_Q14/Q14" value="yes" checked', offered)
    path = put(client, construction="DN-1375", **{"pair_Q14/Q14": "yes"})
    assert re.fullmatch(r"/meetings/2026-03-12-tarn-fell-[0-9a-f]{4}", path)
    page = shown_text(client.get(path).text)
    for words in ("Spring denim draft", "For Tarn & Fell", "ours alone", "DN-1375 Larkspur",
                  "Draft, worked out now", "Internal: not for the buyer"):  # fmt: skip
        assert words in page
    put(client, pack=path.rpartition("/")[2], construction="DN-1250")
    freeze_by_form(client, path)
    page = shown_text(client.get(path).text)
    assert "Spring denim frozen" in page
    assert re.search(r"Frozen \d{4}-\d\d-\d\d \d\d:\d\d UTC by engine", page)
    assert "DN-1250" in page
    assert "Freeze this pack" not in page
    assert path in client.get("/meetings").text
    (record,) = client.get("/meetings.json").json()
    assert (record["state"], record["cloths"]) == ("frozen", ["DN-1375", "DN-1250"])
    assert client.get("/meetings.csv").text.count("\n") == 2


def test_a_frozen_page_does_not_move_with_the_house(
    client: TestClient, house_engine: Engine
) -> None:
    reference = frozen_pack(house_engine, "Spring denim", ("DN-1375",))
    path = f"/meetings/{reference}"
    was = {each: client.get(f"{path}{each}").text for each in (".json", ".csv", "")}
    changed(house_engine, "constructions", "DN-1375", loom_ppi="44", name="Renamed")
    changed(house_engine, "offers", "Q14", lead_days="80")
    now = {each: client.get(f"{path}{each}").text for each in (".json", ".csv", "")}
    assert now == was
    again = shown_text(client.get(f"{path}/again").text)
    assert "the pack gives the same numbers" in again


def test_a_draft_moves_with_the_house(client: TestClient, house_engine: Engine) -> None:
    path = put(client, construction="DN-1375")
    was = client.get(f"{path}.csv").text
    changed(house_engine, "constructions", "DN-1375", loom_ppi="44")
    assert client.get(f"{path}.csv").text != was


def test_every_pair_and_every_link_of_a_pack_opens(
    client: TestClient, house_engine: Engine
) -> None:
    save_variant(house_engine, "DN-1375", read_change({"loom_ppi": "42.3"}), 1,
                 name="Finer", notes="")  # fmt: skip
    reference = frozen_pack(house_engine, "All of it", ("DN-1375", ClothAsked("DN-1375", "Finer")))
    choose_shown(house_engine, reference, 1, [k for k in BY_KEY if k != "price"],
                 stored_pack(house_engine, reference).version)  # fmt: skip
    for base in (f"/meetings/{reference}", f"/meetings/{reference}/buyer"):
        page = client.get(base).text
        links = set(re.findall(r'href="(/[^"#?]*)', page))
        links -= {each for each in links if each.startswith(("/static", "/view"))}
        anchors = re.findall(rf'href="({re.escape(base)}/pairs/[^"#]+)#([^"]+)"', page)
        assert len(anchors) > 20
        for path in sorted(links):
            assert client.get(path).status_code == 200, path
        for path, anchor in anchors[:40]:
            opened = client.get(path).text
            in_lines = f'id="{anchor}"' in opened
            assert in_lines or "buyer" in base, (path, anchor)


def test_a_pair_page_tells_each_figure_with_its_formula_and_source(
    client: TestClient, house_engine: Engine
) -> None:
    reference = frozen_pack(house_engine, "Spring denim", ("DN-1375",))
    page = shown_text(client.get(f"/meetings/{reference}/pairs/1/Q14/Q14").text)
    assert "Q14/Q14 in DN-1375 Larkspur" in page
    assert page.count("Source:") > 60
    data = client.get(f"/meetings/{reference}.json").json()
    pair = next(p for p in data["cloths"][0]["pairs"] if p["key"] == "Q14/Q14")
    assert f"{pair['figures']['fabric_cost']:.3f}" in page


@pytest.mark.parametrize(
    ("typed", "field", "told"),
    [
        ({"title": ""}, "title", "cannot be"),
        ({"title": "x" * 201}, "title", "1 to 200 characters"),
        ({"title": "a\u202eb"}, "title", "cannot be"),
        ({"buyer": "x" * 201}, "buyer", "characters"),
        ({"buyer": "a\x07b"}, "buyer", "cannot be"),
        ({"meeting": ""}, "meeting", "needs the meeting’s day"),
        ({"meeting": "12.3.2026"}, "meeting", "2026-03-12"),
        ({"meeting": "2026-02-30"}, "meeting", "not a date"),
        ({"notes": "x" * 4001}, "notes", "at most 4000"),
        ({"notes": "a\0b"}, "notes", "cannot be kept"),
        ({"words": "a\x1bb"}, "words", "cannot be kept"),
    ],
)
def test_words_that_cannot_be_are_refused_beside_their_field(
    client: TestClient, house_engine: Engine, typed: dict[str, str], field: str, told: str
) -> None:
    page = refused(client, house_engine, "/meetings/put",
                   TYPED | {"construction": "DN-1375"} | typed, told)  # fmt: skip
    assert re.search(rf'class="field has-error">\s*<label for="f-{field}"', page)
    path = put(client, construction="DN-1375")
    sent = TYPED | typed | {"version": version(client, path)}
    page = refused(client, house_engine, path, sent, told)
    assert re.search(rf'class="field has-error">\s*<label for="f-{field}"', page)
    kept = typed[field]
    if kept.isprintable() and len(kept) < 50:
        assert html.escape(kept) in page, "what was typed stands in the form again"


@pytest.mark.parametrize(
    ("fields", "status", "told"),
    [
        ({"construction": "DN-9999"}, 404, "DN-9999"),
        ({"construction": "<script>"}, 404, "<script>"),
        ({"construction": "DN-1375", "variant": "none such"}, 404, "none such"),
        ({"pack": "2026-01-01-none"}, 404, "no meeting pack"),
        ({"construction": "DN-1375", "currency": "XXX"}, 422, "XXX"),
        ({"construction": "DN-1375", "basis": "no such basis"}, 404, "no such basis"),
        ({"construction": "DN-1375", "basis_meeting": "soon"}, 422, "soon"),
        ({"construction": "DN-1375", "loom_rule": "none"}, 422, "loom"),
    ],
)
def test_what_is_not_there_is_not_put_into_a_pack(
    client: TestClient, house_engine: Engine, fields: dict[str, str], status: int, told: str
) -> None:
    refused(client, house_engine, "/meetings/put", TYPED | fields, told, status)


@pytest.mark.parametrize("sent", [{}, {"version": ""}, {"version": "x"}, {"version": "-1"},
                                  {"version": "9" * 30}, {"version": "١"}])  # fmt: skip
@pytest.mark.parametrize("action", ["", "/freeze", "/shown"])
def test_without_a_version_nothing_is_changed(
    client: TestClient, house_engine: Engine, sent: dict[str, str], action: str
) -> None:
    path = put(client, construction="DN-1375")
    refused(client, house_engine, f"{path}{action}", TYPED | sent, "version")


@pytest.mark.parametrize("action", ["", "/freeze", "/shown"])
def test_a_stale_version_is_told_and_nothing_is_changed(
    client: TestClient, house_engine: Engine, action: str
) -> None:
    path = put(client, construction="DN-1375")
    old = version(client, path)
    put(client, pack=path.rpartition("/")[2], construction="DN-1250")
    sent = TYPED | {"version": old, "show_weight": "yes"}
    refused(client, house_engine, f"{path}{action}", sent, "Somebody else", 409)


@pytest.mark.parametrize("cost", COSTS)
def test_the_price_beside_a_cost_is_refused_with_what_to_do(
    client: TestClient, house_engine: Engine, cost: str
) -> None:
    path = put(client, construction="DN-1375")
    sent = {"version": version(client, path), "show_price": "yes", f"show_{cost}": "yes"}
    refused(client, house_engine, f"{path}/shown", sent, "tells the buyer the margin")
    sent = {"version": version(client, path), "show_margin": "yes"}
    refused(client, house_engine, f"{path}/shown", sent, "nothing that can be shown")


def test_an_empty_pack_is_not_frozen(client: TestClient, house_engine: Engine) -> None:
    path = put(client)
    assert "Nothing is in this pack yet" in client.get(path).text
    for name in (".json", ".csv", "/buyer", "/buyer.json", "/files/workbook.xlsx",
                 "/files/handout.pdf"):  # fmt: skip
        assert client.get(f"{path}{name}").status_code == 200, name
    refused(client, house_engine, f"{path}/freeze", {"version": version(client, path)},
            "nothing in this pack yet")  # fmt: skip


def test_everything_of_a_pack_that_is_not_there_is_404(client: TestClient) -> None:
    for path in ("", ".json", ".csv", "/edit", "/buyer", "/buyer.json", "/buyer.csv", "/again",
                 "/pack", "/pairs/1/Q14/Q14", "/buyer/pairs/1/A1/B1", "/files/workbook.xlsx",
                 "/buyer/files/handout.pdf"):  # fmt: skip
        answer = client.get(f"/meetings/2026-01-01-none{path}")
        assert answer.status_code == 404, path
        assert "no meeting pack" in answer.text
    for path in ("", "/freeze", "/remove", "/follow", "/shown", "/shares"):
        answer = client.post(f"/meetings/2026-01-01-none{path}",
                             data=TYPED | {"version": "1", "days": "1"})  # fmt: skip
        assert answer.status_code == 404, path


def test_of_a_pack_what_is_not_in_it_is_404(client: TestClient, house_engine: Engine) -> None:
    reference = frozen_pack(house_engine, "Spring denim", ("DN-1375",))
    for path in ("/pairs/0/Q14/Q14", "/pairs/2/Q14/Q14", "/pairs/-1/Q14/Q14", "/pairs/1/Q98/Q99",
                 "/pairs/1/", "/files/other.exe", "/files/..%2f..%2fserver.py",
                 "/buyer/files/pack.json", f"/pairs/{10**30}/Q14/Q14",
                 f"/pairs/1/{quote('<script>', safe='')}"):  # fmt: skip
        answer = client.get(f"/meetings/{reference}{path}")
        assert answer.status_code == 404, (path, answer.status_code)
    assert client.get(f"/meetings/{reference}/pairs/x/Q14/Q14").status_code == 422
    draft = put(client, construction="DN-1375")
    for path in ("/again", "/pack"):
        assert client.get(f"{draft}{path}").status_code == 404


FROZEN_ACTIONS = {"": 409, "/freeze": 409, "/remove": 409}


@pytest.mark.parametrize("action", FROZEN_ACTIONS)
def test_a_frozen_pack_is_not_changed_by_any_form(
    client: TestClient, house_engine: Engine, action: str
) -> None:
    reference = frozen_pack(house_engine, "Spring denim", ("DN-1375",))
    at = str(stored_pack(house_engine, reference).version)
    was = client.get(f"/meetings/{reference}.json").text
    refused(client, house_engine, f"/meetings/{reference}{action}", TYPED | {"version": at},
            "frozen", 409)  # fmt: skip
    refused(client, house_engine, "/meetings/put",
            TYPED | {"pack": reference, "construction": "DN-1250"}, "frozen", 409)  # fmt: skip
    assert client.get(f"/meetings/{reference}.json").text == was


def test_the_form_of_a_frozen_pack_does_not_offer_to_change_it(
    client: TestClient, house_engine: Engine
) -> None:
    reference = frozen_pack(house_engine, "Spring denim", ("DN-1375",))
    answer = client.get(f"/meetings/{reference}/edit")
    assert answer.status_code == 409
    assert "Keep the changes" not in answer.text


def test_two_people_freeze_at_once_and_one_of_them_is_told(house_engine: Engine) -> None:
    reference = new_pack(house_engine, 1, TYPED, [ClothAsked("DN-1375"), ClothAsked("DN-1250")])
    at, told = stored_pack(house_engine, reference).version, []
    ready = threading.Barrier(4)

    def one() -> None:
        ready.wait()
        try:
            freeze(house_engine, reference, 1, at)
            told.append("frozen")
        except Conflict:
            told.append("told")

    threads = [threading.Thread(target=one) for _ in range(4)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    assert sorted(told) == ["frozen", "told", "told", "told"]
    assert counts(house_engine)["pack_content"] == 1


def test_somebody_puts_in_while_another_freezes(house_engine: Engine) -> None:
    reference = new_pack(house_engine, 1, TYPED, [ClothAsked("DN-1375")])
    at = stored_pack(house_engine, reference).version
    put_into(house_engine, reference, 1, [ClothAsked("DN-1250")])
    with pytest.raises(Conflict):
        freeze(house_engine, reference, 1, at)
    assert counts(house_engine)["pack_content"] == 0


def test_a_pair_typed_in_the_form_that_is_none_is_told(
    client: TestClient, house_engine: Engine
) -> None:
    path = put(client, construction="DN-1375")
    sent = TYPED | {"version": version(client, path), "pairs1": "Q14/Q14, Q98/Q99"}
    assert client.post(path, data=sent, follow_redirects=False).status_code == 303
    assert stored_pack(house_engine, path.rpartition("/")[2]).cloths[0].pairs == (
        "Q14/Q14", "Q98/Q99",
    )  # fmt: skip
    assert "Q98/Q99" in shown_text(client.get(path).text)


def test_computed_again_shows_both_figures_where_the_program_would_differ(
    client: TestClient, house_engine: Engine, monkeypatch: pytest.MonkeyPatch
) -> None:
    from server.core.formula import FORMULAS
    from tests.core.test_again import changed_formula

    reference = frozen_pack(house_engine, "Spring denim", ("DN-1375",))
    data = client.get(f"/meetings/{reference}.json").json()
    was = FORMULAS["season_cost"].function
    changed_formula(monkeypatch, "season_cost", lambda **given: was(**given) * 2)
    page = shown_text(client.get(f"/meetings/{reference}/again").text)
    cost = data["cloths"][0]["pairs"][0]["figures"]["season_cost"]
    assert "would give other numbers" in page
    assert f"{cost!r}" in page
    assert f"{2 * cost!r}" in page
    told = client.get(f"/api/v1/meetings/{reference}/again").json()
    assert told["same"] is False
    assert told["differs"][0]["now"] == 2 * told["differs"][0]["frozen"]
    assert client.get(f"/meetings/{reference}.json").json() == data


def test_a_pack_altered_in_the_database_is_not_shown_as_frozen(
    client: TestClient, house_engine: Engine
) -> None:
    reference = frozen_pack(house_engine, "Spring denim", ("DN-1375",))
    with house_engine.begin() as database:
        database.execute(text("UPDATE pack_content SET pack = replace(pack, '0.03', '0.04')"))
    for path in ("", ".json", "/buyer", "/again", "/pack"):
        answer = client.get(f"/meetings/{reference}{path}")
        assert answer.status_code == 409, path
        assert "altered" in answer.text


def test_hostile_words_stand_as_words(client: TestClient, house_engine: Engine) -> None:
    words = "<img src=x onerror=alert(1)>\"'&amp; =cmd|A1 {{7*7}} #[x]"
    path = put(client, construction="DN-1375", title=words, buyer=words, notes=words, words=words)
    freeze_by_form(client, path)
    choose_shown(house_engine, path.rpartition("/")[2], 1, ("weight",),
                 stored_pack(house_engine, path.rpartition("/")[2]).version)  # fmt: skip
    for each in ("", "/buyer"):
        page = client.get(f"{path}{each}").text
        assert "<img src=x" not in page
        assert html.unescape(page).count("onerror=alert(1)") >= 2
        assert "49" not in re.findall(r"<h1>(.*?)</h1>", page, re.S)[0]
    for each in ("/files/workbook.xlsx", "/files/handout.pdf", "/buyer/files/workbook.xlsx"):
        assert client.get(f"{path}{each}").status_code == 200


def test_the_export_of_a_pack_says_what_it_is(client: TestClient, house_engine: Engine) -> None:
    reference = frozen_pack(house_engine, "Spring denim", ("DN-1375",))
    answer = client.get(f"/meetings/{reference}/pack")
    assert f"{reference}.pack.json" in answer.headers["content-disposition"]
    document = json.loads(answer.content)
    assert document["form"] == "creelbook meeting pack 1"
    assert {*document} >= {"digest", "pack", "given", "cloths", "basis_changes"}


def test_a_variant_is_summed_up_by_its_change_and_not_by_what_stands(client: TestClient) -> None:
    pack = variant_pack()
    view = pack_view(pack, Writer("trade", "USD"), "/meetings/x")
    assert pack.cloths[1].foremost is pack.cloths[1].pairs[1]
    assert view.overview.rows[1].cells[1].text == "Plain swap"
    assert view.cloths[1].summary.startswith("Plain swap")
    assert view.overview.rows[0].cells[1].text == pack.cloths[0].pairs[0].label
