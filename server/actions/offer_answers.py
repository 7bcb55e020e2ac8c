"""Answering what a seller left open about an offer that is stored already."""

from __future__ import annotations

from server.actions.nouns import NOUNS, FieldError, Refused, read_entry
from server.actions.records import one_record
from server.core.errors import BadValue, CreelbookError
from server.store.questions import put_answer
from server.store.session import Engine, writing


def answer_offer(
    engine: Engine, code: str, field: str, value: str, version: int, person_id: int
) -> None:
    """Enter the answer to an open question of an offer read at `version`.

    What the seller said is not touched: only a field that holds nothing, or one a question stands
    about, can be filled. Raises Refused, NotFound, Conflict.
    """
    noun = NOUNS["offers"]
    kept = one_record(engine, noun, code)
    info = noun.fields.get(field)
    if info is None or not value.strip():
        raise Refused([FieldError(field, "Answer", "is empty; choose or type what was said")])
    values = read_entry(noun, {**kept.values, field: value})
    try:
        with writing(engine, person_id) as session:
            put_answer(session, code, field, value.strip(), values, version)
    except CreelbookError as wrong:
        if isinstance(wrong, BadValue):
            message = FieldError(field, info.title or field, str(wrong), wrong.value, wrong.unit)
            raise Refused([message]) from wrong
        raise
