"""The program of the worker: ``python -P -m dashboard.jobs --config server.toml``."""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from pathlib import Path
from typing import Final

import click

from correlate import CorrelateError
from correlate.child_processes import PARENT_GONE
from correlate.private_folder import refuse_inside
from dashboard.jobs.table import JobTable
from dashboard.jobs.worker import JobSettings, Worker
from dashboard.jobs.worker_process import PATIENCE_S

WRONG_INPUT: Final = 2
"""Exit code when the settings or the jobs table cannot be used."""


@click.command()
@click.option("--config", type=click.Path(path_type=Path), metavar="FILE", help="Settings of the server.")
@click.option(
    "--project", type=click.Path(path_type=Path), metavar="FOLDER", help="Instead of a file: the project …"
)
@click.option(
    "--folder", type=click.Path(path_type=Path), metavar="FOLDER", help="… and the folder of the jobs."
)
@click.option("--with-parent", is_flag=True, help="Stop when the parent process stops.")
def main(config: Path | None, project: Path | None, folder: Path | None, *, with_parent: bool) -> None:
    """Run the jobs of the dashboard until interrupted."""
    try:
        if config is not None:
            from dashboard.server_settings import load_settings  # noqa: PLC0415 - a project has none

            settings = load_settings(config)
            settings.allow_objects()
            job = JobSettings(
                project=settings.project,
                store=settings.store,
                processes=settings.job_processes,
                uploads=settings.uploads.limits,
            )
            work(job, settings.jobs_folder, at_once=settings.jobs_at_once, with_parent=with_parent)
        elif project is not None and folder is not None:
            work(JobSettings(project=project), folder, at_once=1, with_parent=with_parent)
        else:
            raise click.UsageError("name the settings of the server with --config")
    except CorrelateError as error:
        click.echo(f"correlate: {error}", err=True)
        sys.exit(WRONG_INPUT)


def work(place: JobSettings, folder: Path, *, at_once: int, with_parent: bool) -> None:
    """Do jobs until this process is interrupted or, where asked for, its standard input is closed."""
    refuse_inside(folder, place.project)
    worker = Worker(table=JobTable(folder), place=place)

    def stop(number: int, frame: object) -> None:  # noqa: ARG001 - the signature is the system's
        # In a thread, since the signal may come while this one holds the lock of the event.
        threading.Thread(target=worker.stopping.set).start()

    signal.signal(signal.SIGTERM, stop)
    signal.signal(signal.SIGINT, stop)
    if with_parent:
        threading.Thread(target=_stop_with_parent, args=[worker.stopping], daemon=True).start()
    worker.work(at_once)


def _stop_with_parent(stopping: threading.Event) -> None:
    """Stop when the standard input is closed, as it is however the program that started this one ends."""
    # Not through the buffer of Python, which the end of the process would wait for.
    while os.read(sys.stdin.fileno(), 1024):
        pass
    stopping.set()
    # A step may take long, and nobody waits for its result; the next worker marks the job as interrupted.
    time.sleep(PATIENCE_S)
    os._exit(PARENT_GONE)


if __name__ == "__main__":
    main(prog_name="python -m dashboard.jobs")
