"""``correlate tune``: design points, their runs, and where the project stands."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final, NoReturn

import click

from correlate.cli.entry import LazyGroup
from correlate.errors import SettingsError
from correlate.extras import need_extra
from correlate.interrupt import INTERRUPTED
from correlate.tuning.runs import LOG

if TYPE_CHECKING:
    from correlate.tuning.definition import Tuning
    from correlate.tuning.missing_runs import Engine, Rater
    from correlate.tuning.points import DesignKind
    from correlate.tuning.runs import RunRecord, TuningState


tuning_argument = click.argument("tuning_file", metavar="TUNING", type=click.Path(path_type=Path))


def show_runs(tuning: Tuning) -> None:
    """Print where the project stands."""
    from rich.console import Console

    from correlate.report.tuning import print_runs
    from correlate.tuning.runs import read_state, run_table

    state = read_state(tuning)
    warn_of_old_ratings(tuning, state)
    print_runs(Console(highlight=False), run_table(tuning, state), state, tuning.goal)


def warn_of_old_ratings(tuning: Tuning, state: TuningState) -> None:
    """Say on the error stream which runs were rated by rules that have changed since."""
    from correlate.errors import CorrelateError
    from correlate.tuning.missing_runs import rated_by_other_rules
    from correlate.tuning.rating import RunRater

    try:
        old = rated_by_other_rules(state, RunRater(tuning))
    except CorrelateError:
        return  # said by what rates
    if old:
        click.echo(
            f"{len(old)} runs were rated before the tuning file, the campaign or its tests changed; "
            "'correlate tune run' rates them again",
            err=True,
        )


@click.command()
@tuning_argument
@click.option(
    "--kind",
    type=click.Choice(["sobol", "latin-hypercube", "morris"]),
    default="sobol",
    show_default=True,
    help="Kind of design; morris is for screening many parameters.",
)
@click.option("--runs", type=int, metavar="N", help="Design points, the start point included.")
@click.option("--add", type=int, metavar="N", help="Further points of a Sobol' sequence; the others stay.")
@click.option("--seed", type=int, default=1, show_default=True, help="Equal seeds give equal designs.")
@click.option("--replace", is_flag=True, help="Replace a design that has no runs yet.")
def design_command(
    *, tuning_file: Path, kind: DesignKind, runs: int | None, add: int | None, seed: int, replace: bool
) -> None:
    """Choose design points between the bounds of TUNING, the start point first, and write design.csv.

    The file can be edited: change values, remove or add lines. If the runs are not informative enough, --add
    adds further points to the existing ones.
    """
    from correlate.tuning.definition import load_tuning
    from correlate.tuning.overview import refuse_what_cannot_run

    tuning = load_tuning(tuning_file)
    refuse_what_cannot_run(tuning)
    if runs is not None and add is None:
        _make(tuning, kind=kind, runs=runs, seed=seed, replace=replace)
    elif add is not None and runs is None and not replace and kind == "sobol":
        _add(tuning, runs=add, seed=seed)
    else:
        raise SettingsError(
            "a design needs either --runs or --add",
            remedy="give one of them; --add goes with --seed alone",
        )


def _make(tuning: Tuning, *, kind: DesignKind, runs: int, seed: int, replace: bool) -> None:
    from correlate.tuning.points import (
        design,
        write_points,
    )

    _refuse_to_overwrite(tuning, replace=replace)
    points = design(tuning.space, kind=kind, runs=runs, seed=seed)
    write_points(tuning.design_file, tuning.space, points)
    click.echo(f"{len(points)} points of {len(tuning.space.names)} parameters in {tuning.design_file}")
    if len(points) < runs:
        click.echo(f"{runs} were requested; complete trajectories give {len(points)}")


def _add(tuning: Tuning, *, runs: int, seed: int) -> None:
    from correlate.tuning.points import add_points

    added = add_points(tuning.design_file, tuning.space, runs=runs, seed=seed)
    click.echo(f"{added[0].identity} to {added[-1].identity} added to {tuning.design_file}")


def _refuse_to_overwrite(tuning: Tuning, *, replace: bool) -> None:
    if not tuning.design_file.exists():
        return
    if any(tuning.runs_folder.glob("*/record.json")):
        raise SettingsError(
            "there are runs of an earlier design",
            where=str(tuning.runs_folder),
            remedy="add points with --add, or move the folder away first",
        )
    if not replace:
        raise SettingsError(
            "there is a design already", where=str(tuning.design_file), remedy="replace it with --replace"
        )


NONE_DONE: Final = 1
"""Exit code when runs were begun and none of them was done."""


@click.command()
@tuning_argument
@click.option(
    "--engine",
    type=click.Choice(["local", "dask", "cluster"]),
    default="local",
    show_default=True,
    help="Run on this machine, through a scheduler, or as jobs of the batch system in TUNING.",
)
@click.option("--scheduler", metavar="ADDRESS", help="Address of the scheduler, for the engine 'dask'.")
@click.option(
    "--at-once",
    type=click.IntRange(min=1),
    metavar="N",
    help="Runs at a time, except with dask.  [default: as in TUNING]",
)
@click.option("--again", is_flag=True, help="Also repeat runs that ended but are not done.")
def run_command(
    *, tuning_file: Path, engine: str, scheduler: str | None, at_once: int | None, again: bool
) -> None:
    """Run the points of design.csv that have no run yet, and rate every run with the campaign of TUNING.

    A run that fails, times out, ends early or is unstable is recorded with the end of its log and does not
    stop the others; if none is done, the exit code is 1. An interrupted command is resumed by the next start.
    """
    from correlate.tuning.definition import load_tuning
    from correlate.tuning.rating import RunRater

    tuning = load_tuning(tuning_file)
    chosen = _engine(tuning, engine, scheduler, at_once)
    try:
        ended = _run_with_bar(tuning, RunRater(tuning), chosen, again=again)
    except KeyboardInterrupt:
        click.echo("stopped; finished runs are kept, and the same command resumes", err=True)
        sys.exit(INTERRUPTED)
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
        from correlate.tuning.missing_runs import dask_engine

        return dask_engine(scheduler)
    if engine == "cluster":
        from correlate.tuning.missing_runs import cluster_engine

        return cluster_engine(tuning.batch_job(at_once))
    from correlate.tuning.missing_runs import local_engine

    program = tuning.run.command[0]
    if "{" not in program and shutil.which(program, path=tuning.run.environment.get("PATH")) is None:
        raise SettingsError(
            f"there is no program '{program}'",
            where=str(tuning.path),
            remedy="correct the first word of 'command', or install it",
        )
    return local_engine(at_once or tuning.run.at_once)


def _run_with_bar(tuning: Tuning, rater: Rater, engine: Engine, *, again: bool) -> list[RunRecord]:
    from rich.console import Console
    from rich.progress import (
        BarColumn,
        MofNCompleteColumn,
        Progress,
        TextColumn,
        TimeRemainingColumn,
    )

    from correlate.tuning.missing_runs import run_missing

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


@click.command()
@tuning_argument
@click.option(
    "--into",
    type=click.Path(path_type=Path),
    required=True,
    metavar="FOLDER",
    help="Target folder; one folder per point is created in it.",
)
def decks_command(*, tuning_file: Path, into: Path) -> None:
    """Write the decks of all points of TUNING that have no run, to be run on another machine.

    Let each run write its results into a folder 'output' beside its deck, copy the folders back, and import
    them with 'correlate tune collect'.
    """
    from correlate.tuning.definition import load_tuning
    from correlate.tuning.missing_runs import write_decks

    written = write_decks(load_tuning(tuning_file), into)
    click.echo(f"{len(written)} decks in {into}")


@click.command()
@tuning_argument
@click.argument("folder", type=click.Path(path_type=Path))
def collect_command(*, tuning_file: Path, folder: Path) -> None:
    """Import the runs in FOLDER, one folder each, and rate them with the campaign of TUNING.

    A run is identified by its deck, or by the values in a file values.json beside the results. If a run
    matches no design point, nothing is imported; points that already have a run keep it.
    """
    from correlate.tuning.definition import load_tuning
    from correlate.tuning.missing_runs import (
        collect,
        rated,
    )
    from correlate.tuning.rating import RunRater

    tuning = load_tuning(tuning_file)
    rater = RunRater(tuning)
    found = collect(tuning, folder)
    for record in found.taken:
        rated(tuning, record, rater)
    show_runs(tuning)
    known = f", {len(found.known)} had a run already: {', '.join(found.known)}" if found.known else ""
    click.echo(f"{len(found.taken)} runs imported{known}")


@click.command()
@tuning_argument
@click.option(
    "--csv",
    "csv_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write one line per point with parameters and all outcomes.",
)
def show_command(*, tuning_file: Path, csv_file: Path | None) -> None:
    """Show the design points of TUNING, with the status and the outcomes of their runs."""
    from correlate.tuning.definition import load_tuning

    tuning = load_tuning(tuning_file)
    if csv_file is not None:
        from correlate.files import write_text
        from correlate.report.tuning import runs_csv
        from correlate.tuning.runs import read_state, run_table

        write_text(csv_file, runs_csv(run_table(tuning, read_state(tuning))))
    show_runs(tuning)


_COMMANDS: Final[dict[str, tuple[str, str]]] = {
    "design": ("correlate.cli.tune", "Choose the first design points."),
    "run": ("correlate.cli.tune", "Run and rate the design points that are missing."),
    "decks": ("correlate.cli.tune", "Write the decks of missing points, to be run elsewhere."),
    "collect": ("correlate.cli.tune", "Import and rate results of runs made elsewhere."),
    "show": ("correlate.cli.tune", "Show every design point, its status and its outcomes."),
    "fit": (
        "correlate.cli.tune_results",
        "Fit surrogates, and show which parameters influence which outcomes.",
    ),
    "propose": ("correlate.cli.tune_results", "Propose the next design points, each with its prediction."),
    "predict": ("correlate.cli.tune_results", "Predict the outcomes of a run without running it."),
    "confirm": ("correlate.cli.tune_results", "Compare proposed runs with their predictions."),
    "cards": ("correlate.cli.tune_cards", "Estimate the parameters from the tests, with intervals."),
    "write": ("correlate.cli.tune_results", "Write a tuned deck as a new release, with its change list."),
}


@click.group(cls=LazyGroup, modules=_COMMANDS, context_settings={"help_option_names": ["-h", "--help"]})
def tune_command() -> None:
    """Raise the rating of a model by tuning its material cards, and prove it on held-out load cases.

    Every command takes TUNING, a tuning file or the folder that holds a tuning.toml.
    """
    need_extra("tuning")
