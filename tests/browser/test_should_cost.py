"""A speed changed on the should-cost page, stored as a scenario and compared; pages for all."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import faults_of

pytestmark = pytest.mark.browser

PARTS = "Rinconada+2026%2C+hours+in+parts"
PAGES = (
    "/should-cost", "/should-cost?OE.rotor_rpm=95000&every.fibre_price=%2B5%25&ring.roving=0.08",
    f"/should-cost?set={PARTS}&every.wage=5&to_ne=60&ring.efficiency=x",
    "/should-cost/OE/spinning?OE.rotor_rpm=80000",
    f"/scenarios?first=Rinconada+2026&second={PARTS}&construction=DN-1375",
    "/scenarios/new?of=Rinconada+2026&OE.rotor_rpm=%2B10%25",
)  # fmt: skip


def test_a_speed_typed_moves_the_figure_while_the_page_stays(page: Page, demo_address: str) -> None:
    page.goto(f"{demo_address}/should-cost")
    loaded = page.evaluate("() => performance.timeOrigin")
    told = page.get_by_role("status")
    expect(told).to_contain_text("At Ne 7 ring costs 0.435 USD/kg more than rotor")
    page.get_by_text("What if", exact=True).click()
    page.get_by_label("Rotor speed").fill("80000")
    expect(told).to_contain_text("OE: 2.020 USD/kg against 2.030 stored (−0.010, −0.5 %)")
    expect(page.locator("#answer")).to_contain_text("OE meets air-jet at Ne 27.91")
    assert "OE.rotor_rpm=80000" in page.url
    assert page.evaluate("() => performance.timeOrigin") == loaded, "the page was loaded anew"
    page.get_by_label("Rotor speed").fill("+10 %")
    expect(page.locator("#n-OE-rotor_rpm")).to_contain_text("60,000 to 90,000 rpm is common")
    expect(told).to_contain_text("OE: 2.021 USD/kg")
    page.reload()
    expect(page.get_by_label("Rotor speed")).to_have_value("+10 %")
    expect(told).to_contain_text("OE: 2.021 USD/kg")


def test_a_wrong_speed_is_told_beside_its_field_while_typing(
    browser: Browser, demo_address: str
) -> None:
    context = browser.new_context()  # a refusal stands on the console, so not the watched page
    page = context.new_page()
    page.goto(f"{demo_address}/should-cost?OE.rotor_rpm=80000")
    told, speed = page.get_by_role("status"), page.get_by_label("Rotor speed")
    expect(told).to_contain_text("against 2.030 stored")
    speed.fill("fast")
    expect(page.locator("#n-OE-rotor_rpm")).to_contain_text("must be a number")
    expect(told).not_to_contain_text("against 2.030 stored")
    speed.fill("80500")
    expect(page.locator("#n-OE-rotor_rpm")).not_to_contain_text("must be")
    expect(told).to_contain_text("against 2.030 stored")
    context.close()


def test_another_set_brings_its_own_fields(page: Page, demo_address: str) -> None:
    page.goto(f"{demo_address}/should-cost?OE.rotor_rpm=80000")
    page.get_by_label("Assumption set").select_option("Rinconada 2026, hours in parts")
    every = page.get_by_role("group", name="Every route")
    every.get_by_label("Price of electricity").fill("0.22")
    expect(page.get_by_role("status")).to_contain_text("Price of electricity, ring: 0.11 → 0.22")


def test_a_what_if_becomes_a_scenario_without_scripts(browser: Browser, demo_address: str) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{demo_address}/should-cost")
    page.get_by_text("What if", exact=True).click()
    ring = page.get_by_role("group", name="ring", exact=True)
    ring.get_by_label("Twist multiplier").fill("4.5")
    page.get_by_role("button", name="Show what changes").click()
    assert page.url.endswith("/should-cost?ne=7&set=Rinconada+2026&from_ne=4&to_ne=30"
                             "&ring.twist_multiplier=4.5")  # fmt: skip
    expect(page.get_by_role("status")).to_contain_text("ring: 2.471 USD/kg against 2.465 stored")
    page.get_by_role("link", name="Store these changes as a scenario").click()
    page.get_by_label("Name of the scenario").fill("Rinconada 2026")
    page.get_by_role("button", name="Store the scenario").click()
    expect(page.locator("main")).to_contain_text("There is an assumption set “Rinconada 2026”")
    page.get_by_label("Name of the scenario").fill("More twist")
    page.get_by_role("button", name="Store the scenario").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Scenarios")
    expect(page.locator("main")).to_contain_text("One value differs, in ring.")
    expect(page.locator("main")).to_contain_text("what-if of")
    page.get_by_label("One construction").select_option("DN-1375")
    page.get_by_role("button", name="Compare").click()
    own = page.get_by_role("region", name="DN-1375: own yarn")
    expect(own).to_contain_text("ring/ring")
    context.close()


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize(("width", "colours"), [(1280, "light"), (375, "dark")])
def test_no_accessibility_fault_and_nothing_sticks_out(
    browser: Browser, demo_address: str, path: str, width: int, colours: str
) -> None:
    assert faults_of(browser, demo_address + path, width, colours) == []
