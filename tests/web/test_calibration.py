"""Measured pieces on their pages: beside the computed cloth, taken into it, and refused."""

from __future__ import annotations

import csv
import html
import io
import re
from decimal import Decimal
from typing import Any

import httpx
import pytest
from sqlalchemy import Engine
from starlette.testclient import TestClient

from server.actions.nouns import NOUNS
from server.actions.records import one_record
from tests.entered import counts

PATH = "/constructions/DN-1250/calibration"
TAKE = {"warp_crimp": "yes", "length_shrink": "yes", "net_finish": "yes"}


def text_of(answer: httpx.Response) -> str:
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", answer.text)))


def post(client: TestClient, address: str, data: dict[str, str]) -> httpx.Response:
    answer: httpx.Response = client.post(address, data=data, follow_redirects=False)
    return answer


def values(engine: Engine, code: str = "DN-1250") -> dict[str, Any]:
    return dict(one_record(engine, NOUNS["constructions"], code).values)


def version(engine: Engine, code: str = "DN-1250") -> str:
    return str(one_record(engine, NOUNS["constructions"], code).version)


def test_pieces_stand_beside_the_computed_weight_and_the_odd_one_is_seen(
    client: TestClient,
) -> None:
    told = text_of(client.get(PATH))
    assert "Computed 12.51 oz/yd², measured 12.62 oz/yd² on average: computed −0.9 %." in told
    assert "left out: Weighed before it was conditioned" in told
    document = client.get(f"{PATH}.json").json()
    assert [each["label"] for each in document["pieces"]] == [
        "Roll 4117", "Roll 4132", "Roll 4160", "Roll 4161",
    ]  # fmt: skip
    crimp = document["estimates"][0]
    assert crimp["mean_share"] == pytest.approx(0.104, rel=1e-12)
    assert crimp["spread_share"] == pytest.approx(0.003, rel=1e-9)
    rows = list(csv.DictReader(io.StringIO(client.get(f"{PATH}.csv").text[1:])))
    assert [row["what"] for row in rows] == ["estimate"] * 3 + ["piece"] * 4


def test_taking_the_estimates_makes_the_computed_weight_the_measured_one(
    client: TestClient, house_engine: Engine
) -> None:
    before = values(house_engine)
    answer = post(client, PATH, TAKE | {"version": version(house_engine)})
    assert answer.headers["location"] == "/constructions/DN-1250?notice=changed"
    after = values(house_engine)
    changed = {name for name, value in after.items() if value != before[name]}
    assert changed == {
        "warp_crimp_percent", "length_shrink_percent", "net_finish_percent", "calibration",
    }  # fmt: skip
    assert after["warp_crimp_percent"] == Decimal("10.40")
    assert "warp crimp 10.40 % (3 pieces, " in after["calibration"]
    again = client.get(f"{PATH}.json").json()
    assert again["computed_g_m2"] == pytest.approx(again["measured_g_m2"], rel=2e-4)
    page = text_of(client.get("/constructions/DN-1250"))
    assert "Calibrated" in page
    assert "take-up 9.4 %; calibrated on 3 pieces" in page
    assert "net finish 3.45 % (3 pieces" in page


def test_only_what_is_ticked_is_taken(client: TestClient, house_engine: Engine) -> None:
    before = values(house_engine)
    post(client, PATH, {"length_shrink": "yes", "version": version(house_engine)})
    after = values(house_engine)
    assert after["warp_crimp_percent"] == before["warp_crimp_percent"]
    assert after["length_shrink_percent"] != before["length_shrink_percent"]


@pytest.mark.parametrize(
    ("data", "status"),
    [({}, 409), ({"version": "1"}, 422), (TAKE | {"version": "99"}, 409)],
)
def test_a_refused_taking_stores_nothing(
    client: TestClient, house_engine: Engine, data: dict[str, str], status: int
) -> None:
    before, rows = values(house_engine), counts(house_engine)
    assert post(client, PATH, data).status_code == status
    assert (values(house_engine), counts(house_engine)) == (before, rows)


PIECE = {
    "construction": "DN-1250", "label": "Roll 5000", "measured_on": "2026-03-01",
    "source": "the laboratory", "state": "finished", "ounces": "12.6",
}  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"ounces": "0"}, "greater than 0"),
        ({"ounces": ""}, "at least one measurement"),
        ({"construction": "DN-0"}, "There is no construction “DN-0”"),
        ({"label": "Roll 4117"}, "has a piece “Roll 4117” already"),
        ({"loom_metres": "100"}, "enter both lengths"),
        ({"loom_metres": "100", "finished_metres": "130"}, "far above the length on the loom"),
        ({"left_out": "yes"}, "say why this piece is left out"),
        ({"state": "wet"}, "must be"),
        ({"measured_on": "2026-02-30"}, "is not a day"),
    ],
)
def test_a_piece_that_cannot_be_is_refused_beside_its_field(
    client: TestClient, house_engine: Engine, changed: dict[str, str], said: str
) -> None:
    before = counts(house_engine)
    answer = post(client, "/pieces/new", PIECE | changed)
    assert answer.status_code == 422
    assert said in text_of(answer)
    assert counts(house_engine) == before


def test_a_new_piece_moves_the_means_at_once(client: TestClient) -> None:
    before = client.get(f"{PATH}.json").json()["measured_g_m2"]
    assert post(client, "/pieces/new", PIECE | {"ounces": "13.6"}).status_code == 303
    after = client.get(f"{PATH}.json").json()
    assert after["measured_g_m2"] > before
    assert len(after["pieces"]) == 5
    assert "Roll 5000" in text_of(client.get("/pieces"))


def test_a_sister_cloth_says_what_this_one_should_weigh(client: TestClient) -> None:
    document = client.get("/constructions/DN-1450/calibration.json").json()
    sisters = {each["construction"]: each for each in document["sisters"]}
    assert set(sisters) == {"DN-1250", "DN-1375", "DN-1200S"}
    assert document["sisters"][-1]["construction"] == "DN-1200S"  # of another kind
    own = document["computed_g_m2"]
    assert sisters["DN-1375"]["predicted_g_m2"] == pytest.approx(own, rel=0.05)
    told = text_of(client.get("/constructions/DN-1450/calibration"))
    assert "No piece is measured yet" in told
    assert "agree within 1.0 % that way" in told


def edited(client: TestClient, engine: Engine, **changed: str) -> httpx.Response:
    kept = one_record(engine, NOUNS["constructions"], "DN-0975")
    form = {
        name: str(value)
        for name, value in kept.values.items()
        if value is not None and not isinstance(value, bool)
    }
    return post(
        client, "/constructions/DN-0975/edit", form | changed | {"version": str(kept.version)}
    )


def test_a_take_up_is_shown_with_its_crimp(client: TestClient, house_engine: Engine) -> None:
    """12 % crimp is 10.714 % take-up."""
    answer = edited(client, house_engine, warp_crimp_percent="", warp_take_up_percent="10.714")
    assert answer.status_code == 303
    told = text_of(client.get("/constructions/DN-0975"))
    assert "12.0 % on cloth length; take-up 10.7 %; entered as take-up" in told


def test_with_nothing_measured_the_starting_value_stands_and_says_so(
    client: TestClient, house_engine: Engine
) -> None:
    """2/1 twill, 41 picks, Ne 10 filling: 41 × 2/3 × 4 ÷ 10 = 10.9 %."""
    assert edited(client, house_engine, warp_crimp_percent="").status_code == 303
    told = text_of(client.get("/constructions/DN-0975"))
    assert "10.9 % on cloth length; take-up 9.9 %; starting value, nothing measured" in told
    assert "The warp crimp is a starting value" in told


def test_both_bases_at_once_or_nothing_on_stretch_cloth_is_refused(
    client: TestClient, house_engine: Engine
) -> None:
    twice = edited(client, house_engine, warp_take_up_percent="10")
    assert twice.status_code == 422
    assert "enter one of the two" in text_of(twice)
    stretch = edited(client, house_engine, warp_crimp_percent="", heat_set="yes")
    assert stretch.status_code == 422
    assert "is needed for stretch cloth" in text_of(stretch)


def test_the_page_of_a_cloth_names_the_state_of_every_width_and_weight(client: TestClient) -> None:
    told = text_of(client.get("/constructions/DN-1200S"))
    for said in (
        "Reed 73.0 57.8", "Greige 64.5 65.4 11.6", "Finished 57.5 73.4 10.9", "Cuttable 55.5",
        "Washed, edge to edge 52.6 80.2 8.5", "Weight, washed", "Weight, finished and unwashed",
    ):  # fmt: skip
        assert said in told, said


def test_a_target_said_of_the_washed_cloth_is_held_against_it(
    client: TestClient, house_engine: Engine
) -> None:
    edited(client, house_engine, target_state="washed")
    assert "washed; enter the residual shrinkage" in text_of(client.get("/constructions/DN-0975"))
    edited(
        client, house_engine, target_state="washed", residual_length_percent="3",
        residual_width_percent="2", wash_mass_change_percent="-5",
    )  # fmt: skip
    assert "9.75 oz/yd² washed" in text_of(client.get("/constructions/DN-0975"))
