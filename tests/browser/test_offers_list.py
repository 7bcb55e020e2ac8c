"""The list of offers under the hands of somebody who uses the keyboard, and copied as a table."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.browser


def focused(page: Page) -> str:
    """Text of what has the focus."""
    return str(page.evaluate("document.activeElement.textContent.trim()"))


def test_keys_move_from_row_to_row_tick_and_open(page: Page, demo_address: str) -> None:
    page.goto(f"{demo_address}/offers")
    page.keyboard.press("j")
    assert focused(page) == "Q01"
    page.keyboard.press("ArrowDown")
    page.keyboard.press("j")
    page.keyboard.press("k")
    assert focused(page) == "Q02"
    page.keyboard.press("x")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("x")
    expect(page.locator("#ticked")).to_have_text("2 ticked.")
    assert page.locator(".offers input:checked").evaluate_all("all => all.map(e => e.value)") == [
        "Q01", "Q02"
    ]  # fmt: skip
    page.keyboard.press("Enter")
    expect(page).to_have_url(f"{demo_address}/offers/Q01")


def test_enter_in_a_ticked_box_opens_the_offer_and_sends_no_form(
    page: Page, demo_address: str
) -> None:
    page.goto(f"{demo_address}/offers")
    page.locator(".offers input[type=checkbox]").nth(4).focus()
    page.keyboard.press("Enter")
    expect(page).to_have_url(f"{demo_address}/offers/Q05")


def test_keys_do_nothing_while_somebody_types(page: Page, demo_address: str) -> None:
    page.goto(f"{demo_address}/offers")
    page.keyboard.press("/")
    page.keyboard.type("jkx?")
    assert page.get_by_label("Search").input_value() == "jkx?"
    assert not page.locator("#keys").evaluate("each => each.open")


def test_the_list_of_keys_opens_by_its_key_and_by_its_button(page: Page, demo_address: str) -> None:
    page.goto(f"{demo_address}/offers")
    keys = page.locator("#keys dl")
    expect(keys).to_be_hidden()
    page.keyboard.press("?")
    expect(keys).to_be_visible()
    page.keyboard.press("?")
    expect(keys).to_be_hidden()
    page.locator("#keys summary").click()
    expect(keys).to_be_visible()


def test_the_shown_rows_are_copied_as_a_table(page: Page, demo_address: str) -> None:
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.goto(f"{demo_address}/offers?columns=offer,price&q=marrow&sort=-offer")
    page.get_by_role("button", name="Copy as a table").click()
    expect(page.locator("#copy-said")).to_have_text("5 rows copied.")
    lines = str(page.evaluate("navigator.clipboard.readText()")).splitlines()
    assert lines[0] == "Offer\tPrice as quoted"
    assert lines[-1] == "Q05\t112 USc/lb"


def test_chosen_columns_and_a_saved_view_work_by_hand(page: Page, demo_address: str) -> None:
    page.goto(f"{demo_address}/offers?spinning=ring")
    page.locator("summary", has_text="Columns").click()
    page.get_by_label("Payment").uncheck()
    page.get_by_role("button", name="Show these columns").click()
    assert "spinning=ring" in page.url
    expect(page.locator(".offers thead")).not_to_contain_text("Payment")
    page.locator("summary", has_text="Save this view").click()
    page.get_by_label("Name").fill("Ring without payment")
    page.get_by_role("button", name="Save view").click()
    view = page.get_by_role("link", name="Ring without payment")
    expect(view).to_have_attribute("aria-current", "true")
    page.get_by_role("link", name="Rename or remove").click()
    page.get_by_role("button", name="Remove Ring without payment").click()
    expect(page.locator("main")).to_contain_text("No view is saved yet")
