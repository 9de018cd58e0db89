"""Serve a project on this machine: ``python -m dashboard FOLDER [--port N]``."""

from __future__ import annotations

import errno
import socket
from contextlib import ExitStack, suppress
from pathlib import Path
from typing import Final

import click

from correlate import CorrelateError, interruptible, may_write, need_extra, run_program

ADDRESS: Final = "127.0.0.1"
ADDRESS_6: Final = "::1"
DEFAULT_PORT: Final = 8050
FORMER_JOBS: Final = ".jobs"
"""Folder of a project in which earlier versions kept their jobs."""

THREADS: Final = 8
"""Requests answered at a time."""


@click.command()
@click.argument("folder", type=click.Path(exists=True, file_okay=False, path_type=Path))
@click.option(
    "--port",
    type=click.IntRange(1, 65535),
    default=DEFAULT_PORT,
    show_default=True,
    help="Port to serve on; if the default port is in use, a free one is used.",
)
@interruptible
def main(folder: Path, port: int) -> None:
    """Show the project in FOLDER in a browser on this machine."""
    try:
        need_extra("dashboard")
    except CorrelateError as error:
        raise click.ClickException(str(error)) from None
    from correlate.private_folder import project_state_folder, refuse_inside  # noqa: PLC0415 - so that --help is quick
    from dashboard.access.gate import OneMachine, install, reception_of  # noqa: PLC0415
    from dashboard.access.local_key import LocalKey  # noqa: PLC0415
    from dashboard.access.slots import SlotLimits, limit_expensive  # noqa: PLC0415
    from dashboard.app import create_app  # noqa: PLC0415
    from dashboard.connections import (  # noqa: PLC0415
        ConnectionLimits,
        limited_server,
        prepare_for_threads,
    )
    from dashboard.jobs import Jobs, offer_jobs  # noqa: PLC0415
    from dashboard.jobs.worker_process import worker  # noqa: PLC0415
    from dashboard.uploads import UploadLimits, limit_uploads  # noqa: PLC0415

    prepare_for_threads()
    listening = listen(port)
    project = folder.resolve()
    app = create_app(project)
    key = LocalKey(port=listening[0].getsockname()[1])
    install(app, OneMachine(app, key))
    limit_uploads(app, UploadLimits())
    limit_expensive(app, SlotLimits.for_threads(THREADS))
    server = limited_server(
        app.server,
        listening[0],
        threads=THREADS,
        reception=reception_of(app),
        # Everybody who asks here has the same address.
        limits=ConnectionLimits(exempt=frozenset({ADDRESS, ADDRESS_6})),
    )
    for further in listening[1:]:
        server.listen_too(further)
    with ExitStack() as beside:
        try:
            _need_permission(project)
            folder_of_jobs = project_state_folder(project, "jobs")
            refuse_inside(folder_of_jobs, project)
            jobs = Jobs(folder_of_jobs)
            offer_jobs(app, jobs)
            told = ["--project", str(project), "--folder", str(folder_of_jobs)]
            beside.enter_context(worker(told, gave_up=jobs.lose_worker))
        except CorrelateError as error:
            # A project that may only be read can be looked at all the same; its pages say so, too.
            click.echo(f"no work in the background: {error}", err=True)
        _say_what_is_ignored(project)
        click.echo(f"{folder}: open http://{ADDRESS}:{key.port}/{key.query} (Ctrl+C ends it)")
        server.run()


def _need_permission(project: Path) -> None:
    """Refuse jobs in an archive, where not even a jobs table that is there is opened."""
    if not may_write(project):
        raise CorrelateError("the project is read-only", where=str(project))


def _say_what_is_ignored(project: Path) -> None:
    """Say that the jobs of an earlier version, which lay in the project, are not used."""
    if (project / FORMER_JOBS).exists():
        click.echo(f"{project / FORMER_JOBS} is not used and not opened; it may be deleted", err=True)


def listen(port: int) -> list[socket.socket]:
    """Take a port of this machine under both of its addresses; nobody elsewhere can reach it."""
    try:
        return _bound(port)
    except OSError as error:
        if port != DEFAULT_PORT:
            raise click.ClickException(
                f"port {port} cannot be used ({error.strerror}); give another port, or omit --port"
            ) from None
    click.echo(f"port {port} is in use; using a free port")
    for _ in range(_ATTEMPTS):
        # A port that is free under one address may be in use under the other.
        with suppress(OSError):
            return _bound(0)
    raise click.ClickException("no free port was found; give one with --port")


_ATTEMPTS: Final = 20


def _bound(port: int) -> list[socket.socket]:
    """Listen at 127.0.0.1, and at ::1 where there is one: browsers ask either of them for localhost.

    If another program had the port at ::1, a browser would send it what is meant for this one.
    """
    first = _socket(socket.AF_INET, ADDRESS, port)
    try:
        second = _socket(socket.AF_INET6, ADDRESS_6, first.getsockname()[1])
    except OSError as error:
        if error.errno in _NO_IPV6:
            return [first]
        first.close()
        raise
    return [first, second]


_NO_IPV6: Final = {errno.EADDRNOTAVAIL, errno.EAFNOSUPPORT, errno.EPROTONOSUPPORT}


def _socket(family: socket.AddressFamily, address: str, port: int) -> socket.socket:
    listening = socket.socket(family, socket.SOCK_STREAM)
    try:
        # A port that a server left a moment ago may be taken again.
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind((address, port))
        # At once: two programs that begin together may both bind, but only one of them may listen.
        listening.listen()
    except OSError:
        listening.close()
        raise
    return listening


if __name__ == "__main__":
    run_program(lambda: main(prog_name="python -m dashboard"))
