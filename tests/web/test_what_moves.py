"""“Show what moves” on the forms of rates: before anything is stored, without scripts."""

from __future__ import annotations

import re

import httpx
import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from server.actions.nouns import NOUNS
from server.actions.records import add_record, list_records, one_record
from tests.entered import counts, fresh, key_of, page_of, stored_form
from tests.store.databases import EDITS
from tests.web.test_records import text_of

RATES = ("rates/exchange", "rates/lanes", "rates/duties", "rates/charges")
PESO = {
    "base": "USD",
    "quote": "MXN",
    "rate": "14.00",
    "valid_from": "2026-03-02",
    "source": "a bank",
}


def post(client: TestClient, path: str, form: dict[str, str]) -> httpx.Response:
    answer: httpx.Response = client.post(path, data=form, follow_redirects=False)
    return answer


def part(page: httpx.Response) -> str:
    told = text_of(page)
    return told[told.index("What this moves") :]


@pytest.mark.parametrize("path", RATES)
def test_the_form_of_a_rate_has_two_buttons(
    client: TestClient, house_engine: Engine, path: str
) -> None:
    key = key_of(house_engine, path)
    for address in (f"/{path}/new", f"{page_of(path, key)}/edit", f"/{path}/import"):
        page = client.get(address).text
        assert f'<button formaction="{address}/what-moves#what-moves">Show what moves' in page
        assert re.search(r'<button class="primary">(Store|Import)', page)
        assert "What this moves" not in page
    assert "what-moves" not in client.get("/suppliers/new").text


@pytest.mark.parametrize("path", RATES)
def test_looking_stores_nothing_and_storing_afterwards_works(
    client: TestClient, house_engine: Engine, path: str
) -> None:
    seen = counts(house_engine)
    form = fresh(path) | {"on_basis": "Aldercote meeting"}
    looked = post(client, f"/{path}/new/what-moves", form)
    assert looked.status_code == 200
    assert "Nothing is stored yet." in part(looked)
    assert counts(house_engine) == seen
    stored = post(client, f"/{path}/new", _sent_again(looked.text, f"/{path}/new"))
    assert stored.status_code == 303, text_of(stored)
    assert len(list_records(house_engine, NOUNS[path])) == seen[_table(path)] + 1


@pytest.mark.parametrize("path", RATES)
def test_looking_at_a_change_keeps_the_form_and_its_version(
    client: TestClient, house_engine: Engine, path: str
) -> None:
    key = key_of(house_engine, path)
    form = stored_form(house_engine, path, key) | EDITS[path]
    before = one_record(house_engine, NOUNS[path], key)
    looked = post(client, f"{page_of(path, key)}/edit/what-moves", form)
    assert looked.status_code == 200, text_of(looked)
    assert one_record(house_engine, NOUNS[path], key) == before
    again = _sent_again(looked.text, f"{page_of(path, key)}/edit")
    assert again["version"] == str(before.version)
    stored = post(client, f"{page_of(path, key)}/edit", again)
    assert stored.status_code == 303
    assert one_record(house_engine, NOUNS[path], key).version == before.version + 1


def test_the_address_of_a_look_leads_back_to_its_form(client: TestClient) -> None:
    for form in ("new", "import", "2/edit"):
        answer = client.get(f"/rates/exchange/{form}/what-moves", follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, f"/rates/exchange/{form}")


def _table(path: str) -> str:
    return str(NOUNS[path].keeper.table.__tablename__)


def _sent_again(page: str, action: str) -> dict[str, str]:
    """What the form of a page sends when nobody touches it."""
    form = page[page.index(f'<form method="post" action="{action}"') :]
    form = form[: form.index("</form>")]
    found = {}
    for tag in re.findall(r"<input[^>]*>", form):
        name, value = (re.search(rf' {part}="([^"]*)"', tag) for part in ("name", "value"))
        if name and ('type="checkbox"' not in tag or " checked" in tag):
            found[name[1]] = value[1] if value else ""
    for name, options in re.findall(r'<select[^>]*name="([^"]+)"[^>]*>(.*?)</select>', form, re.S):
        chosen = re.search(r'value="([^"]*)" selected', options)
        found[name] = chosen[1] if chosen else ""
    return found


def test_the_look_names_leaders_costs_and_the_largest_move(client: TestClient) -> None:
    told = part(post(client, "/rates/exchange/new/what-moves", PESO))
    assert "5 constructions of 8 would move; the leader changes in 0" in told
    most = 52.90 * (1 / 14 - 1 / 17.2) * (1 - 0.09 * 58 / 360)  # Q12, paid 58 days after arrival
    row = f"DN-1375 Larkspur Q14/Q14 OE/OE Q14/Q14 2.594 2.594 0.000 1 +{most:.3f} Q12"
    assert row in told


def test_another_leader_and_another_combination_are_said(client: TestClient) -> None:
    duty = {"country": "Viet Nam", "rate_percent": "40", "base": "CIF",
            "valid_from": "2026-03-01", "source": "a tariff"}  # fmt: skip
    told = part(post(client, "/rates/duties/new/what-moves", duty))
    assert re.search(r"DN-1375 Larkspur Q14/Q14 OE/OE Q\d\d/Q\d\d another", told)
    assert "the leader changes in" in told


def test_a_later_rate_says_that_it_does_not_hold_yet(client: TestClient) -> None:
    told = part(post(client, "/rates/exchange/new/what-moves", PESO | {"valid_from": "2026-03-09"}))
    assert "Nothing moves on this basis: it holds from 2026-03-09, the rates of the basis" in told


def test_a_faulty_rate_is_told_and_nothing_is_looked_at(
    client: TestClient, house_engine: Engine
) -> None:
    answer = post(client, "/rates/exchange/new/what-moves", PESO | {"rate": "-1"})
    assert answer.status_code == 422
    assert "What this moves" not in answer.text
    key = key_of(house_engine, "rates/exchange")
    form = stored_form(house_engine, "rates/exchange", key) | {"rate": ""}
    answer = post(client, f"/rates/exchange/{key}/edit/what-moves", form)
    assert answer.status_code == 422
    assert "is needed" in answer.text
    assert post(client, "/rates/exchange/999/edit/what-moves", form).status_code == 404
    unknown = post(client, "/rates/exchange/new/what-moves", PESO | {"on_basis": "none"})
    assert unknown.status_code == 404


def test_another_saved_basis_can_be_chosen(client: TestClient, house_engine: Engine) -> None:
    assert "On basis" not in client.get("/rates/exchange/new").text
    bases = NOUNS["bases"]
    first = list_records(house_engine, bases)[0]
    later = {**first.values, "name": "April, in euros", "currency": "EUR", "rates_on": "2026-04-02"}
    add_record(house_engine, bases, later, 1)
    form = PESO | {"valid_from": "2026-04-01", "on_basis": "April, in euros"}
    looked = post(client, "/rates/exchange/new/what-moves", form)
    assert "<option selected>April, in euros</option>" in looked.text
    assert "Cost now EUR/m" in part(looked)
    assert "would move" in part(looked)


def test_an_import_is_looked_at_before_it_is_stored(
    client: TestClient, house_engine: Engine
) -> None:
    seen = counts(house_engine)
    rows = "base,quote,rate,valid_from,source\nUSD,MXN,14,2026-03-02,a bank\n"
    file = {"file": ("rates.csv", rows.encode(), "text/csv")}
    looked = client.post("/rates/exchange/import/what-moves", files=file)
    assert "5 constructions of 8 would move" in part(looked)
    assert rows in looked.text.replace("&#34;", '"')
    assert counts(house_engine) == seen
    stored = post(client, "/rates/exchange/import", {"text": rows})
    assert stored.status_code == 303
    assert len(list_records(house_engine, NOUNS["rates/exchange"])) == seen["exchange_rate"] + 1


def test_a_faulty_import_is_told_row_by_row(client: TestClient) -> None:
    rows = "base,quote,rate,valid_from,source\nUSD,MXN,x,2026-03-02,a\nUSD,MXN,14,2026-03-02,b\n"
    answer = post(client, "/rates/exchange/import/what-moves", {"text": rows})
    assert answer.status_code == 422
    assert "1 row is faulty; nothing was stored." in text_of(answer)
    assert "What this moves" not in answer.text
    kept = post(client, "/rates/exchange/import/what-moves", {"text": rows, "keep_good": "yes"})
    assert "5 constructions of 8 would move" in part(kept)
    assert post(client, "/rates/exchange/import/what-moves", {"text": "a,b\n"}).status_code == 422


def test_duties_that_contradict_each_other_are_a_doubt_at_entry_and_on_the_record(
    client: TestClient, house_engine: Engine
) -> None:
    duty = {"country": "India", "rate_percent": "5.8", "base": "CIF", "preparation": "carded",
            "valid_from": "2026-03-01", "source": "a tariff", "ply": "any"}  # fmt: skip
    post(client, "/rates/duties/new", duty)
    other = duty | {"rate_percent": "5.2", "preparation": "any", "ply": "single"}
    told = part(post(client, "/rates/duties/new/what-moves", other))
    assert "5.2 % for single and 5.8 % for carded" in told
    assert "Two duty rates for India" in told
    stored = post(client, "/rates/duties/new", other)
    record = text_of(client.get(stored.headers["location"]))
    assert "doubt 5.2 % for single and 5.8 % for carded" in record


def test_the_list_of_duties_tells_lines_in_dtex_and_ne(client: TestClient) -> None:
    line = {"country": "India", "rate_percent": "5.2", "base": "CIF", "valid_from": "2026-03-01",
            "source": "a tariff", "tariff_line": "5205.12", "dtex_from": "232.56",
            "dtex_below": "714.29", "preparation": "carded", "ply": "single",
            "fibre_mix": "any"}  # fmt: skip
    post(client, "/rates/duties/new", line)
    told = text_of(client.get("/rates"))
    assert (
        "India 5.2 CIF 5205.12 232.56 to under 714.29 dtex (Ne 25.4 to 8.27), carded, single"
        in told
    )
    assert "India 10 CIF all yarn 2026-01-01" in told
    wrong = post(client, "/rates/duties/new", line | {"dtex_below": "100"})
    assert wrong.status_code == 422
    assert "must be above the count the line begins at" in text_of(wrong)


def test_a_line_changes_the_duty_of_its_yarns_and_the_explanation_says_why(
    client: TestClient,
) -> None:
    line = {"country": "India", "rate_percent": "5.2", "base": "CIF", "valid_from": "2026-03-01",
            "source": "a tariff", "tariff_line": "5205.11", "dtex_from": "714.29",
            "preparation": "carded", "ply": "single", "fibre_mix": "any"}  # fmt: skip
    post(client, "/rates/duties/new", line)
    opened = text_of(client.get("/offers/Q10/offer.duty"))
    assert "Duty, India, line 5205.11" in opened
    assert "5.2 % for 714.29 dtex and more (Ne 8.27 and coarser), carded, single" in opened
    assert "the most particular of 2 rows for this yarn" in opened
    unsaid = text_of(client.get("/offers/Q21"))
    assert "The duty on yarn from India differs (5.2 % or 10 %). Ask: carded or combed?" in unsaid
