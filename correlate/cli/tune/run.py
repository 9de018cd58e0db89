"""``correlate tune run``: run and rate the design points that are missing."""

from __future__ import annotations

import shutil
import sys
from typing import TYPE_CHECKING, Final, NoReturn

import click

from correlate.cli.tune.options import show_runs, tuning_argument
from correlate.errors import SettingsError
from correlate.tuning.record import LOG

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.tuning.definition import Tuning
    from correlate.tuning.engines import Engine
    from correlate.tuning.missing_runs import Rater
    from correlate.tuning.record import RunRecord

NONE_DONE: Final = 1
"""Exit code when runs were begun and none of them was done."""
STOPPED: Final = 130
"""Exit code after Ctrl-C, as shells have it: 128 and the number of the signal."""


@click.command()
@tuning_argument
@click.option(
    "--engine",
    type=click.Choice(["local", "dask"]),
    default="local",
    show_default=True,
    help="Run on this machine, or submit the runs to a scheduler.",
)
@click.option("--scheduler", metavar="ADDRESS", help="Address of the scheduler, for the engine 'dask'.")
@click.option(
    "--at-once",
    type=click.IntRange(min=1),
    metavar="N",
    help="Runs at a time on this machine.  [default: as in TUNING]",
)
@click.option("--again", is_flag=True, help="Also run again what failed, timed out or was unstable.")
def command(
    *, tuning_file: Path, engine: str, scheduler: str | None, at_once: int | None, again: bool
) -> None:
    """Run the points of design.csv that have no run yet, and rate every run with the campaign of TUNING.

    A run that fails, times out or is unstable is recorded with the end of its log and does not stop the
    others; if none is done, the exit code is 1. An interrupted command is resumed by the next start.
    """
    from correlate.tuning.definition import load_tuning  # noqa: PLC0415
    from correlate.tuning.rating import RunRater  # noqa: PLC0415 - help must stay quick

    tuning = load_tuning(tuning_file)
    chosen = _engine(tuning, engine, scheduler, at_once)
    try:
        ended = _run_with_bar(tuning, RunRater(tuning), chosen, again=again)
    except KeyboardInterrupt:
        click.echo("stopped; finished runs are kept, and the same command resumes", err=True)
        sys.exit(STOPPED)
    show_runs(tuning)
    for record in ended:
        if record.status == "waiting":
            click.echo(f"{record.identity} was not run: {record.message}", err=True)
    if ended and not any(record.status == "done" for record in ended):
        _end_without_results(tuning, ended)


def _end_without_results(tuning: Tuning, ended: list[RunRecord]) -> NoReturn:
    lost = [record.identity for record in ended if record.status != "waiting"]
    if lost:
        log = tuning.run_folder(lost[0]) / LOG
        click.echo(f"no run was done; see {log}; 'correlate tune run --again' repeats failed runs", err=True)
    sys.exit(NONE_DONE)


def _engine(tuning: Tuning, engine: str, scheduler: str | None, at_once: int | None) -> Engine:
    if (engine == "dask") != (scheduler is not None):
        raise SettingsError("--engine dask and --scheduler belong together", remedy="give both or neither")
    if scheduler is not None:
        from correlate.tuning.engines import dask_engine  # noqa: PLC0415

        return dask_engine(scheduler)
    from correlate.tuning.engines import local_engine  # noqa: PLC0415

    program = tuning.run.command[0]
    if "{" not in program and shutil.which(program, path=tuning.run.environment.get("PATH")) is None:
        raise SettingsError(
            f"there is no program '{program}'",
            where=str(tuning.path),
            remedy="correct the first word of 'command', or install it",
        )
    return local_engine(at_once or tuning.run.at_once)


def _run_with_bar(tuning: Tuning, rater: Rater, engine: Engine, *, again: bool) -> list[RunRecord]:
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import (  # noqa: PLC0415
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
    )

    from correlate.tuning.missing_runs import run_missing  # noqa: PLC0415

    console = Console(stderr=True)
    columns = (
        TextColumn("running"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("time left"),
        TimeRemainingColumn(),
        TextColumn("{task.fields[last]}"),
    )
    with Progress(*columns, console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task("running", total=None, last="")

        def tell(record: RunRecord, ended: int, total: int) -> None:
            bar.update(task, completed=ended, total=total, last=f"{record.identity} {record.status}")

        return run_missing(tuning, rater, engine=engine, again=again, progress=tell)
