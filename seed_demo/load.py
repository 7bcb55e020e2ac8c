"""Load the demonstration into an empty, migrated database, through the same doors as a person."""

from __future__ import annotations

import csv
from datetime import date
from pathlib import Path

from sqlalchemy import Engine

from server.actions.intakes import read_lines, receive_text
from server.actions.nouns import NOUNS, read_entry
from server.store.people import add_person
from server.store.session import writing

FOLDER = Path(__file__).resolve().parent
TODAY = date(2026, 3, 2)
ORDER = {
    "suppliers": "suppliers",
    "rates/exchange": "exchange",
    "rates/lanes": "lanes",
    "rates/duties": "duties",
    "rates/charges": "charges",
    "gate": "gate",
    "assumptions": "assumptions",
    "bases": "bases",
    "constructions": "constructions",
    "pieces": "pieces",
    "offers": "offers",
}


def rows_of(name: str) -> list[dict[str, str]]:
    """The rows of one demo file."""
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def load_demo(engine: Engine) -> None:
    """Store the whole scenario; the first person owns every record."""
    person_ids = [add_person(engine, **row) for row in rows_of("people")]
    with writing(engine, person_ids[0]) as session:
        for path, file in ORDER.items():
            noun = NOUNS[path]
            for row in rows_of(file):
                noun.keeper.add(session, read_entry(noun, row))
    _receive_mail(engine, person_ids[0])


def _receive_mail(engine: Engine, person_id: int) -> None:
    """The morning's mail: ten lines that came in and that nobody has looked at yet."""
    text = (FOLDER / "mail.txt").read_text(encoding="utf-8")
    number = receive_text(
        engine, text, supplier="", received_on=TODAY, table=False, person_id=person_id
    )
    read_lines(engine, number, person_id)
