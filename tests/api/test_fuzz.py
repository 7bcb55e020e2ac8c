"""Any input at all gets a 4xx with a readable body, never a 5xx.

Set CREELBOOK_FUZZ_CASES to raise the number of cases for each operation (30 in the plain run).
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, given, settings

from seed_demo.load import load_demo
from server.app import create_app
from server.settings import Settings
from server.store.migrating import migrate
from server.store.session import open_engine

CASES = int(os.environ.get("CREELBOOK_FUZZ_CASES", "30"))


@pytest.fixture(scope="module")
def api_schema(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The API of a demonstration of its own, described by itself."""
    file: Path = tmp_path_factory.mktemp("fuzz") / "demo.sqlite"
    engine = open_engine(f"sqlite:///{file}")
    migrate(engine)
    load_demo(engine)
    engine.dispose()
    app = create_app(Settings(database_url=f"sqlite:///{file}", demo=True))
    return schemathesis.openapi.from_asgi("/api/v1/openapi.json", app)


def test_no_input_brings_a_server_error(api_schema: Any) -> None:
    operations = [found.ok() for found in api_schema.get_all_operations()]
    assert len(operations) >= 8
    for operation in operations:
        _try(operation)


def _try(operation: Any) -> None:
    @given(case=operation.as_strategy())
    @settings(
        max_examples=CASES,
        deadline=None,
        derandomize=True,
        suppress_health_check=list(HealthCheck),
    )
    def answered(case: Any) -> None:
        answer = case.call()
        assert answer.status_code < 500, f"{operation.label}: {answer.text}"
        if answer.status_code >= 400:
            body = answer.json()
            assert {"code", "message", "field", "value", "unit", "remedy"} <= set(body)
            assert body["message"]

    answered()
