"""A buyer's walk through the demonstration, and every page as an accessibility engine sees it."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import faults_of

pytestmark = pytest.mark.browser

EVERY_PAGE = (
    "/", "/compare", "/compare/DN-1375", "/compare/DN-1450?currency=EUR",
    "/compare/DN-1375/Q09/Q14", "/compare/DN-1375/Q09/Q14/fabric_cost", "/offers", "/offers/Q05",
    "/offers/Q23/offer.same_basis_price", "/offers/new", "/offers/Q05/edit", "/offers/import",
    "/suppliers", "/suppliers/Marrow%20Creek%20Spinning", "/suppliers/new", "/constructions",
    "/suppliers/Marrow%20Creek%20Spinning/negotiation",
    "/constructions/DN-1200S", "/constructions/DN-1375/edit", "/should-cost", "/assumptions",
    "/rates", "/gate", "/bases", "/calculators", "/calculators/warp_mass?ends=0",
    "/offers/none-such", "/offers/Q04", "/offers?q=zzzz&quoted_from=2026-01-01", "/saved-views",
    "/intake", "/intake/new",
    "/fresh", "/fresh/requotes?days=14", "/offers/Q17/gate",
    "/rates/lanes/1/edit", "/rates/duties/import",
    "/offers/side-by-side?offer=Q05&offer=Q08&offer=Q18", "/offers/edit-many?offer=Q01&offer=Q02",
    "/offers/edit-many/preview?offer=Q01&offer=Q02&to_lead_days=44&to_currency=EUR",
    "/offers/Q01/files", "/offers/Q01/tests", "/offers/Q25/pattern", "/offers/Q36",
    "/compare/DN-1050S/Q30/Q36?rigid_loss=x", "/compare/DN-1200S/Q25/Q35",
    "/constructions/DN-1200S/break-even?first=Q25/Q35&second=Q22/Q35",
    "/constructions/DN-1250/break-even?filling_ne=7&second=weight-picks&first=nope",
    "/constructions/DN-1375/break-even/ring.fibre_price?first=own+ring/own+OE&second=Q14/Q14",
    "/compare/DN-1375/map?assumption_set=Rinconada+2026,+hours+in+parts",
    "/compare/DN-1375/map?x=no",
    "/compare/DN-1250/Q14/Q21?loom_rule=from+stops", "/compare/DN-1250?loom_rule=by+guess",
    "/constructions/how-close", "/constructions/how-close/S-16/M4.deviation",
    "/constructions/DN-1250/calibration", "/constructions/DN-0975/calibration",
    "/pieces", "/pieces/1", "/pieces/new?construction=DN-1250",
)  # fmt: skip


def test_a_buyer_walks_from_home_to_the_source_of_a_number(page: Page, demo_address: str) -> None:
    page.goto(demo_address)
    page.get_by_role("navigation", name="Main").get_by_role("link", name="Compare").click()
    page.get_by_role("link", name="DN-1375 Larkspur").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Compare DN-1375 Larkspur")
    ring_oe = page.locator("table.matrix tr", has_text="ring warp").locator("td").first
    expect(ring_oe).to_contain_text("1.893")
    ring_oe.locator("a.cost").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Pair Q09/Q14")
    page.get_by_role("link", name="1.290", exact=True).first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Warp yarn cost")
    expect(page.locator(".formula").first).to_contain_text("÷ 1000 ×")
    page.locator("summary", has_text="Warp to buy").first.click()
    expect(page.locator("main")).to_contain_text("construction DN-1375")
    expect(page.locator("main")).to_contain_text("Thuyền Sao Yarn")


def test_changing_a_chip_of_the_basis_moves_the_numbers(page: Page, demo_address: str) -> None:
    page.goto(f"{demo_address}/compare/DN-1375")
    before = page.locator("table.matrix a.cost").first.inner_text()
    page.get_by_label("Currency").fill("EUR")
    page.get_by_role("button", name="Apply").click()
    after = page.locator("table.matrix a.cost").first.inner_text()
    assert "EUR/m" in after
    assert before.split()[0] != after.split()[0]
    assert "currency=EUR" in page.url


def test_a_meeting_after_the_offers_end_leaves_them_out(page: Page, demo_address: str) -> None:
    page.goto(f"{demo_address}/compare/DN-1375")
    page.get_by_label("Meeting").fill("2026-03-19")
    page.get_by_role("button", name="Apply").click()
    expect(page.locator("#excluded + .table-box")).to_contain_text("expired on 2026-03-18")


def test_a_wrong_date_is_answered_beside_its_chip(page: Page, demo_address: str) -> None:
    answer = page.request.get(f"{demo_address}/compare/DN-1375?meeting=2026-02-30")
    assert answer.status == 422
    assert "“2026-02-30” is not a date" in answer.text()


@pytest.mark.parametrize("path", EVERY_PAGE)
@pytest.mark.parametrize(("width", "colours"), [(1280, "light"), (375, "dark")])
def test_no_serious_accessibility_fault_and_nothing_sticks_out(
    browser: Browser, demo_address: str, path: str, width: int, colours: str
) -> None:
    assert faults_of(browser, demo_address + path, width, colours) == []


def test_pages_read_without_scripts(browser: Browser, demo_address: str) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{demo_address}/compare/DN-1250")
    expect(page.locator("table.matrix")).to_contain_text("2.445")
    page.get_by_role("button", name="dark").click()
    expect(page.locator("html")).to_have_attribute("data-theme", "dark")
    assert page.url.endswith("/compare/DN-1250")
    context.close()
