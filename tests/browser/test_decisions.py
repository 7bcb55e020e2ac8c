"""Accepting a finding and looking at what a rate moves, in a browser without scripts."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

pytestmark = pytest.mark.browser


@pytest.fixture
def plain_page(browser: Browser) -> Iterator[Page]:
    """A page on which no script runs."""
    context = browser.new_context(java_script_enabled=False, viewport={"width": 375, "height": 800})
    yield context.new_page()
    context.close()


def test_a_finding_is_accepted_shown_in_the_comparison_and_withdrawn(
    plain_page: Page, demo_address: str
) -> None:
    page = plain_page
    page.goto(f"{demo_address}/offers/Q28")
    page.get_by_text("Accept a finding").click()
    page.get_by_label("Finding").select_option("origin file")
    page.get_by_label("Reason").fill("Chain of custody seen at the gin")
    page.get_by_role("button", name="Accept it").click()
    expect(page.locator(".decisions")).to_contain_text("Chain of custody seen at the gin")
    page.goto(f"{demo_address}/compare/DN-0975/Q28/Q31")
    expect(page.get_by_text("Chain of custody seen at the gin").first).to_be_visible()
    page.goto(f"{demo_address}/offers/Q28")
    page.get_by_role("button", name="Withdraw the decision about origin file").click()
    expect(page.locator(".decisions")).to_have_count(0)


def test_a_rate_is_looked_at_changed_again_and_stored(plain_page: Page, demo_address: str) -> None:
    page = plain_page
    page.goto(f"{demo_address}/rates/exchange/3/edit")
    page.get_by_label("Source").fill("a second look")
    page.get_by_role("button", name="Show what moves").click()
    expect(page.locator("#what-moves")).to_contain_text("Nothing is stored yet.")
    expect(page.get_by_label("Source")).to_have_value("a second look")
    page.get_by_role("button", name="Store change").click()
    expect(page.get_by_text("Your change is stored").first).to_be_visible()
    expect(page.locator("main")).to_contain_text("a second look")
