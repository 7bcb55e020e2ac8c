"""Files of a pack: made at once when it is small, beside the requests when it is large."""

from __future__ import annotations

import io
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import BinaryIO

from server.actions.jobs import Job, forget_job, job_of, start_job
from server.actions.memory import Memory
from server.core.pack import Pack
from server.store.session import Engine

SMALL = 60  # pairs; fewer are written while the browser waits
Write = Callable[[Pack, BinaryIO, Callable[[int], object]], None]
_made: Memory[bytes] = Memory(12)


@dataclass(frozen=True)
class Making:
    """A file of a pack: its bytes, or how far the work on it is.

    done, total: constructions written, and all of them
    """

    content: bytes | None
    done: int
    total: int
    error: str = ""


def file_of(
    engine: Engine, pack: Pack, name: str, version: Hashable, write: Write, *, wait: bool = False
) -> Making:
    """A file of a pack, from memory, made now, or begun.

    name: of the file; version: what tells this content from an earlier one of the same pack
    wait: make it before answering, however large it is
    """
    known = (id(engine), pack.reference, pack.view, name, version)
    content = _made.known(known)
    key, total = f"{pack.view} {name} of {pack.reference} {version}", len(pack.cloths)
    if content is not None:
        forget_job(engine, key)
        return Making(content, total, total)

    def work(job: Job) -> None:
        file = io.BytesIO()

        def told(done: int) -> None:
            job.done = done

        write(pack, file, told)
        _made.recall(known, file.getvalue)

    small = sum(len(cloth.pairs) for cloth in pack.cloths) <= SMALL
    job = job_of(engine, key)
    if job is not None and job.error:
        forget_job(engine, key)
        return Making(None, job.done, total, job.error)
    job = start_job(engine, key, name, total, work, inline=small or wait)
    return Making(_made.known(known), job.done, total, job.error)
