"""The worker: ``python -m dashboard.jobs --config server.toml``, started by the server or beside it."""

from __future__ import annotations

import fcntl
import os
import signal
import sys
import threading
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from correlate import CorrelateError
from dashboard.jobs.queue import JobQueue
from dashboard.jobs.records import JobRecords
from dashboard.jobs.running import Runner
from dashboard.jobs.work import Place

if TYPE_CHECKING:
    from collections.abc import Iterator

WRONG_INPUT: Final = 2
"""Exit code when the settings cannot be used."""


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
            place = Place(project=settings.project, store=settings.store, processes=settings.job_processes)
            work(place, settings.jobs_folder, at_once=settings.jobs_at_once, with_parent=with_parent)
        elif project is not None and folder is not None:
            work(Place(project=project), folder, at_once=1, with_parent=with_parent)
        else:
            raise click.UsageError("name the settings of the server with --config")
    except CorrelateError as error:
        click.echo(f"correlate: {error}", err=True)
        sys.exit(WRONG_INPUT)


def work(place: Place, folder: Path, *, at_once: int, with_parent: bool) -> None:
    """Do jobs until this process is interrupted.

    Parameters
    ----------
    place
        Where they are done.
    folder
        Of the queue and the records.
    at_once
        Jobs that run at a time.
    with_parent
        End when the standard input is closed, which happens however the program that started this one ends;
        and wait for the end of another worker that has the folder.

    Raises
    ------
    CorrelateError
        Another worker has the folder.
    """
    signal.signal(signal.SIGTERM, _as_interrupt)
    if with_parent:
        threading.Thread(target=_end_with_parent, daemon=True).start()
    with suppress(KeyboardInterrupt):
        runner = Runner(records=JobRecords(folder), place=place)
        with _alone(folder, patient=with_parent):
            runner.give_up_lost()
            _do_jobs(JobQueue(folder, runner.run), runner, at_once)


def _do_jobs(queue: JobQueue, runner: Runner, at_once: int) -> None:
    consumer = queue.huey.create_consumer(
        workers=at_once, worker_type="thread", periodic=False, initial_delay=0.05, max_delay=0.3
    )
    try:
        consumer.start()
        # The signals stay ours: whatever ends this process, jobs learn of it at their next step.
        signal.signal(signal.SIGTERM, _as_interrupt)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        threading.Event().wait()
    finally:
        runner.stopping.set()
        consumer.stop(graceful=True)


def _as_interrupt(number: int, frame: object) -> None:  # noqa: ARG001 - the signature is the system's
    raise KeyboardInterrupt


def _end_with_parent() -> None:
    # Not through the buffer of Python, which the end of the process would wait for.
    while os.read(sys.stdin.fileno(), 1024):
        pass
    os.kill(os.getpid(), signal.SIGTERM)


@contextmanager
def _alone(folder: Path, *, patient: bool) -> Iterator[None]:
    """Hold the folder: two workers would take each other's jobs for lost."""
    with (folder / "worker.lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | (0 if patient else fcntl.LOCK_NB))
        except BlockingIOError:
            raise CorrelateError(
                "another worker is using this job folder",
                where=str(folder),
                remedy="stop it, or set another folder under [jobs]",
            ) from None
        yield


if __name__ == "__main__":
    main(prog_name="python -m dashboard.jobs")
