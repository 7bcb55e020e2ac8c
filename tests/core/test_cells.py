"""A cell goes out guarded and comes in as it was."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from server.core.cells import guarded, unguarded


@given(st.text())
def test_every_text_comes_back(text: str) -> None:
    assert unguarded(guarded(text)) == text


def test_what_a_spreadsheet_would_run_is_guarded() -> None:
    for text in ("=1+1", "+1", "-1", "@x", "\t=1", "＝1", " =1"):
        assert guarded(text).startswith("'")
    assert guarded("Ne 7/1") == "Ne 7/1"
    assert unguarded("'s Hertogenbosch") == "'s Hertogenbosch"
