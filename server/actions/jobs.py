"""Long work beside the requests: one thread for each, with its progress.

A job writes in one transaction, so a server that is stopped in the middle leaves nothing behind;
the work is then started again from the page.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from dataclasses import dataclass
from threading import Lock, Thread
from typing import Any

from server.core.errors import CreelbookError
from server.store.session import Engine

_log = logging.getLogger(__name__)


@dataclass
class Job:
    """How far a piece of work is. error: why it ended without a result, "" otherwise."""

    what: str
    total: int
    done: int = 0
    finished: bool = False
    error: str = ""

    @property
    def percent(self) -> int:
        """Share of the work that is done, in whole percent."""
        return min(100, 100 * self.done // self.total) if self.total else 0


_jobs: dict[tuple[int, str], Job] = {}
_lock = Lock()


def job_of(engine: Engine, key: str) -> Job | None:
    """The running or last job about something."""
    return _jobs.get((id(engine), key))


def start_job(
    engine: Engine, key: str, what: str, total: int, work: Callable[[Job], Any], *, inline: bool
) -> Job:
    """Start work about something, or give the job that is at it already.

    key: what it is about; total: steps until it is done
    inline: do it before answering, for work that takes no time
    """
    with _lock:
        running = _jobs.get((id(engine), key))
        if running is not None and not running.finished:
            return running
        job = _jobs[id(engine), key] = Job(what, total)
    if inline:
        try:
            work(job)
        finally:
            job.finished = True
            with _lock:
                _jobs.pop((id(engine), key), None)
        return job
    Thread(target=_run, args=(job, work), name=key, daemon=True).start()
    return job


def forget_job(engine: Engine, key: str) -> None:
    """Forget a finished job, once its outcome was shown."""
    with _lock:
        job = _jobs.get((id(engine), key))
        if job is not None and job.finished:
            _jobs.pop((id(engine), key))


def _run(job: Job, work: Callable[[Job], Any]) -> None:
    try:
        work(job)
    except CreelbookError as refused:
        job.error = str(refused)
    except Exception:
        _log.exception("a job ended without a result")
        job.error = "The work ended without a result; nothing was stored. Start it again."
    finally:
        job.finished = True
