"""Serve a project to a team: ``python -m dashboard.serving --config server.toml``."""

from __future__ import annotations

import logging
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from correlate import CorrelateError, interruptible, run_program

if TYPE_CHECKING:
    from dash import Dash
    from flask import Flask

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

    from dashboard.accounts import open_accounts  # noqa: PLC0415
    from dashboard.app import create_app  # noqa: PLC0415
    from dashboard.headers import serve_the_world  # noqa: PLC0415
    from dashboard.jobs import Jobs, offer_jobs  # noqa: PLC0415
    from dashboard.shown_paths import ShownPaths, show_no_paths  # noqa: PLC0415
    from dashboard.signing_in import keep_accounts  # noqa: PLC0415
    from dashboard.uploads import UploadLimits, limit_uploads  # noqa: PLC0415

    secret_key, public = settings.secret_key(), settings.public
    app = create_app(settings.project, store=settings.store)
    app.server.secret_key = secret_key
    limits = UploadLimits(bytes=settings.uploads.largest_bytes, files=settings.uploads.most_files)
    limit_uploads(app, limits)
    offer_jobs(app, Jobs(settings.jobs_folder))
    serve_the_world(app, host=public.host, encrypted=public.url.startswith("https://"))
    keep_accounts(
        app, open_accounts(settings.accounts), origin=public.url, session_hours=settings.session_hours
    )
    # Registered last, and therefore called before the answer is compressed.
    folders = [settings.path.absolute().parent, settings.jobs_folder]
    folders += [
        Path(file).parent for file in (settings.store, settings.accounts) if file and "://" not in file
    ]
    show_no_paths(app, ShownPaths(settings.project, folders))
    if public.proxies:
        count = public.proxies
        app.server.wsgi_app = ProxyFix(app.server.wsgi_app, x_for=count, x_proto=count, x_host=count)
    return app


def _serve(config: Path) -> None:
    from waitress import create_server  # noqa: PLC0415 - so that --help is quick

    from dashboard.jobs import jobs_of_server  # noqa: PLC0415
    from dashboard.jobs.worker_process import worker  # noqa: PLC0415
    from dashboard.server_settings import load_settings  # noqa: PLC0415

    settings = load_settings(config)
    # A browser asks for a dozen scripts at once; that they queue for a moment is nothing to report.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    app = server_app(settings)
    try:
        server = create_server(
            app.server,
            host=settings.listen.address,
            port=settings.listen.port,
            threads=settings.listen.threads,
            ident=None,
            max_request_body_size=app.server.config["MAX_CONTENT_LENGTH"],
            # Which of them to believe is decided by `proxies`.
            clear_untrusted_proxy_headers=False,
        )
    except OSError as error:
        place = f"{settings.listen.address}:{settings.listen.port}"
        raise CorrelateError(
            f"the server cannot listen on {place} ({error.strerror})",
            where=str(config),
            remedy="stop the program that uses it, or set another port under [listen]",
        ) from error
    with app.server.app_context():
        jobs = jobs_of_server()
    with worker(["--config", str(config)], gave_up=jobs.lose_worker):
        click.echo(f"{settings.project}: {settings.public.url} (Ctrl+C ends it)")
        server.run()


if __name__ == "__main__":
    run_program(lambda: main(prog_name="correlate serve"))
