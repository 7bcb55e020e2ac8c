"""A draft whose construction, variant or offer is gone says so, and is not frozen without it."""

from __future__ import annotations

from sqlalchemy import Engine, text
from starlette.testclient import TestClient

from server.actions.asked_change import read_change
from server.actions.variants import remove_variant, save_variant, variants_of
from tests.web.test_packs import TYPED, freeze_by_form, put, refused, shown_text, version


def gone(engine: Engine, what: str) -> None:
    """Take away something a draft rests on, past the forms."""
    with engine.begin() as database:
        if what == "construction":
            database.execute(
                text("UPDATE construction SET code = 'DN-GONE' WHERE code = 'DN-1375'")
            )
        elif what == "offer":
            database.execute(text("UPDATE offer SET code = 'Q99' WHERE code = 'Q14'"))
        else:
            database.execute(text("DELETE FROM variant"))
        database.execute(text(
            "INSERT INTO audit_event (at, person_id, table_name, row_id, action, changes) "
            "VALUES ('2026-03-03 00:00:00.000000', 1, 'construction', 1, 'change', '{}')"
        ))  # fmt: skip


def test_a_draft_whose_construction_is_gone_says_so_and_is_not_frozen(
    client: TestClient, house_engine: Engine
) -> None:
    path = put(client, construction="DN-1375")
    put(client, pack=path.rpartition("/")[2], construction="DN-1250")
    gone(house_engine, "construction")
    page = shown_text(client.get(path).text)
    assert "DN-1375 cannot be compared" in page
    assert "DN-1250" in page
    refused(client, house_engine, f"{path}/freeze", {"version": version(client, path)},
            "DN-1375 cannot be frozen")  # fmt: skip
    for each in ("/edit", "/buyer", ".json", ".csv", "/files/workbook.xlsx"):
        assert client.get(f"{path}{each}").status_code == 200
    sent = TYPED | {"version": version(client, path), "out1": "yes"}
    assert client.post(path, data=sent, follow_redirects=False).status_code == 303
    freeze_by_form(client, path)


def test_a_draft_whose_variant_is_gone_says_so(client: TestClient, house_engine: Engine) -> None:
    save_variant(
        house_engine, "DN-1375", read_change({"loom_ppi": "42.3"}), 1, name="Finer", notes=""
    )
    path = put(client, construction="DN-1375", variant="Finer")
    assert "Plain swap" in client.get(path).text
    (kept,) = variants_of(house_engine, "DN-1375")
    remove_variant(house_engine, "DN-1375", kept.id, 1)
    page = shown_text(client.get(path).text)
    assert "DN-1375, Finer cannot be compared" in page
    refused(client, house_engine, f"{path}/freeze", {"version": version(client, path)}, "Finer")


def test_a_draft_whose_chosen_offer_is_gone_says_which_pair_is_lacking(
    client: TestClient, house_engine: Engine
) -> None:
    path = put(client, construction="DN-1375", **{"pair_Q14/Q14": "yes", "pair_Q04/Q14": "yes"})
    gone(house_engine, "offer")
    page = shown_text(client.get(path).text)
    assert "Q14/Q14, Q04/Q14 is no pair of it now" in page
    refused(client, house_engine, f"{path}/freeze", {"version": version(client, path)}, "no pair")
