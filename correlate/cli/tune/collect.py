"""``correlate tune collect``: import results of runs made elsewhere."""

from __future__ import annotations

from pathlib import Path

import click

from correlate.cli.tune.options import show_runs, tuning_argument


@click.command()
@tuning_argument
@click.argument("folder", type=click.Path(path_type=Path))
def command(*, tuning_file: Path, folder: Path) -> None:
    """Import the runs in FOLDER, one folder each, and rate them with the campaign of TUNING.

    A run is identified by its deck, or by the values in a file values.json beside the results. If a run
    matches no design point, nothing is imported; points that already have a run keep it.
    """
    from correlate.tuning.collect import collect  # noqa: PLC0415
    from correlate.tuning.definition import load_tuning  # noqa: PLC0415
    from correlate.tuning.missing_runs import rated  # noqa: PLC0415
    from correlate.tuning.rating import RunRater  # noqa: PLC0415 - help must stay quick

    tuning = load_tuning(tuning_file)
    rater = RunRater(tuning)
    found = collect(tuning, folder)
    for record in found.taken:
        rated(tuning, record, rater)
    show_runs(tuning)
    known = f", {len(found.known)} had a run already: {', '.join(found.known)}" if found.known else ""
    click.echo(f"{len(found.taken)} runs imported{known}")
