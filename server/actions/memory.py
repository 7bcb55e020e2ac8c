"""Answers kept while the book they rest on stays true."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping
from threading import Lock
from typing import Any, Generic, TypeVar

from server.store.book import Book
from server.store.session import Engine

Answer = TypeVar("Answer")


class Memory(Generic[Answer]):
    """The latest answers, the oldest forgotten first. Safe to share between threads."""

    def __init__(self, most: int) -> None:
        self.most = most
        self._answers: OrderedDict[Hashable, Answer] = OrderedDict()
        self._lock = Lock()

    def known(self, question: Hashable) -> Answer | None:
        """The kept answer, or None."""
        with self._lock:
            return self._answers.get(question)

    def recall(self, question: Hashable, work_out: Callable[[], Answer]) -> Answer:
        """The kept answer, or a new one that is then kept."""
        with self._lock:
            if question in self._answers:
                self._answers.move_to_end(question)
                return self._answers[question]
        answer = work_out()
        with self._lock:
            self._answers[question] = answer
            while len(self._answers) > self.most:
                self._answers.popitem(last=False)
        return answer


def question(
    engine: Engine, book: Book, changes: Mapping[str, Any], *about: str
) -> tuple[Hashable, ...]:
    """What makes two requests the same: database, data version, changed basis, and the subject."""
    return (
        id(engine),
        book.version,
        *about,
        *((name, str(value)) for name, value in sorted(changes.items())),
    )
