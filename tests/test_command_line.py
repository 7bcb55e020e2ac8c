"""The commands of an operator, run as a person would."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]


def command(*words: str, **settings: str) -> subprocess.CompletedProcess[str]:
    """`python -m server …` with some settings."""
    return subprocess.run(
        [sys.executable, "-m", "server", *words], cwd=ROOT, env={**os.environ, **settings},
        capture_output=True, text=True, timeout=60,
    )  # fmt: skip


def test_help_names_every_command() -> None:
    said = command("--help").stdout
    for word in ("demo", "serve", "migrate", "check"):
        assert word in said


def test_check_asks_for_missing_migrations_and_is_content_after_them(tmp_path: Path) -> None:
    url = {"CREELBOOK_DATABASE_URL": f"sqlite:///{tmp_path / 'house.sqlite'}"}
    before = command("check", **url)
    assert before.returncode == 1
    assert "Migrations are missing; run: creelbook migrate" in before.stderr
    assert command("migrate", **url).stdout == "The database has every migration.\n"
    after = command("check", **url)
    assert after.returncode == 0
    assert "Settings and database are in order." in after.stdout


def test_check_says_when_the_database_does_not_answer() -> None:
    refused = command("check", CREELBOOK_DATABASE_URL="postgresql://nobody@127.0.0.1:1/none")
    assert refused.returncode == 1
    assert "The database does not answer; check CREELBOOK_DATABASE_URL." in refused.stderr


def test_listening_beyond_loopback_has_to_be_asked_for() -> None:
    refused = command("serve", CREELBOOK_HOST="0.0.0.0")
    assert refused.returncode == 2
    assert "no sign-in of its own yet" in refused.stderr
    assert "CREELBOOK_OPEN_TO_NETWORK" in refused.stderr


def test_a_wrong_setting_is_named() -> None:
    refused = command("check", CREELBOOK_PORT="many")
    assert refused.returncode == 2
    assert "CREELBOOK_PORT" in refused.stderr


def test_a_port_in_use_is_answered_with_a_remedy(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        refused = command("demo", "--port", str(taken.getsockname()[1]))
    assert refused.returncode == 1
    assert "choose another with --port" in refused.stderr
