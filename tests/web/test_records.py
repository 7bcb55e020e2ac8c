"""Entering, changing and importing through the pages, on a copy of the demonstration."""

from __future__ import annotations

import html
import re

import httpx
import pytest
from sqlalchemy import Engine, delete
from sqlmodel import SQLModel
from starlette.testclient import TestClient

from seed_demo.load import ORDER
from server.actions.nouns import NOUNS
from server.actions.records import list_records, one_record
from server.store.people import add_person
from server.web.numbers import entered
from tests.entered import as_form, counts, fresh, key_of, page_of, stored_form
from tests.store.databases import EDITS, EVERY_NOUN, as_typed

OWN_PAGES = ("offers", "constructions")
NEW_SUPPLIER = {"name": "Larchmoor Spinning ễ", "country": "Farland"}


def text_of(answer: httpx.Response) -> str:
    """What a person reads on a page, without its marks."""
    bare = re.sub(r"<[^>]+>", " ", answer.text)
    return re.sub(r"\s+", " ", html.unescape(bare))


def post(client: TestClient, path: str, form: dict[str, str]) -> httpx.Response:
    answer: httpx.Response = client.post(path, data=form, follow_redirects=False)
    return answer


# --- adding and showing --------------------------------------------------------------------------


@pytest.mark.parametrize("path", EVERY_NOUN)
def test_every_noun_is_added_by_its_form_and_shown_with_every_field(
    client: TestClient, house_engine: Engine, path: str
) -> None:
    before = len(list_records(house_engine, NOUNS[path]))
    assert client.get(f"/{path}/new").status_code == 200
    answer = post(client, f"/{path}/new", fresh(path))
    assert answer.status_code == 303, text_of(answer)
    assert answer.headers["location"].endswith("?notice=added")
    records = list_records(house_engine, NOUNS[path])
    assert len(records) == before + 1
    address = answer.headers["location"]
    shown = client.get(address)
    assert shown.status_code == 200
    assert "Stored." in shown.text
    if path in OWN_PAGES:
        shown = client.get(f"{page_of(path, records[-1].key)}/history")
    told = text_of(shown)
    for name, info in NOUNS[path].fields.items():
        assert str(info.title) in told, name
        assert (entered(records[-1].values[name]) or "–").split("\n")[0] in told, name
    assert "Rosalía Quintero entered" in told


def test_a_record_shows_its_figures_with_their_units(client: TestClient) -> None:
    assert "1.1860 USD for 1 EUR" in text_of(client.get("/rates/exchange/1"))
    assert "Value 0.2 %" in text_of(client.get("/rates/charges/1"))
    assert "Price 112 USc for 1 lb" in text_of(client.get("/offers/Q05/history"))
    assert "Tax inside the price 0 %" in text_of(client.get("/offers/Q05/history"))
    assert "Value 1.78 USD/kg" in text_of(client.get("/assumptions/1"))
    assert "Limit 12.5 cN/tex" in text_of(client.get("/gate/1"))


@pytest.mark.parametrize("name", ["Yelkıran İplik", "Thuyền Sao Yarn"])
def test_a_supplier_of_any_alphabet_has_its_page_with_its_offers(
    client: TestClient, house_engine: Engine, name: str
) -> None:
    assert f'href="{page_of("suppliers", name)}"' in client.get("/suppliers").text
    told = text_of(client.get(page_of("suppliers", name)))
    assert f"Supplier {name}" in told
    codes = [
        kept.key
        for kept in list_records(house_engine, NOUNS["offers"])
        if kept.values["supplier"] == name
    ]
    assert codes
    assert all(f" {code} " in told for code in codes)


def test_a_supplier_whose_name_holds_a_slash_has_its_page(client: TestClient) -> None:
    answer = post(client, "/suppliers/new", {"name": "Spinneriet A/S", "country": "Farland"})
    assert answer.headers["location"] == "/suppliers/Spinneriet%20A%2FS?notice=added"
    assert "Supplier Spinneriet A/S" in text_of(client.get(answer.headers["location"]))
    edit = client.get("/suppliers/Spinneriet%20A%2FS/edit")
    assert "Edit supplier Spinneriet A/S" in text_of(edit)


def test_suppliers_are_searched_by_the_address(client: TestClient) -> None:
    told = text_of(client.get("/suppliers?q=india"))
    assert "Vayuna Cotton Spinners" in told
    assert "Filatura Montorvano" not in told
    assert "No supplier matches" in client.get("/suppliers?q=nobody&page=7").text


def test_the_lists_show_value_unit_source_and_owner(client: TestClient) -> None:
    rates = text_of(client.get("/rates"))
    for part in ("EUR in USD 1.1860 2026-03-02", "3200 USD", "0.09 USD/kg", "% a year"):
        assert part in rates
    assumptions = text_of(client.get("/assumptions"))
    assert "Fibre delivered to the mill 1.78 USD/kg 1.691 to 1.869 2026-02-27" in assumptions
    for route in ("Ring", "OE (rotor)", "Air-jet", "Fabric"):
        assert f"{route}, Rinconada 2026" in assumptions
    gate = text_of(client.get("/gate"))
    assert "Tenacity warp, rope-dyed at least 12.5 cN/tex" in gate
    assert "Aldercote meeting USD 2026-03-02" in text_of(client.get("/bases"))
    basis = client.get("/basis", follow_redirects=False)
    assert basis.headers["location"] == "/bases"


def test_a_new_form_takes_values_from_its_address(client: TestClient) -> None:
    page = client.get("/assumptions/new?set_name=Rinconada+2026&currency=USD").text
    assert 'name="set_name" type="text" value="Rinconada 2026"' in page


# --- changing ------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", EVERY_NOUN)
def test_saving_a_form_as_it_opened_changes_nothing(
    client: TestClient, house_engine: Engine, path: str
) -> None:
    key = key_of(house_engine, path)
    before = as_typed(one_record(house_engine, NOUNS[path], key).values)
    seen = counts(house_engine)
    answer = post(client, f"{page_of(path, key)}/edit", stored_form(house_engine, path, key))
    assert answer.status_code == 303, text_of(answer)
    assert as_typed(one_record(house_engine, NOUNS[path], key).values) == before
    assert counts(house_engine) == seen


@pytest.mark.parametrize("path", EVERY_NOUN)
def test_an_edit_is_stored_and_told_with_before_and_after(
    client: TestClient, house_engine: Engine, path: str
) -> None:
    key = key_of(house_engine, path)
    before = one_record(house_engine, NOUNS[path], key)
    form = stored_form(house_engine, path, key) | EDITS[path]
    if path == "rates/charges":
        form["value"] = "0.25"
    if path == "assumptions":
        form["value"] = "1.80"
    answer = post(client, f"{page_of(path, key)}/edit", form)
    assert answer.status_code == 303, text_of(answer)
    assert answer.headers["location"] == f"{page_of(path, key)}?notice=changed"
    after = one_record(house_engine, NOUNS[path], key)
    assert after.version == before.version + 1
    tail = "/history" if path in OWN_PAGES else ""
    told = text_of(client.get(f"{page_of(path, key)}{tail}")).split("Who changed what")[1]
    for name in EDITS[path]:
        was, now = entered(before.values[name]), entered(after.values[name])
        if was != now and not name.startswith("mix"):
            assert f"{NOUNS[path].fields[name].title} {was or '–'} {now or '–'}" in told


def test_the_history_tells_changed_yarn_tests_and_breaks_in_the_words_of_the_offer(
    client: TestClient, house_engine: Engine
) -> None:
    form = stored_form(house_engine, "offers", "Q19")
    form |= {"twist": "S", "tenacity": "13.9", "capacity_tonnes": "75", "evenness": ""}
    assert post(client, "/offers/Q19/edit", form).status_code == 303
    told = text_of(client.get("/offers/Q19/history")).split("Who changed what")[1]
    assert re.search(r"Twist direction Z S ", told)
    assert re.search(r"Tenacity [\d.]+ 13.9 ", told)
    assert re.search(r"Evenness CVm [\d.]+ – ", told)
    assert "Capacity this season – 75" in told
    assert "yarn_id" not in told


def test_the_history_tells_a_second_yarn_and_a_basis_by_name(
    client: TestClient, house_engine: Engine
) -> None:
    form = stored_form(house_engine, "constructions", "DN-1375")
    form |= {
        "warp_share_of_threads_percent": "60",
        "warp2_ne": "8",
        "warp2_waste_percent": "4",
        "warp2_crimp_percent": "10",
        "warp2_share_of_threads_percent": "40",
    }
    assert post(client, "/constructions/DN-1375/edit", form).status_code == 303
    told = text_of(client.get("/constructions/DN-1375/history")).split("Who changed what")[1]
    assert "Second warp count – 8" in told
    assert "Warp share of ends 100 60" in told
    form = stored_form(house_engine, "bases", "Aldercote meeting") | {"mix1_regain_percent": "8"}
    assert post(client, "/bases/Aldercote%20meeting/edit", form).status_code == 303
    told = text_of(client.get("/bases/Aldercote%20meeting")).split("Who changed what")[1]
    assert "House regain, cotton 8.5 8 " in told


def test_a_value_taken_out_of_one_offer_is_not_told_of_another(
    client: TestClient, house_engine: Engine
) -> None:
    """SQLite gives the number of a removed row to the next new one."""
    last = list_records(house_engine, NOUNS["offers"])[-1]
    tests = ("average_ne", "tenacity", "evenness", "hairiness", "count_cv", "elongation")
    form = stored_form(house_engine, "offers", last.key) | dict.fromkeys(tests, "")
    assert post(client, f"/offers/{last.key}/edit", form).status_code == 303
    form = stored_form(house_engine, "offers", "Q01") | {"elongation": "7.25"}
    assert post(client, "/offers/Q01/edit", form).status_code == 303
    told = text_of(client.get("/offers/Q01/history")).split("Who changed what")[1]
    assert "Elongation at break – 7.25" in told
    assert "Tenacity" not in told
    told = text_of(client.get(f"/offers/{last.key}/history")).split("Who changed what")[1]
    assert f"Tenacity {entered(last.values['tenacity'])} –" in told
    assert "7.25" not in told


def test_a_stale_edit_loses_nobodys_work(client: TestClient, house_engine: Engine) -> None:
    address = page_of("suppliers", "Yelkıran İplik")
    mine = stored_form(house_engine, "suppliers", "Yelkıran İplik")
    theirs = mine | {"country": "Egypt", "notes": "theirs"}
    assert post(client, f"{address}/edit", theirs).status_code == 303
    answer = post(client, f"{address}/edit", mine | {"notes": "mine", "makes": "mine only"})
    assert answer.status_code == 409
    told = text_of(answer)
    assert "Somebody else stored a change while you typed; yours is not stored." in told
    assert "Notes mine theirs" in told
    assert "Country Türkiye Egypt" in told
    assert "Makes mine only" in told
    assert "Contacts" not in told.split("Fields that differ")[1].split("Name required")[0]
    assert ">\nmine</textarea>" in answer.text
    assert 'name="version" value="2"' in answer.text
    assert one_record(house_engine, NOUNS["suppliers"], "Yelkıran İplik").values["notes"] == (
        "theirs"
    )
    again = mine | {"notes": "mine", "version": "2"}
    assert post(client, f"{address}/edit", again).status_code == 303
    assert one_record(house_engine, NOUNS["suppliers"], "Yelkıran İplik").values["notes"] == "mine"


def test_an_edit_of_a_record_that_was_renamed_meanwhile_shows_both(
    client: TestClient, house_engine: Engine
) -> None:
    address = page_of("suppliers", "Delta Marsafi Spinning")
    mine = stored_form(house_engine, "suppliers", "Delta Marsafi Spinning")
    found = re.search(r'name="record" value="(\d+)"', client.get(f"{address}/edit").text)
    assert found
    mine["record"] = found[1]
    assert post(client, f"{address}/edit", mine | {"name": "Delta Marsafi"}).status_code == 303
    answer = post(client, f"{address}/edit", mine | {"notes": "mine"})
    assert answer.status_code == 409
    assert "Name Delta Marsafi Spinning Delta Marsafi" in text_of(answer)
    assert ">\nmine</textarea>" in answer.text
    assert 'action="/suppliers/Delta%20Marsafi/edit"' in answer.text


@pytest.mark.parametrize("path", NOUNS)
def test_every_form_goes_to_an_address_that_takes_it(
    client: TestClient, house_engine: Engine, path: str
) -> None:
    edit = f"{page_of(path, key_of(house_engine, path))}/edit"
    for address in (f"/{path}/new", edit):
        actions = re.findall(r'<form method="post" action="([^"]+)"', client.get(address).text)
        assert actions == [address]
        assert client.post(actions[0], data={}).status_code == 422


def test_a_form_without_its_version_is_refused(client: TestClient, house_engine: Engine) -> None:
    form = stored_form(house_engine, "gate", "1")
    for version in ("", "x", "-1", "9" * 5000):
        answer = post(client, "/gate/1/edit", form | {"version": version})
        assert answer.status_code == 422
    assert one_record(house_engine, NOUNS["gate"], "1").version == 1


def test_a_quoted_price_cannot_change(client: TestClient, house_engine: Engine) -> None:
    seen = counts(house_engine)
    page = client.get("/offers/Q05/edit").text
    assert 'name="price"' not in page
    assert 'href="/offers/new?replaces=Q05"' in page
    form = stored_form(house_engine, "offers", "Q05")
    answer = post(client, "/offers/Q05/edit", form | {"price": "111"})
    assert answer.status_code == 422
    assert "Price is kept as quoted and cannot change (“112”)" in text_of(answer)
    assert counts(house_engine) == seen


def test_a_requote_starts_from_the_offer_it_replaces(
    client: TestClient, house_engine: Engine
) -> None:
    page = client.get("/offers/new?replaces=Q05").text
    assert 'name="replaces" type="text" value="Q05"' in page
    assert re.search(r'name="price"[^>]*value="112"', page)
    assert re.search(r'name="code"[^>]*value=""', page)
    form = as_form(one_record(house_engine, NOUNS["offers"], "Q05").values)
    form |= {"code": "Q05b", "replaces": "Q05", "price": "109", "as_quoted": "109 USc/lb now"}
    assert post(client, "/offers/new", form).status_code == 303
    assert "Replaced by" in text_of(client.get("/offers/Q05"))
    again = post(client, "/offers/new", form | {"code": "Q05c"})
    assert again.status_code == 422
    assert "already replaced by Q05b" in text_of(again)


def test_a_record_that_is_not_there_is_said_to_be_missing(client: TestClient) -> None:
    for path in EVERY_NOUN:
        for tail in ("", "/edit", "/history"):
            answer = client.get(f"/{path}/0{tail}")
            assert answer.status_code == 404
            assert "There is no" in answer.text
    assert client.get("/offers/new?replaces=Q99").status_code == 404
    assert client.get("/rates/nothing").status_code == 404


# --- what cannot be right ------------------------------------------------------------------------

BAD = [
    ("offers", {"price": "-1"}, "Price", "must be greater than 0"),
    ("offers", {"price": "2,310"}, "Price", "decimal point"),
    ("offers", {"price": "1e400"}, "Price", "no more than 18 digits"),
    ("offers", {"price": "NaN"}, "Price", "finite"),
    ("offers", {"count": "0"}, "Count as quoted", "must be greater than 0"),
    ("offers", {"currency": "XXQ"}, "Currency", "is not a currency code of ISO 4217"),
    ("offers", {"payment": "soon"}, "Payment", "is not understood"),
    ("offers", {"term": "FOX"}, "Delivery term", "must be"),
    ("offers", {"quoted_on": "2026-02-30"}, "Quoted on", "is not a day of the calendar"),
    ("offers", {"quoted_on": "0"}, "Quoted on", "is not a day of the calendar"),
    ("offers", {"valid_until": "2020-01-01"}, "Valid until", "is before the day of the quote"),
    ("offers", {"lead_days": "1.5"}, "Lead time", "must be a whole number"),
    ("offers", {"supplier": "Nobody"}, "Supplier", "There is no supplier “Nobody”"),
    ("offers", {"code": "A/B"}, "Offer code", "must not contain a slash"),
    ("offers", {"code": "Q05"}, "Offer code", "is already used"),
    ("constructions", {"warp_crimp_percent": "400"}, "Warp crimp", "less than or equal to 100"),
    ("constructions", {"finished_width_in": "66"}, "Finished width", "above the reed width"),
    ("constructions", {"filling_share_of_threads_percent": "90"}, "share", "must sum to 100 %"),
    ("suppliers", {"name": "<script>alert(1)</script>"}, "Name", "must not contain < or >"),
    ("suppliers", {"name": "new"}, "Name", "has a meaning of its own in addresses"),
    ("suppliers", {"name": "a\0b"}, "Name", "control characters"),
    ("suppliers", {"notes": "a\0b"}, "Notes", "control characters"),
    ("suppliers", {"country": ""}, "Country", "is needed"),
    ("rates/exchange", {"quote": "EUR"}, "is worth, in", "another currency"),
    ("rates/charges", {"currency": "USD"}, "Currency", "leave it empty"),
    ("assumptions", {"value": "50"}, "Value", "at least 100"),
    ("gate", {"role": "weft"}, "Role", "must be"),
    ("bases", {"need_by": "2026-03-01"}, "Need by", "is before the meeting"),
    ("bases", {"assumption_set": "None"}, "Assumption set", "There is no assumption set"),
]


@pytest.mark.parametrize(("path", "typed", "label", "message"), BAD)
def test_what_cannot_be_right_is_refused_beside_its_field_and_nothing_is_stored(
    client: TestClient,
    house_engine: Engine,
    path: str,
    typed: dict[str, str],
    label: str,
    message: str,
) -> None:
    seen = counts(house_engine)
    answer = post(client, f"/{path}/new", fresh(path) | typed)
    assert answer.status_code == 422
    assert counts(house_engine) == seen
    told = text_of(answer)
    assert "One field needs a look" in told
    assert label in told
    assert message in told
    (name, value) = next(iter(typed.items()))
    if value and "\0" not in value:
        assert html.escape(value).replace("&#x27;", "&#39;") in answer.text
    assert "<script>alert" not in answer.text
    assert re.search(rf'id="f-{name}-error"', answer.text) or "share" in label


@pytest.mark.parametrize(("path", "typed", "label", "message"), BAD)
def test_an_edit_that_cannot_be_right_leaves_the_record_as_it_was(
    client: TestClient,
    house_engine: Engine,
    path: str,
    typed: dict[str, str],
    label: str,
    message: str,
) -> None:
    key = list_records(house_engine, NOUNS[path])[-1].key
    if path == "assumptions":
        typed = {"value": "-1"}
    if path == "rates/exchange":
        typed = {"quote": "USD", "base": "USD"}
    seen = counts(house_engine)
    form = stored_form(house_engine, path, key) | typed
    if path == "constructions" and "finished_width_in" in typed:
        form["finished_width_in"] = "99"
    assert post(client, f"{page_of(path, key)}/edit", form).status_code == 422
    assert counts(house_engine) == seen


@pytest.mark.parametrize("path", EVERY_NOUN)
def test_a_million_characters_in_any_field_are_refused(
    client: TestClient, house_engine: Engine, path: str
) -> None:
    seen = counts(house_engine)
    tried: set[str] = set()
    for name, info in NOUNS[path].fields.items():
        kind = f"{info.annotation} {info.metadata}"
        if kind in tried:
            continue
        tried.add(kind)
        for sign in ("x", "9"):
            answer = post(client, f"/{path}/new", fresh(path) | {name: sign * 1_000_000})
            assert answer.status_code == 422, name
    assert counts(house_engine) == seen


def test_a_form_larger_than_allowed_is_refused(client: TestClient, house_engine: Engine) -> None:
    seen = counts(house_engine)
    answer = post(client, "/suppliers/new", NEW_SUPPLIER | {"notes": "x" * 11_000_000})
    assert 400 <= answer.status_code < 500
    many = {f"field{place}": "x" for place in range(2000)}
    assert 400 <= post(client, "/suppliers/new", NEW_SUPPLIER | many).status_code < 500
    assert counts(house_engine) == seen


def test_a_form_with_a_field_of_no_meaning_is_refused(client: TestClient) -> None:
    answer = post(client, "/suppliers/new", NEW_SUPPLIER | {"colour": "blue"})
    assert answer.status_code == 422
    assert "is not a column of suppliers" in answer.text


def test_something_else_than_a_form_is_refused(client: TestClient, house_engine: Engine) -> None:
    seen = counts(house_engine)
    for body, kind in (
        (b"\xff\xfe", "application/x-www-form-urlencoded"),
        (b"{}", "application/json"),
        (b"--x\r\nnonsense", "multipart/form-data; boundary=x"),
        (b"nonsense", "multipart/form-data"),
        (b"", ""),
    ):
        answer = client.post("/suppliers/new", content=body, headers={"content-type": kind})
        assert 400 <= answer.status_code < 500, kind
    assert counts(house_engine) == seen


def test_a_form_sent_from_another_site_is_refused(client: TestClient, house_engine: Engine) -> None:
    seen = counts(house_engine)
    for headers in ({"sec-fetch-site": "cross-site"}, {"origin": "https://elsewhere.example"}):
        answer = client.post("/suppliers/new", data=NEW_SUPPLIER, headers=headers)
        assert answer.status_code == 403
    assert counts(house_engine) == seen


def test_the_unusual_is_stored_and_shown_with_a_doubt(client: TestClient) -> None:
    answer = post(client, "/offers/new", fresh("offers") | {"supplier": "Yelkıran İplik",
                                                            "tenacity": "31"})  # fmt: skip
    assert answer.status_code == 303
    assert "unusual: 8 to 25 cN/tex is common" in client.get("/offers/X01/history").text
    assert "unusual: 8 to 25 cN/tex is common" in client.get("/offers/X01/edit").text


# --- CSV -----------------------------------------------------------------------------------------


def export_address(path: str) -> str:
    return f"/{path}/export.csv" if path in OWN_PAGES else f"/{path}.csv"


def upload(client: TestClient, path: str, text: str | bytes, **fields: str) -> httpx.Response:
    content = text.encode() if isinstance(text, str) else text
    answer: httpx.Response = client.post(
        f"/{path}/import",
        data=fields,
        files={"file": ("rows.csv", content, "text/csv")},
        follow_redirects=False,
    )
    return answer


def empty(engine: Engine) -> None:
    with engine.begin() as connection:
        for table in reversed(SQLModel.metadata.sorted_tables):
            if table.name != "person":
                connection.execute(delete(table))


def test_what_every_noun_exports_can_be_imported_and_is_equal(
    client: TestClient, house_engine: Engine
) -> None:
    files = {path: client.get(export_address(path)).text for path in ORDER}
    values = {
        path: [as_typed(kept.values) for kept in list_records(house_engine, NOUNS[path])]
        for path in ORDER
    }
    empty(house_engine)
    for path, text in files.items():
        answer = upload(client, path, text)
        assert answer.status_code == 303, (path, text_of(answer))
    for path in ORDER:
        found = [as_typed(kept.values) for kept in list_records(house_engine, NOUNS[path])]
        assert found == values[path], path
        assert client.get(export_address(path)).text == files[path]


@pytest.mark.parametrize("path", EVERY_NOUN)
def test_importing_an_export_over_itself_changes_nothing(
    client: TestClient, house_engine: Engine, path: str
) -> None:
    seen = counts(house_engine)
    assert upload(client, path, client.get(export_address(path)).text).status_code == 303
    assert counts(house_engine) == seen


def test_columns_a_file_does_not_have_keep_what_they_hold(
    client: TestClient, house_engine: Engine
) -> None:
    before = one_record(house_engine, NOUNS["offers"], "Q05").values
    assert upload(client, "offers", "code,lead_days\nQ05,44\n").status_code == 303
    after = one_record(house_engine, NOUNS["offers"], "Q05").values
    assert after == before | {"lead_days": 44}


def test_an_import_page_documents_every_column(client: TestClient) -> None:
    for path in EVERY_NOUN:
        told = text_of(client.get(f"/{path}/import"))
        for name, info in NOUNS[path].fields.items():
            assert f" {name} " in told
            assert str(info.title) in told
    offers = text_of(client.get("/offers/import"))
    assert "price Price quoted currency and unit yes above 0" in offers
    assert "tax_inside_percent Tax inside the price % no at least 0, at most 60" in offers


FAULTY = (
    "name,country\n"
    "Larchmoor Spinning,Farland\n"
    "Without a country,\n"
    "<b>Bold</b>,Farland\n"
    "Fernhill Yarn,Farland\n"
)


def test_a_faulty_row_keeps_all_out_and_is_told_by_line_column_and_value(
    client: TestClient, house_engine: Engine
) -> None:
    seen = counts(house_engine)
    answer = post(client, "/suppliers/import", {"text": FAULTY})
    assert answer.status_code == 422
    assert counts(house_engine) == seen
    told = text_of(answer)
    assert "2 rows are faulty; nothing was stored." in told
    assert "3 Country country is needed" in told
    assert "4 Name name <b>Bold</b> “<b>Bold</b>” must not contain < or >" in told
    assert "Larchmoor Spinning,Farland" in answer.text  # pasted rows come back


def test_good_rows_are_kept_when_the_person_says_so(
    client: TestClient, house_engine: Engine
) -> None:
    answer = upload(client, "suppliers", FAULTY, keep_good="yes")
    assert answer.status_code == 200
    assert "2 good rows are stored; 2 rows are faulty and not stored." in text_of(answer)
    names = [kept.key for kept in list_records(house_engine, NOUNS["suppliers"])]
    assert names[-2:] == ["Larchmoor Spinning", "Fernhill Yarn"]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "is empty"),
        (b"name;country\nA;B\n", "unknown here"),
        ("name,country\nTürkiye,B\n".encode("latin-1"), "is not UTF-8 text (byte 15)"),
        (b"\x00\x01\x02", "unknown here"),
        (b'name,country\n"A,B\n', "not a CSV file"),
        (b"name,country\n" + b"A" * 200_000 + b",B\n", "not a CSV file"),
    ],
    ids=["empty", "semicolons", "latin", "binary", "quote", "long"],
)
def test_a_file_that_is_none_is_refused_with_what_to_do(
    client: TestClient, house_engine: Engine, content: bytes, said: str
) -> None:
    seen = counts(house_engine)
    answer = upload(client, "suppliers", content, keep_good="yes")
    assert answer.status_code == 422
    assert said in text_of(answer)
    assert counts(house_engine) == seen


def test_lists_are_given_as_json_with_all_digits(client: TestClient) -> None:
    (first, *_) = client.get("/rates/exchange.json").json()
    assert first["entry"] == {
        "base": "EUR",
        "quote": "USD",
        "rate": "1.1860",
        "valid_from": "2026-03-02",
        "source": "demo rate near IMF representative rates of 13 Feb 2026",
    }
    assert (first["key"], first["version"]) == ("1", 1)
    assert len(client.get("/suppliers.json").json()) == 16


def test_an_empty_house_shows_empty_lists(client: TestClient, house_engine: Engine) -> None:
    empty(house_engine)
    add_person(house_engine, name="Somebody else")
    for path in ("/suppliers", "/rates", "/assumptions", "/gate", "/bases", "/offers/new"):
        assert client.get(path).status_code == 200, path
    for path in EVERY_NOUN:
        assert client.get(export_address(path)).text.startswith("\ufeff")


# --- errors --------------------------------------------------------------------------------------


def test_errors_are_pages_for_people_and_documents_for_programs(client: TestClient) -> None:
    page = client.get("/nothing-here")
    assert page.status_code == 404
    assert "There is no such page." in page.text
    assert client.get("/suppliers/nobody").status_code == 404
    assert client.put("/suppliers").status_code == 405
    document = client.get("/nothing-here.json")
    assert document.status_code == 404
    assert set(document.json()) == {"code", "message", "field", "value", "unit", "remedy"}


def test_an_unforeseen_error_shows_no_internals(
    client: TestClient, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fail(*_: object) -> None:
        raise RuntimeError("secret of the house")

    monkeypatch.setattr("server.web.records.list_records", fail)
    monkeypatch.setattr("server.web.record_forms.list_records", fail)
    monkeypatch.setattr("server.api.records.every_record", fail)
    visitor = TestClient(client.app, raise_server_exceptions=False)
    for path in ("/suppliers.csv", "/suppliers.json", "/api/v1/suppliers", "/offers/new"):
        answer = visitor.get(path)
        assert answer.status_code == 500
        assert "Something went wrong on our side; nothing was stored." in answer.text
        assert "secret" not in answer.text
        assert "default-src 'self'" in answer.headers["content-security-policy"]
    assert "secret of the house" in caplog.text
