"""``correlate tune design``: choose the first design points."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from correlate.cli.tune.options import tuning_argument
from correlate.errors import SettingsError

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.tuning.definition import Tuning
    from correlate.tuning.design import DesignKind


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
def command(
    *, tuning_file: Path, kind: DesignKind, runs: int | None, add: int | None, seed: int, replace: bool
) -> None:
    """Choose design points between the bounds of TUNING, the start point first, and write design.csv.

    The file can be edited: change values, remove or add lines. If the runs are not informative enough, --add
    adds further points to the existing ones.
    """
    from correlate.tuning.definition import load_tuning  # noqa: PLC0415 - help must stay quick

    tuning = load_tuning(tuning_file)
    _refuse_what_cannot_run(tuning)
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
    from correlate.tuning.design import design  # noqa: PLC0415
    from correlate.tuning.points import write_points  # noqa: PLC0415

    _refuse_to_overwrite(tuning, replace=replace)
    points = design(tuning.space, kind=kind, runs=runs, seed=seed)
    write_points(tuning.design_file, tuning.space, points)
    click.echo(f"{len(points)} points of {len(tuning.space.names)} parameters in {tuning.design_file}")
    if len(points) < runs:
        click.echo(f"{runs} were requested; complete trajectories give {len(points)}")


def _add(tuning: Tuning, *, runs: int, seed: int) -> None:
    from correlate.tuning.design import further_points  # noqa: PLC0415
    from correlate.tuning.points import read_points, write_points  # noqa: PLC0415

    points = read_points(tuning.design_file, tuning.space)
    added = further_points(tuning.space, points, runs=runs, seed=seed)
    write_points(tuning.design_file, tuning.space, [*points, *added])
    click.echo(f"{added[0].identity} to {added[-1].identity} added to {tuning.design_file}")


def _refuse_what_cannot_run(tuning: Tuning) -> None:
    """Refuse load cases that the campaign lacks and fields that are no parameters, as a run would."""
    from correlate.campaign import load_campaign  # noqa: PLC0415
    from correlate.tuning.deck import DeckWriter  # noqa: PLC0415
    from correlate.tuning.rating import checked_cases  # noqa: PLC0415

    checked_cases(tuning, load_campaign(tuning.campaign_file))
    DeckWriter(tuning)


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
