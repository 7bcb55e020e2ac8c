"""A construction change by keyboard alone, and the desk as an accessibility engine sees it."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import faults_of

pytestmark = pytest.mark.browser

DESK = "/constructions/DN-1250/change"
PAGES = (
    DESK, f"{DESK}?pair=Q14%2FQ20&filling_ne=7", f"{DESK}?filling_ne=0&fabric.loom_rpm=9999",
    f"{DESK}?filling_yarn=own+OE&warp_yarn=own+ring&weave=2%2F1+twill",
    f"{DESK}/weight-picks/ounces?pair=Q14%2FQ20&filling_ne=7", "/constructions/DN-1250/variants",
)  # fmt: skip


def tab_to(page: Page, name: str, most: int = 120) -> None:
    """Press Tab until the focus stands on something of this name."""
    for _ in range(most):
        page.keyboard.press("Tab")
        focused = page.evaluate(
            "() => { const at = document.activeElement;"
            " return (at.labels && at.labels[0] ? at.labels[0].innerText : at.innerText) || ''; }"
        )
        if focused.strip().startswith(name):
            return
    pytest.fail(f"no Tab reaches “{name}”")


def test_a_change_is_costed_kept_and_promoted_by_keyboard_alone(
    page: Page, demo_address: str
) -> None:
    page.goto(f"{demo_address}/constructions/DN-1250")
    tab_to(page, "Cost a change")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Change DN-1250 Anvil")
    loaded = page.evaluate("() => performance.timeOrigin")
    tab_to(page, "Filling count")
    page.keyboard.type("7")
    told = page.get_by_role("status")
    expect(told).to_contain_text("Same weight, by picks (loom picks 35.0 1/in)")
    expect(told).to_contain_text("loom output +14.3 %")
    expect(told).to_contain_text("Same cover (loom picks 37.4 1/in)")
    assert page.evaluate("() => performance.timeOrigin") == loaded, "the page was loaded anew"
    assert "filling_ne=7" in page.url
    assert page.evaluate("() => document.activeElement.id") == "f-filling_ne"
    tab_to(page, "Loom picks")
    page.keyboard.type("35")
    expect(told).to_contain_text("Plain swap: −0.032 USD/m, 0.00 oz/yd²")
    tab_to(page, "Keep this change as a variant")
    page.keyboard.press("Enter")
    tab_to(page, "Name of the variant")
    page.keyboard.type("One count, 35 picks")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Variants of DN-1250")
    expect(page.locator("table")).to_contain_text("One count, 35 picks")
    tab_to(page, "Promote “One count, 35 picks”")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("DN-1250 Anvil")
    expect(page.locator("main")).to_contain_text("12.51")


def test_a_wrong_figure_is_told_beside_its_field_while_typing(
    page: Page, demo_address: str
) -> None:
    page.goto(f"{demo_address}/constructions/DN-1375/change")
    page.get_by_label("Filling count").fill("7,5")
    note = page.locator("#n-filling_ne")
    expect(note).to_contain_text("must be written with a decimal point")
    page.get_by_label("Filling count").fill("7.2")
    expect(note).not_to_contain_text("must be")
    expect(page.get_by_role("status")).to_contain_text("Plain swap")


def test_the_last_thing_typed_is_the_one_answered(page: Page, demo_address: str) -> None:
    page.goto(f"{demo_address}/constructions/DN-1375/change")
    picks = page.get_by_label("Loom picks")
    for text in ("38", "39", "40", "42"):
        picks.fill(text)
    expect(page.locator("#answer")).to_contain_text("42.0")
    page.wait_for_load_state("networkidle")
    assert "loom_ppi=42" in page.url


def test_the_desk_works_without_scripts(browser: Browser, demo_address: str) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{demo_address}/constructions/DN-1375/change")
    page.get_by_label("Filling count").fill("8")
    page.get_by_role("button", name="Show").click()
    expect(page.get_by_role("status")).to_contain_text("Same weight, by picks")
    assert page.url.endswith("filling_ne=8")
    page.get_by_text("Keep this change as a variant").click()
    page.get_by_label("Name of the variant").fill("Without scripts")
    page.get_by_role("button", name="Keep as a variant").click()
    expect(page.locator("table")).to_contain_text("Without scripts")
    context.close()


@pytest.mark.parametrize("path", PAGES)
@pytest.mark.parametrize(("width", "colours"), [(1280, "light"), (375, "dark")])
def test_no_accessibility_fault_and_nothing_sticks_out(
    browser: Browser, demo_address: str, path: str, width: int, colours: str
) -> None:
    assert faults_of(browser, demo_address + path, width, colours) == []
