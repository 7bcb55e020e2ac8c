"""Putting the house together: one function, one settings object."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI
from fastapi.staticfiles import StaticFiles
from starlette.middleware import Middleware

from server import api, web
from server.export.chart_process import ChartProcess
from server.places import STATIC
from server.request import Guard, House
from server.settings import Settings
from server.store.migrating import migrate
from server.store.people import add_person, first_person
from server.store.session import open_engine
from server.version import VERSION

FORM_BYTES = 100_000  # what a form may bring beside its file


def create_app(settings: Settings) -> FastAPI:
    """The whole program for one database: migrated, with pages, API and static files."""
    engine = open_engine(settings.database_url)
    migrate(engine)
    person_id = first_person(engine) or add_person(engine, name="Owner", role="owner")
    charts = ChartProcess()
    longest = settings.max_upload_bytes + FORM_BYTES

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        yield
        charts.close()
        engine.dispose()

    app = FastAPI(
        title="Creelbook",
        version=VERSION,
        description="Yarn offers on one basis, and the cost of every warp and filling combination. "
        "Units stand in the field names or their descriptions; ¤ is the reporting currency.",
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/v1/openapi.json",
        telemetry={"tracing": False, "metrics": False, "logs": False},
        max_body_size=2 * longest,  # of a body that does not say its length; else see Guard
        form_limits={"max_fields": 400, "max_files": 4, "max_part_size": settings.max_body_bytes},
        middleware=[Middleware(Guard, json_bytes=settings.max_body_bytes, file_bytes=longest)],
        lifespan=lifespan,
    )
    app.state.house = House(engine, settings, charts, person_id)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    api.attach(app)
    web.attach(app)
    return app
