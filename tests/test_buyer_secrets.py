"""What a buyer gets holds none of the planted secrets, anywhere in its bytes, in any choice."""

from __future__ import annotations

import io
import json
import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from server.actions.packs import buyer_pack, choose_shown, frozen_of, stored_pack
from server.actions.shares import revoke, share, shares_of
from server.app import create_app
from server.core.buyer_view import BY_KEY, COSTS, OPEN_BOOK, PRICE_AND_WEIGHT, _letters
from server.core.errors import BadValue
from server.core.pack import PRICE
from server.export.handout_pdf import write_handout
from server.export.packs import pack_document, pairs_csv
from server.request import House
from server.settings import Settings
from server.store.session import open_engine
from tests.export.handouts import told_by
from tests.planted import (
    BUYER,
    DELIVERED,
    FORMER,
    MARGIN,
    NOTES,
    OVERRIDE,
    TITLE,
    VARIANT,
    WAYS,
    WHOM,
    WORDS,
    Haystack,
    countries,
    plant,
    planted_pack,
    quoted_prices,
    secrets,
)  # fmt: skip
from tests.spreadsheet import workbook_of

ALL_COSTS = tuple(key for key in BY_KEY if key != "price")
ALL_BUT_COSTS = tuple(key for key in BY_KEY if key not in COSTS)
CHOICES = {
    "price and weight": PRICE_AND_WEIGHT,
    "all but costs": ALL_BUT_COSTS,
    "open book": OPEN_BOOK,
    "all costs, countries and way": ALL_COSTS,
}
NOWHERE = "9162807"  # what the margin leaves of a price; not written even in the house
FILES = ("files/workbook.xlsx", "files/handout.pdf")


@dataclass
class Planted:
    """A running house with secrets and a frozen pack."""

    visitor: TestClient
    engine: Engine
    reference: str

    def show(self, shown: tuple[str, ...]) -> None:
        """Choose what the buyer sees."""
        version = stored_pack(self.engine, self.reference).version
        choose_shown(self.engine, self.reference, 1, shown, version)

    def collected(self, base: str, most: int = 1000) -> Haystack:
        """Everything behind an address of a pack: page, pairs, data, table, files, headers.

        most: pages of pairs that are opened
        """
        found = Haystack()
        page = self._take(found, base)
        pairs = set(re.findall(rf'href="({re.escape(base)}/pairs/[^"#]+)', page.text))
        assert len(pairs) > 3
        for path in (*sorted(pairs)[:most], f"{base}.json", f"{base}.csv"):
            self._take(found, path)
        for name in FILES:
            answer = self._take(found, f"{base}/{name}")
            if name.endswith("pdf"):
                found.add(f"{name} text", told_by("pdftotext", answer.content))
                found.add(f"{name} info", told_by("pdfinfo", answer.content, file=""))
        return found

    def _take(self, found: Haystack, path: str) -> Any:
        answer = self.visitor.get(path)
        assert answer.status_code == 200, (path, answer.text[:300])
        found.add(path, answer.content)
        found.add(f"{path} headers", "\n".join(f"{k}: {v}" for k, v in answer.headers.items()))
        return answer


@pytest.fixture(scope="module")
def planted(seeded_file: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Planted]:
    file = tmp_path_factory.mktemp("planted") / "own.sqlite"
    shutil.copy(seeded_file, file)
    engine = open_engine(f"sqlite:///{file}")
    plant(engine)
    engine.dispose()
    app = create_app(Settings(database_url=f"sqlite:///{file}"))
    house: House = app.state.house
    with TestClient(app) as visitor:
        yield Planted(visitor, house.engine, planted_pack(house.engine))


def hidden_words(planted: Planted, shown: tuple[str, ...]) -> set[str]:
    """What must not be found with a choice."""
    told_prices = {"way", "yarn_price"} & set(shown)
    words = secrets(planted.engine)
    words |= quoted_prices(planted.engine, in_dollars_a_kilogram=not told_prices)
    if "countries" not in shown:
        words |= countries(planted.engine)
    if "way" not in shown:
        words |= {DELIVERED}
    return words


def test_the_search_finds_every_secret_where_it_may_be(planted: Planted) -> None:
    """What is internal holds what was planted, so that not finding it elsewhere says something."""
    planted.show(("weight",))
    share(planted.engine, planted.reference, 1, days="3", whom=WHOM)
    inside = planted.collected(f"/meetings/{planted.reference}", most=6)
    words = hidden_words(planted, ()) - {NOWHERE}
    in_the_pack = set(inside.holding(words))
    assert {MARGIN, FORMER, NOTES, VARIANT, OVERRIDE, WHOM, DELIVERED} <= in_the_pack | {MARGIN}
    assert len(in_the_pack) > 60
    for kind in (".json", ".csv", ".xlsx!xl/worksheets/sheet3.xml",
                 "!xl/workbook.xml", "handout.pdf text", "/pairs/1/"):  # fmt: skip
        where = {each for found in inside.holding(words).values() for each in found}
        assert any(kind in each for each in where), kind
    others = {each["reference"] for each in planted.visitor.get("/meetings.json").json()}
    for path in (
        *(f"/meetings/{each}" for each in others), f"/meetings/{planted.reference}/pack",
        "/suppliers/1", "/constructions/DN-1375", "/variants", "/api/v1/constructions",
        "/api/v1/offers", "/api/v1/rates/duties", "/api/v1/suppliers", "/api/v1/pieces",
        "/api/v1/assumptions", "/constructions/DN-1375/variants",
    ):  # fmt: skip
        inside.add(path, planted.visitor.get(path).content)
    assert words - set(inside.holding(words)) == set()
    assert set(inside.whole_words(WAYS)) >= {"FOB", "CFR", "LC sight"}
    assert set(inside.whole_words(("41 → 42.3",)))


@pytest.mark.parametrize("shown", CHOICES.values(), ids=CHOICES)
def test_no_secret_is_in_anything_a_buyer_gets(planted: Planted, shown: tuple[str, ...]) -> None:
    """The preview, and what a link opens: every byte of page, pairs, data, table and files."""
    planted.show(shown)
    token = share(planted.engine, planted.reference, 1, days="3", whom=WHOM)
    try:
        for base in (f"/shared/{token}", f"/meetings/{planted.reference}/buyer"):
            found = planted.collected(base)
            if base.startswith("/meetings"):  # the house's own address, which is not sent
                own = planted.reference.casefold()
                found.texts = {at: told.replace(own, "") for at, told in found.texts.items()}
            assert found.holding(hidden_words(planted, shown)) == {}
            assert found.whole_words(WAYS) == {}
            assert found.whole_words(("41 → 42.3",)) == {}  # the words that tell a change
            assert set(found.holding((TITLE, BUYER, WORDS))) == {TITLE, BUYER, WORDS}
    finally:
        for each in shares_of(planted.engine, planted.reference):
            revoke(planted.engine, planted.reference, each.id, 1)


@pytest.mark.parametrize("key", BY_KEY)
def test_no_secret_is_told_by_any_field_alone(planted: Planted, key: str) -> None:
    """The same for each thing that can be ticked, through the API as well."""
    planted.show((key,))
    path = f"/api/v1/meetings/{planted.reference}"
    found = Haystack()
    pack = buyer_pack(planted.engine, stored_pack(planted.engine, planted.reference))
    found.add("page", planted.visitor.get(f"/meetings/{planted.reference}/buyer").content)
    found.add("table", pairs_csv(pack))
    for at, cloth in enumerate(pack.cloths, 1):
        for pair in cloth.pairs[:3]:
            answer = planted.visitor.get(
                f"/meetings/{planted.reference}/buyer/pairs/{at}/{pair.key}"
            )
            assert answer.status_code == 200
            found.add(f"pair {at} {pair.key}", answer.content)
    found.add("api", planted.visitor.get(path, params={"view": "buyer"}).content)
    found.add("workbook", workbook_of(pack))
    file = io.BytesIO()
    write_handout(pack, file)
    found.add("handout", file.getvalue())
    found.add("handout text", told_by("pdftotext", file.getvalue()))
    own = planted.reference.casefold()
    found.texts = {at: told.replace(own, "") for at, told in found.texts.items()}
    assert found.holding(hidden_words(planted, (key,))) == {}
    assert found.whole_words(WAYS) == {}


@pytest.mark.parametrize("shown", [PRICE_AND_WEIGHT, ALL_BUT_COSTS, ("price",)])
def test_no_two_figures_beside_a_price_give_the_margin(
    planted: Planted, shown: tuple[str, ...]
) -> None:
    """No number is to any other as cost is to price; beside the costs themselves they would be."""
    planted.show(shown)
    pack = buyer_pack(planted.engine, stored_pack(planted.engine, planted.reference))
    assert pack.headline == PRICE
    left = 1 - float(MARGIN) / 100
    assert not _ratio_is(_numbers(json.loads(json.dumps(pack_document(pack)))), left)
    internal = frozen_of(planted.engine, planted.reference).pack
    assert _ratio_is(_numbers(pack_document(internal)["cloths"][0]["pairs"][0]), left)
    shown_keys = {key for cloth in pack.cloths for pair in cloth.pairs
                  for key in (*pack.figures_of(pair), *pack.inputs_of(pair))}  # fmt: skip
    costs = {key for each in COSTS for key in BY_KEY[each].keys}
    assert not {key for key in shown_keys if key in costs or f".{key.partition('.')[2]}" in costs}


def _numbers(document: object) -> list[float]:
    if isinstance(document, dict):
        return [each for value in document.values() for each in _numbers(value)]
    if isinstance(document, list):
        return [each for value in document for each in _numbers(value)]
    is_number = isinstance(document, (int, float)) and not isinstance(document, bool)
    return [float(document)] if is_number else []  # type: ignore[arg-type]


def _ratio_is(numbers: list[float], wanted: float) -> bool:
    """Whether any number is the wanted part of another one, or that part, or what it leaves."""
    found = np.unique([abs(each) for each in numbers if each])
    near = np.abs(found[:, None] / found[None, :] / wanted - 1) < 1e-10
    alone = np.abs(np.concatenate([found - wanted, found - (1 - wanted)])) < 1e-9
    return bool(near.any() or alone.any())


def test_what_a_sheet_of_a_buyer_names_is_white(planted: Planted) -> None:
    """Keys of lines and inputs, cells' names and anchors name no lane, rate or own process."""
    planted.show(ALL_COSTS)
    base = f"/meetings/{planted.reference}/buyer"
    document = planted.visitor.get(f"{base}.json").text
    page = planted.visitor.get(f"{base}/pairs/1/" + _first_key(planted, base)).text
    book = planted.visitor.get(f"{base}/files/workbook.xlsx").content
    found = Haystack()
    for name, content in (("json", document), ("page", page), ("book", book)):
        found.add(name, content)
    keys = ("lane.", "duty_rate", "exchange_rate", "quoted_price", "margin_on_price", "lead_days",
            "house_regain", "ring.", "fca_origin", "cost_of_money", "target margin", "/offers/",
            "/constructions/", "/suppliers/", "calibrated")  # fmt: skip
    assert {key for key in keys for told in found.texts.values() if key in told} == set()


def _first_key(planted: Planted, base: str) -> str:
    pairs = planted.visitor.get(f"{base}.json").json()["cloths"][0]["pairs"]
    return str(pairs[0]["key"])


def test_letters_have_no_gaps_and_stand_in_the_order_of_the_pack(planted: Planted) -> None:
    """How many sellers and offers were left out cannot be read from the letters that are there."""
    planted.show(OPEN_BOOK)
    pack = buyer_pack(planted.engine, stored_pack(planted.engine, planted.reference))
    codes: list[str] = []
    for cloth in pack.cloths:
        for pair in cloth.pairs:
            codes += [yarn.code for yarn in pair.yarns if yarn.code not in codes]
    sellers = list(dict.fromkeys(re.sub(r"\d+", "", code) for code in codes))
    assert sellers == [_letters(place) for place in range(len(sellers))]
    for seller in sellers:
        of_theirs = {int(code[len(seller) :]) for code in codes
                     if re.fullmatch(rf"{seller}\d+", code)}  # fmt: skip
        assert of_theirs == {*range(1, len(of_theirs) + 1)}
    assert {pair.state for cloth in pack.cloths for pair in cloth.pairs} <= {"possible", ""}
    assert {cloth.pair_count - len(cloth.pairs) for cloth in pack.cloths} == {0}
    assert not any(cell.reason for cloth in pack.cloths for row in cloth.cells for cell in row)


def test_one_pack_does_not_tell_its_margin_through_two_links(planted: Planted) -> None:
    """A link with the price, and then one with the costs: side by side they tell the margin."""
    planted.show(PRICE_AND_WEIGHT)
    share(planted.engine, planted.reference, 1, days="3", whom=WHOM)
    planted.show(OPEN_BOOK)
    with pytest.raises(BadValue, match="margin") as refused:
        share(planted.engine, planted.reference, 1, days="3", whom="another person")
    assert refused.value.field == "shown"
    assert refused.value.remedy
    for each in shares_of(planted.engine, planted.reference):
        revoke(planted.engine, planted.reference, each.id, 1)
    assert share(planted.engine, planted.reference, 1, days="3")
