"""Anything the list of offers may be asked, for tests of its address; and statements counted."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from typing import Any

from hypothesis import strategies as st
from sqlalchemy import Engine, event

from server.actions.offer_list import NOT_SAID, SORTS, STATES, Wanted

DAYS = st.none() | st.dates()
NAMES = st.text(max_size=40).map(lambda text: text.replace("\0", "").strip())
WORD = st.text(min_size=1, max_size=12).filter(lambda text: text.split() == [text])
WANTED = st.builds(
    Wanted,
    words=st.lists(WORD.filter(lambda text: "\0" not in text), max_size=4).map(tuple),
    spinning=st.sampled_from(("", "ring", NOT_SAID)),
    effect=st.sampled_from(("", "slub")),
    supplier=NAMES,
    country=NAMES,
    state=st.sampled_from(("", *STATES)),
    quoted_from=DAYS,
    quoted_to=DAYS,
    valid_from=DAYS,
    valid_to=DAYS,
    intake=st.none() | st.integers(0, 999_999_999),
    sort=st.sampled_from(tuple(SORTS)),
    descending=st.booleans(),
)
VALUES: dict[type, st.SearchStrategy[Any]] = {
    str: NAMES,
    float: st.floats(allow_nan=False, allow_infinity=False),
    int: st.integers(-99_999_999, 999_999_999),
    date: st.dates(),
}
"""Values of a sorted column, by the kind of the column."""


@contextmanager
def statements(engine: Engine) -> Iterator[list[str]]:
    """The statements sent while it is open; those that begin a transaction are left out."""
    seen: list[str] = []

    def note(_connection: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        if not statement.startswith(("BEGIN", "SET ")):
            seen.append(statement)

    event.listen(engine, "before_cursor_execute", note)
    try:
        yield seen
    finally:
        event.remove(engine, "before_cursor_execute", note)
