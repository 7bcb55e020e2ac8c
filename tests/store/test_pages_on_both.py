"""The whole program on each database: the same pages, the same digits, an entry that moves them."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from server.app import create_app
from server.settings import Settings

PAGES = ("/", "/compare", "/compare/DN-1375", "/offers", "/offers/Q05", "/suppliers", "/rates",
         "/fresh", "/fresh/requotes",
         "/assumptions", "/constructions/DN-1200S", "/should-cost", "/bases", "/gate",
         "/scenarios",
         "/offers/edit-many?all=yes&state=open", "/offers/side-by-side?offer=Q05&offer=Q08",
         "/suppliers/Marrow%20Creek%20Spinning?prices=same-basis")  # fmt: skip


@pytest.mark.usefixtures("demo")
def test_the_program_serves_the_demo_from_either_database(address: str) -> None:
    with TestClient(create_app(Settings(database_url=address, demo=True))) as client:
        for path in PAGES:
            assert client.get(path).status_code == 200, path
        leader = client.get("/compare/DN-1450.json").json()["leader"]
        assert leader["pair"] == "Q01/Q07"
        assert leader["fabric_cost"] == pytest.approx(3.085, abs=5e-4)  # printed in the demo tables
        rate = client.get("/api/v1/rates/exchange").json()[1]
        assert "MXN" in str(rate)
        added = client.post(
            "/rates/exchange/new",
            data={"base": "USD", "quote": "MXN", "rate": "15.00", "valid_from": "2026-03-02",
                  "source": "trial"},
            follow_redirects=False,
        )  # fmt: skip
        assert added.status_code == 303
        moved = client.get("/offers/Q02.json").json()["figures"]["offer.goods_price"]
        assert moved == pytest.approx(53.50 / 15.00, rel=1e-12)
