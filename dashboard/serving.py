"""Serve a project to a team: ``python -m dashboard.serving --config server.toml``."""

from __future__ import annotations

import socket
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from correlate import CorrelateError, interruptible, run_program

if TYPE_CHECKING:
    from collections.abc import Callable

    from dash import Dash
    from flask import Flask

    from dashboard.health import Health
    from dashboard.jobs import Jobs
    from dashboard.server_settings import ServerSettings

WRONG_INPUT: Final = 2
"""Exit code when the settings cannot be used."""


@click.command()
@click.option(
    "--config",
    type=click.Path(path_type=Path, dir_okay=False),
    default=Path("server.toml"),
    show_default=True,
    metavar="FILE",
    help="Settings of the server.",
)
@interruptible
def main(config: Path) -> None:
    """Serve the project that FILE names, with accounts, and run its jobs."""
    try:
        _serve(config)
    except CorrelateError as error:
        click.echo(f"correlate: {error}", err=True)
        sys.exit(WRONG_INPUT)


def wsgi(config: str = "server.toml") -> Flask:
    """Return the application for a WSGI server other than the built-in one.

    The worker of the jobs is started beside it: ``python -P -m dashboard.jobs --config server.toml``.
    """
    from dashboard.server_settings import load_settings  # noqa: PLC0415

    server: Flask = server_app(load_settings(Path(config))).server
    return server


def server_app(settings: ServerSettings) -> Dash:
    """Build the application of a server."""
    from werkzeug.middleware.proxy_fix import ProxyFix  # noqa: PLC0415 - so that --help is quick

    from dashboard.access.slots import SlotLimits, limit_expensive  # noqa: PLC0415
    from dashboard.accounts import check_accounts, open_accounts  # noqa: PLC0415
    from dashboard.app import create_app  # noqa: PLC0415
    from dashboard.headers import serve_the_world  # noqa: PLC0415
    from dashboard.health import offer_health  # noqa: PLC0415
    from dashboard.jobs import Jobs, offer_jobs  # noqa: PLC0415
    from dashboard.proxies import watch_proxies  # noqa: PLC0415
    from dashboard.shown_paths import ShownPaths, show_no_paths  # noqa: PLC0415
    from dashboard.signing_in import HeaderOfProxy, keep_accounts  # noqa: PLC0415
    from dashboard.uploads import UploadLimits, limit_uploads  # noqa: PLC0415

    settings.allow_objects()
    secret_key, public = settings.secret_key(), settings.public
    app = create_app(settings.project, store=settings.store)
    app.server.secret_key = secret_key
    limits = UploadLimits(bytes=settings.uploads.largest_bytes, files=settings.uploads.most_files)
    limit_uploads(app, limits)
    jobs, accounts = Jobs(settings.jobs_folder), open_accounts(settings.accounts)
    offer_jobs(app, jobs)
    offer_health(app, _health_of(settings, jobs, lambda: check_accounts(accounts)))
    serve_the_world(app, host=public.host, encrypted=public.url.startswith("https://"))
    keep_accounts(
        app,
        accounts,
        origin=public.url,
        settings=settings.sign_in,
        client_secret=settings.client_secret(),
    )
    # Registered last, and therefore called before the answer is compressed.
    folders = [settings.path.absolute().parent, settings.jobs_folder]
    folders += [
        Path(file).parent for file in (settings.store, settings.accounts) if file and "://" not in file
    ]
    show_no_paths(app, ShownPaths(settings.project, folders))
    limit_expensive(app, SlotLimits.for_threads(settings.listen.threads))
    if public.proxies:
        count = public.proxies
        app.server.wsgi_app = ProxyFix(app.server.wsgi_app, x_for=count, x_proto=count, x_host=count)
    watch_proxies(app.server, public.proxies)
    if settings.sign_in.header is not None:
        # Outermost: the layer inside replaces the address of the proxy by that of the browser.
        app.server.wsgi_app = HeaderOfProxy(app.server.wsgi_app, settings.sign_in.header)
    return app


def _health_of(settings: ServerSettings, jobs: Jobs, accounts: Callable[[], None]) -> Health:
    """Return what monitoring is told: without accounts or results nobody can use the server."""
    from correlate import check_store  # noqa: PLC0415
    from dashboard.health import Health, database_part, disk_part, worker_part  # noqa: PLC0415

    store = settings.store or settings.project / "ratings.sqlite"
    return Health(
        {
            "worker": (lambda: worker_part(jobs.activity()), "degraded"),
            "results": (lambda: database_part(lambda: check_store(store)), "down"),
            "accounts": (lambda: database_part(accounts), "down"),
            "disk": (lambda: disk_part(settings.written_folders), "degraded"),
        }
    )


def _serve(config: Path) -> None:
    from dashboard.access.gate import reception_of  # noqa: PLC0415 - so that --help is quick
    from dashboard.connections import limited_server, prepare_for_threads  # noqa: PLC0415
    from dashboard.jobs import jobs_of_server  # noqa: PLC0415
    from dashboard.jobs.worker_process import worker  # noqa: PLC0415
    from dashboard.server_settings import load_settings  # noqa: PLC0415

    settings = load_settings(config)
    prepare_for_threads()
    app = server_app(settings)
    server = limited_server(
        app.server,
        _listening(settings, config),
        threads=settings.listen.threads,
        reception=reception_of(app),
        limits=settings.connection_limits(),
    )
    with app.server.app_context():
        jobs = jobs_of_server()
    with worker(["--config", str(config)], gave_up=jobs.lose_worker):
        click.echo(f"{settings.project}: {settings.public.url} (Ctrl+C ends it)")
        server.run()


def _listening(settings: ServerSettings, config: Path) -> socket.socket:
    """Return the socket that users reach, or the proxy in front of them."""
    address, port = settings.listen.address, settings.listen.port
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    try:
        return socket.create_server((address, port), family=family)
    except OSError as error:
        raise CorrelateError(
            f"the server cannot listen on {address}:{port} ({error.strerror})",
            where=str(config),
            remedy="stop the program that uses it, or set another port under [listen]",
        ) from error


if __name__ == "__main__":
    run_program(lambda: main(prog_name="correlate serve"))
