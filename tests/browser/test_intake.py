"""The morning's mail in a real browser: ten lines pasted, answered, stored, found, compared."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import faults_of, started_demo
from tests.intake.making import xlsx

pytestmark = pytest.mark.browser

QUOTES = Path(__file__).resolve().parents[1] / "examples" / "quotes" / "trade_guide.toml"
TEN = [quote["text"] for quote in tomllib.loads(QUOTES.read_text(encoding="utf-8"))["quote"]]
SELLERS = (
    "Marrow Creek Spinning", "Merapatih Spinning", "Filatura Montorvano", "Nilabagh Spinning",
    "Kaveriyam Spinners", "Hilados Piedra Honda", "Qinghetun Effect Yarn", "Nilabagh Spinning",
    "Fiação Jatobal", "Hilos Ixcanel",
)  # fmt: skip
ANSWERS = {
    1: {"term": "FCA"},
    2: {"price_unit": "bale (400 lb)"},
    3: {"count_basis": "average"},
    4: {"currency": "PKR"},
    5: {"payment": "LC 60"},
    6: {"currency": "MXN"},
    7: {"tax_inside_percent": "13"},
    8: {"break_kind": "all units"},
    9: {"term": "EXW"},
    10: {"currency": "USD"},
}
OWN = {5: {"currency": "USD", "price_unit": "kg"}, 8: {"currency": "USD", "price_unit": "kg"}}
FOR_ALL = {
    "spinning": "ring", "payment": "LC sight", "quoted_regain_percent": "8.5", "lead_days": "25",
    "valid_until": "2026-04-10", "term": "FOB",
}  # fmt: skip


@pytest.fixture(scope="module")
def own_address() -> Iterator[str]:
    """A demonstration of its own, for this walk adds offers to it."""
    yield from started_demo()


def test_ten_lines_are_pasted_answered_stored_and_found_in_the_comparison(
    page: Page, own_address: str
) -> None:
    page.goto(own_address)
    page.get_by_role("navigation", name="Main").get_by_role("link", name="Intake").click()
    page.get_by_role("link", name="Paste or upload offers").click()
    page.get_by_label("Received on").fill("2026-03-02")
    page.get_by_label("Paste from a mail or a spreadsheet").fill("\n".join(TEN))
    page.get_by_role("button", name="Read it").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Intake 2")
    expect(page.locator("ruby.asked", has_text="fob mill")).to_be_visible()
    for line, name in enumerate(SELLERS, 1):
        page.get_by_label(f"Supplier of line {line}", exact=True).select_option(name)
    for line, answers in ANSWERS.items():
        for field, value in answers.items():
            put(page, f"{line}.{field}", value)
    for line, answers in OWN.items():
        for field, value in answers.items():
            put(page, f"{line}.{field}", value)
    for field, value in FOR_ALL.items():
        said = page.locator(f'[name="all.{field}"]')
        if said.count():
            said.fill(value)
    page.get_by_role("button", name="Take these answers").click()
    expect(page.get_by_role("button", name="Store 10 offers")).to_be_visible()
    expect(page.get_by_role("link", name="asked 0")).to_be_visible()
    page.get_by_role("button", name="Store 10 offers").click()
    expect(page.locator("main")).to_contain_text("10 offers were stored from this intake")

    page.goto(f"{own_address}/offers/I2-8")
    expect(page.locator("main")).to_contain_text(TEN[7])
    expect(page.locator("main")).to_contain_text("1.84 USD/kg")
    page.goto(f"{own_address}/compare/DN-1250?quantity=first+price")
    expect(page.locator("main")).to_contain_text("I2-8")


def put(page: Page, name: str, value: str) -> None:
    choice = page.locator(f'select[name="a.{name}"]')
    if choice.count() and choice.locator(f'option[value="{value}"]').count():
        choice.select_option(value)
    else:
        page.locator(f'[name="o.{name}"]').fill(value)


def test_reading_and_answering_work_without_scripts(browser: Browser, own_address: str) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{own_address}/intake/new")
    page.get_by_label("Supplier").select_option("Nilabagh Spinning")
    page.get_by_label("Received on").fill("2026-03-02")
    page.get_by_label("Paste from a mail or a spreadsheet").fill("6/1 OE Rs 2310/10 lbs FOB KHI")
    page.get_by_role("button", name="Read it").click()
    page.get_by_label("Currency", exact=True).select_option("PKR")
    page.get_by_role("button", name="Take these answers").click()
    page.get_by_text("What will be stored").click()
    expect(page.locator("dl.facts")).to_contain_text("PKR")
    context.close()


@pytest.mark.parametrize(("width", "colours"), [(1280, "light"), (375, "dark")])
def test_lines_and_columns_are_accessible_and_fit_the_screen(
    browser: Browser, own_address: str, width: int, colours: str
) -> None:
    page = browser.new_page()
    page.goto(f"{own_address}/intake/new")
    page.get_by_label("Received on").fill("2026-03-02")
    page.get_by_label("Paste from a mail or a spreadsheet").fill("\n".join([*TEN, "thank you"]))
    page.get_by_role("button", name="Read it").click()
    assert faults_of(browser, page.url, width, colours) == []
    page.goto(f"{own_address}/intake/new")
    page.get_by_label("Received on").fill("2026-03-02")
    sheet = xlsx({"A": [["Count (Ne)", "Price USD/kg", "A long heading nobody knows " * 4],
                        ["8/1", 1.9, "long words " * 20]]})  # fmt: skip
    page.locator("#f-file").set_input_files(
        {"name": "prices.xlsx", "mimeType": "application/octet-stream", "buffer": sheet}
    )
    page.get_by_role("button", name="Read it").click()
    expect(page.locator("h1")).to_contain_text("what the columns hold")
    assert faults_of(browser, page.url, width, colours) == []
    page.close()
