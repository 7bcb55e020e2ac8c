"""A meeting from the comparison to the buyer's screen and back, and its pages as others see it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import faults_of, started_demo

pytestmark = pytest.mark.browser

SCREENS = [(1280, "light"), (375, "dark")]
ALL = ("DN-1450", "DN-1375", "DN-1250", "DN-1200S", "DN-1050S", "DN-0975")


@pytest.fixture(scope="module")
def house(request: pytest.FixtureRequest) -> Iterator[str]:
    """A demonstration of its own, so that packs do not stand in the lists of other tests."""
    yield from started_demo()


@pytest.fixture(scope="module")
def packs(house: str, browser: Browser) -> dict[str, str]:
    """A draft, a frozen pack with a variant and a link, and a large one; name -> address."""
    context = browser.new_context()
    send = context.request
    kept = send.post(
        f"{house}/constructions/DN-1375/variants",
        form={"name": "Finer", "query": "loom_ppi=42.3&filling_ne=8", "notes": ""},
        max_redirects=0,
    )
    assert kept.status == 303, kept.text()[:500]
    api = f"{house}/api/v1/meetings"
    words = {"title": "Spring denim", "buyer": "Tarn & Fell", "meeting": "2026-03-12",
             "notes": "Walk away below 2.40", "words": "Good morning"}  # fmt: skip
    cloths: list[dict[str, Any]] = [
        {"construction": "DN-1375"}, {"construction": "DN-1375", "variant": "Finer"},
        {"construction": "DN-1200S"},
    ]  # fmt: skip

    def made(cloths: list[dict[str, Any]], *, frozen: bool) -> str:
        answer = send.post(api, data=words | {"cloths": cloths})
        assert answer.status == 201, answer.text()
        record = answer.json()
        path = f"{api}/{record['reference']}"
        if frozen:
            record = send.post(f"{path}/freeze", data={"version": record["version"]}).json()
        shown = [
            "yarns", "countries", "cloth", "weight", "waste", "season", "yarn_price", "way",
            "yarn_cost", "stages", "rates", "cost",
        ]  # fmt: skip
        chosen = send.put(f"{path}/shown", data={"version": record["version"], "shown": shown})
        assert chosen.ok, chosen.text()
        return f"/meetings/{record['reference']}"

    found = {
        "draft": made(cloths, frozen=False),
        "frozen": made(cloths, frozen=True),
        "large": made([{"construction": code} for code in ALL], frozen=True),
    }
    link = send.post(f"{house}/api/v1{found['frozen']}/shares", data={"days": 2, "whom": "Anna"})
    found["link"] = link.json()["path"]
    context.close()
    return found


def test_a_meeting_from_the_comparison_to_the_buyer_and_back(
    page: Page, browser: Browser, house: str, tmp_path: Path
) -> None:
    # a variant is kept on the change desk
    page.goto(f"{house}/constructions/DN-1250/change?filling_ne=7&loom_ppi=35")
    page.get_by_text("Keep this change as a variant").click()
    page.get_by_label("Name of the variant").fill("One count")
    page.get_by_label("Name of the variant").press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Variants of DN-1250")

    # two pairs go into a pack
    page.goto(f"{house}/compare/DN-1250")
    page.get_by_role("link", name=re.compile("into a meeting pack")).first.click()
    page.get_by_role("checkbox", name=re.compile("Q14.Q20")).check()
    page.get_by_role("checkbox", name=re.compile("Q14.Q19")).check()
    page.get_by_label("Title").fill("One count for both")
    page.get_by_label("Buyer").first.fill("Tarn & Fell")
    page.get_by_label("Internal notes").fill("Walk away below 2.40")
    page.get_by_label("Words for the buyer").fill("Good morning")
    page.get_by_role("button", name="Put it into the pack").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("One count for both")
    expect(page.locator("h1")).to_contain_text("draft")
    address = page.url.partition("?")[0]

    # and the variant
    page.goto(f"{house}/meetings/put?construction=DN-1250&variant=One+count")
    page.get_by_label("Into").select_option(label="One count for both, 2026-03-12")
    page.get_by_role("button", name="Put it into the pack").click()
    expect(page.locator("main")).to_contain_text("DN-1250 Anvil, One count")

    # fields are chosen
    for name in ("Weight Grams", "Yarns Count", "Cost of the cloth"):
        page.get_by_role("checkbox", name=re.compile(name)).check()
    page.get_by_role("button", name="Keep this choice").click()
    expect(page.locator("#buyer")).to_contain_text("Preview as the buyer")

    # preview
    page.get_by_role("link", name="Preview as the buyer").click()
    expect(page.locator("main")).to_contain_text("Good morning")
    expect(page.locator("main")).not_to_contain_text("Walk away")
    expect(page.locator("main")).not_to_contain_text("Q14")
    page.get_by_role("link", name="back to the pack").click()

    # freeze and link
    page.get_by_role("button", name="Freeze this pack").click()
    expect(page.locator("h1")).to_contain_text("frozen")
    expect(page.locator("main")).not_to_contain_text("Freeze this pack")
    page.get_by_label(re.compile("^For whom")).fill("Anna Quist")
    page.get_by_role("button", name="Make a link").click()
    link = page.locator(".pack-secret code").inner_text()
    assert link.startswith(f"{house}/shared/")
    page.goto(address)
    expect(page.locator("main")).not_to_contain_text("/shared/")

    # the buyer opens it in a browser of his own
    buyers = browser.new_context(viewport={"width": 1280, "height": 900}, accept_downloads=True)
    theirs, complaints = buyers.new_page(), list[str]()
    theirs.on("console", lambda said: complaints.append(said.text)
              if said.type in ("error", "warning") else None)  # fmt: skip
    theirs.goto(link)
    expect(theirs.get_by_role("heading", level=1)).to_have_text("One count for both")
    expect(theirs.locator("main")).to_contain_text("Good morning")
    expect(theirs.get_by_role("navigation")).to_have_count(0)
    theirs.locator("table.matrix a.cost").first.click()
    expect(theirs.get_by_role("heading", level=1)).to_contain_text("A1/")
    theirs.go_back()
    for name, begins in (("Workbook", b"PK"), ("Handout", b"%PDF")):
        with theirs.expect_download() as coming:
            theirs.get_by_role("link", name=re.compile(name)).click()
        file = tmp_path / coming.value.suggested_filename
        coming.value.save_as(file)
        assert file.read_bytes().startswith(begins)
        assert "tarn" not in file.name
    assert buyers.cookies() == []

    # it is taken back
    page.get_by_role("button", name=re.compile("Take it back")).click()
    expect(page.locator("#links")).to_contain_text("taken back")
    assert complaints == []
    answer = theirs.goto(link)
    assert answer is not None
    assert answer.status == 404
    expect(theirs.locator("main")).to_contain_text("This link does not open anything")
    buyers.close()


def test_a_pack_is_made_frozen_and_opened_without_scripts(browser: Browser, house: str) -> None:
    context = browser.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{house}/meetings/put?construction=DN-1375")
    page.get_by_label("Title").fill("Without scripts")
    page.get_by_role("button", name="Put it into the pack").click()
    page.get_by_role("button", name="Freeze this pack").click()
    expect(page.locator("h1")).to_contain_text("frozen")
    page.get_by_role("link", name="Compute again").click()
    expect(page.locator("main")).to_contain_text("the pack gives the same numbers")
    context.close()


PAGES = {
    "list": "/meetings",
    "put": "/meetings/put?construction=DN-1375&pair=Q14/Q14",
    "put a variant": "/meetings/put?construction=DN-1375&variant=Finer",
    "new": "/meetings/put",
    "edit": "{draft}/edit",
    "draft": "{draft}",
    "frozen": "{frozen}",
    "large": "{large}",
    "buyer": "{frozen}/buyer",
    "pair": "{frozen}/pairs/1/Q14/Q14",
    "pair of a variant": "{frozen}/pairs/2/swap",
    "pair of a buyer": "{frozen}/buyer/pairs/1/A1/A1",
    "again": "{frozen}/again",
    "link": "{link}",
    "link that is none": "/shared/none",
    "no such pack": "/meetings/2026-01-01-none",
}


@pytest.mark.parametrize("path", PAGES.values(), ids=PAGES)
@pytest.mark.parametrize(("width", "colours"), SCREENS)
def test_every_page_of_a_pack_is_accessible_and_fits(
    browser: Browser, house: str, packs: dict[str, str], path: str, width: int, colours: str
) -> None:
    assert faults_of(browser, house + path.format(**packs), width, colours) == []


@pytest.mark.parametrize(("width", "colours"), SCREENS)
def test_the_page_that_waits_for_a_file_is_accessible_and_fits(
    browser: Browser, house: str, packs: dict[str, str], width: int, colours: str
) -> None:
    """As it stands while the work goes on; it is held still, so that it can be looked at."""
    context = browser.new_context(
        viewport={"width": width, "height": 900},
        color_scheme="dark" if colours == "dark" else "light",
    )
    address = f"{house}{packs['large']}/files/workbook.xlsx?making=yes"
    held = f"{house}{packs['large']}/held"
    template = Path("templates/packs/making.html").read_text(encoding="utf-8")
    assert 'http-equiv="refresh"' in template
    page = context.new_page()
    waiting = context.request.get(address, max_redirects=0)
    if waiting.status != 200 or "progress" not in waiting.text():
        waiting = context.request.get(
            f"{house}{packs['large']}/buyer/files/handout.pdf?making=yes", max_redirects=0
        )
    assert waiting.status == 200
    text = re.sub(r'<meta http-equiv="refresh"[^>]*>', "", waiting.text())
    assert "constructions" in text
    page.route(held, lambda route: route.fulfill(body=text, content_type="text/html"))
    page.goto(held)
    faults = [each["id"] for each in Axe().run(page).response["violations"]]
    wider = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    context.close()
    assert faults == []
    assert wider <= 0


def test_a_large_workbook_comes_by_itself_when_it_is_done(
    browser: Browser, house: str, packs: dict[str, str]
) -> None:
    context = browser.new_context(accept_downloads=True)
    page = context.new_page()
    page.goto(f"{house}{packs['large']}")
    with page.expect_download(timeout=90_000) as coming:
        page.get_by_role("link", name=re.compile("Workbook")).click()
    assert coming.value.suggested_filename.endswith("-internal-workbook.xlsx")
    context.close()
