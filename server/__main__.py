"""The command line: `creelbook …` when installed, `python -m server …` from a checkout."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from server.settings import Settings

program = typer.Typer(
    name="creelbook",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="Yarn sourcing for denim: offers on one basis, combinations costed per metre.",
)
Port = Annotated[int | None, typer.Option(help="Port to listen on; 0 takes a free one.")]


@program.command()
def demo(
    port: Port = None,
    database: Annotated[
        Path | None,
        typer.Option(help="Keep the demonstration in this file; else it is temporary."),
    ] = None,
) -> None:
    """Show an invented mill with forty offers and eight constructions, on loopback."""
    from seed_demo.load import load_demo
    from server.settings import Settings
    from server.store.migrating import migrate
    from server.store.people import first_person
    from server.store.session import open_engine

    with tempfile.TemporaryDirectory(prefix="creelbook-demo-") as folder:
        file = database or Path(folder) / "demo.sqlite"
        settings = Settings(database_url=f"sqlite:///{file}", demo=True)
        engine = open_engine(settings.database_url)
        migrate(engine)
        if first_person(engine) is None:
            load_demo(engine)
        engine.dispose()
        _run(settings, port)


@program.command()
def serve(port: Port = None) -> None:
    """Serve the database that CREELBOOK_DATABASE_URL names."""
    _run(_settings(), port)


@program.command()
def migrate() -> None:
    """Bring the database to the present form."""
    from server.store import migrating
    from server.store.session import open_engine

    settings = _settings()
    migrating.migrate(open_engine(settings.database_url))
    typer.echo("The database has every migration.")


@program.command()
def check() -> None:
    """Say whether settings, database and SQLite are fit to be relied on."""
    from server.store import migrating
    from server.store.session import is_alive, open_engine, sqlite_version, wal_is_sound

    settings = _settings()
    engine = open_engine(settings.database_url)
    faults = []
    if not is_alive(engine):
        faults.append("The database does not answer; check CREELBOOK_DATABASE_URL.")
    elif not migrating.is_current(engine):
        faults.append("Migrations are missing; run: creelbook migrate")
    if engine.dialect.name == "sqlite" and not wal_is_sound(sqlite_version()):
        version = ".".join(str(part) for part in sqlite_version())
        typer.echo(
            f"Note: SQLite {version} can damage a write-ahead log, so the plain journal is used. "
            "Install pysqlite3 for a newer SQLite."
        )
    for fault in faults:
        typer.echo(fault, err=True)
    if faults:
        raise typer.Exit(1)
    typer.echo("Settings and database are in order.")


def _settings() -> Settings:
    from pydantic import ValidationError

    from server.settings import Settings

    try:
        return Settings()
    except ValidationError as wrong:
        for error in wrong.errors():
            where = ".".join(str(part) for part in error["loc"])
            typer.echo(
                f"CREELBOOK_{where.upper()}: {error['msg']}" if where else error["msg"], err=True
            )
        raise typer.Exit(2) from wrong


def _run(settings: Settings, port: int | None) -> None:
    import socket

    import uvicorn

    from server.app import create_app

    wanted = settings.port if port is None else port
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((settings.host, wanted))
    except OSError as taken:
        typer.echo(
            f"Port {wanted} is taken; choose another with --port, or 0 for a free one.", err=True
        )
        raise typer.Exit(1) from taken
    host = f"[{settings.host}]" if ":" in settings.host else settings.host
    app = create_app(settings)
    listener.listen(128)  # a browser that is quick waits instead of being refused
    typer.echo(f"Creelbook is at http://{host}:{listener.getsockname()[1]}/  (Ctrl+C ends it)")
    config = uvicorn.Config(
        app,
        log_level="warning",
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=10,
        limit_concurrency=200,
    )
    uvicorn.Server(config).run(sockets=[listener])


def main() -> None:
    """Entry point of the installed program."""
    program()


if __name__ == "__main__":
    main()
