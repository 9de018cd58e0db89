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
    help="How the points are spread; morris is for screening many parameters.",
)
@click.option("--runs", type=int, required=True, metavar="N", help="Design points, the start point included.")
@click.option("--seed", type=int, default=1, show_default=True, help="Equal seeds make equal designs.")
@click.option("--replace", is_flag=True, help="Replace a design that has no runs yet.")
def command(*, tuning_file: Path, kind: DesignKind, runs: int, seed: int, replace: bool) -> None:
    """Choose design points between the bounds of TUNING, the start point first, and write design.csv.

    The file may be edited: values changed, lines removed or added.
    """
    from correlate.tuning.definition import load_tuning  # noqa: PLC0415 - help must stay quick
    from correlate.tuning.design import design  # noqa: PLC0415
    from correlate.tuning.points import write_points  # noqa: PLC0415

    tuning = load_tuning(tuning_file)
    _refuse_to_overwrite(tuning, replace=replace)
    points = design(tuning.space, kind=kind, runs=runs, seed=seed)
    write_points(tuning.design_file, tuning.space, points)
    click.echo(f"{len(points)} points of {len(tuning.space.names)} parameters in {tuning.design_file}")
    if len(points) < runs:
        click.echo(f"{runs} were asked for; whole trajectories make {len(points)}")


def _refuse_to_overwrite(tuning: Tuning, *, replace: bool) -> None:
    if not tuning.design_file.exists():
        return
    if any(tuning.runs_folder.glob("*/record.json")):
        raise SettingsError(
            "there are runs of an earlier design",
            where=str(tuning.runs_folder),
            remedy="add lines to 'design.csv', or move the folder away first",
        )
    if not replace:
        raise SettingsError(
            "there is a design already", where=str(tuning.design_file), remedy="replace it with --replace"
        )
