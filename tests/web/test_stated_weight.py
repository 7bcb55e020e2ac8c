"""A weight its yarn cannot have is flagged on the page, with causes tried on its figures."""

from __future__ import annotations

import html
import re
from typing import Any

import pytest
from starlette.testclient import TestClient

CODE = "DN-0975"


def change(client: TestClient, **fields: Any) -> None:
    kept = client.get(f"/api/v1/constructions/{CODE}").json()
    answer = client.put(
        f"/api/v1/constructions/{CODE}",
        json={**kept["entry"], **fields, "version": kept["version"]},
    )
    assert answer.status_code == 200, answer.text


def told(client: TestClient, path: str = f"/constructions/{CODE}") -> str:
    text = html.unescape(re.sub(r"<[^>]+>", " ", client.get(path).text))
    return re.sub(r"\s+", " ", text)


def test_a_sound_target_raises_nothing(client: TestClient) -> None:
    assert "Likely causes" not in told(client)
    document = client.get(f"/constructions/{CODE}.json").json()
    assert [each["standing"] for each in document["stated_weights"]] == [""]


def test_a_piece_left_out_is_doubted_among_the_pieces_alone(client: TestClient) -> None:
    assert "Piece Roll 4161" not in told(client, "/constructions/DN-1250")
    assert "Piece Roll 4161, 13.40" in told(client, "/constructions/DN-1250/calibration")


def test_a_target_lighter_than_its_yarn_is_impossible(client: TestClient) -> None:
    change(client, target_oz="7")
    page = told(client)
    assert "impossible Target weight, 7.00 oz/yd² finished: 0.882 times its straight yarn" in page
    assert "A count is nominal, or wrong: Ne 13.2 × 13.2 to Ne 13.6 × 13.6 would fit." in page
    assert "7.00 oz/yd² is a round half ounce: a trade weight." in page


def test_the_mass_of_a_running_yard_is_recognised(client: TestClient) -> None:
    change(client, measured_oz="16.5")
    assert "16.50 oz are of a running yard 59.0 in wide (would fit: 1.27 times)." in told(client)
    (_, piece) = client.get(f"/constructions/{CODE}.json").json()["stated_weights"]
    assert piece["standing"] == "too heavy"
    assert piece["causes"][0]["answer"] == "would fit"


def test_a_weight_is_held_against_the_threads_of_its_state(client: TestClient) -> None:
    """A washed cloth is denser, so the same ounces stand lower over its straight yarn."""
    washing = {"residual_length_percent": "10", "residual_width_percent": "10"}
    change(client, measured_oz="9.8", **washing)
    finished = client.get(f"/constructions/{CODE}.json").json()["stated_weights"][1]
    change(client, measured_oz="9.8", measured_state="washed", **washing)
    washed = client.get(f"/constructions/{CODE}.json").json()["stated_weights"][1]
    assert washed["state"] == "washed"
    assert washed["over_straight_yarn"] == pytest.approx(finished["over_straight_yarn"] * 0.9)


def test_a_greige_weight_is_computed_and_held_against_a_greige_piece(client: TestClient) -> None:
    change(client, measured_oz="9.0", measured_state="greige")
    assert "no weight of that state is computed" in told(client)
    change(
        client, measured_oz="9.0", measured_state="greige", greige_width_in="61",
        greige_add_on_percent="12",
    )  # fmt: skip
    page = told(client)
    assert "Greige state off the loom, relaxed Weight, greige" in page
    figures = client.get(f"/constructions/{CODE}.json").json()["figures"]
    greige = figures["greige_ounces"]["value"]
    off = figures["weight_deviation"]["value"]
    assert off == pytest.approx(greige / 9.0 - 1)
    assert told(client, f"/constructions/{CODE}/greige_ounces")


def test_a_stretch_cloth_is_explained_by_its_filling(client: TestClient) -> None:
    page = told(client, "/constructions/DN-1050S")
    assert "than the width, as in stretch cloth; straight yarn leaves that out (would fit" in page
