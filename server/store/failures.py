"""What a database says when it fails, as sentences for people."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolExhausted

from server.core.errors import CreelbookError


class StoreUnavailable(CreelbookError):
    """The database cannot be reached or is full."""

    code = "store_unavailable"


@contextmanager
def speaking_plainly() -> Iterator[None]:
    """Turns a failure of the database into StoreUnavailable."""
    try:
        yield
    except OperationalError as failed:
        raise StoreUnavailable(
            "The database cannot take this just now; nothing was stored.",
            remedy="Try again; if it persists, check disk space and the database server.",
        ) from failed
    except PoolExhausted as failed:
        raise StoreUnavailable(
            "All connections to the database are in use; nothing was stored.", remedy="Try again."
        ) from failed
    except DBAPIError as failed:
        if failed.connection_invalidated:
            raise StoreUnavailable(
                "The connection to the database was lost; nothing was stored.", remedy="Try again."
            ) from failed
        raise
