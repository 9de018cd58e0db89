"""``correlate tune decks``: decks of the missing points, to be run elsewhere."""

from __future__ import annotations

from pathlib import Path

import click

from correlate.cli.tune.options import tuning_argument


@click.command()
@tuning_argument
@click.option(
    "--into",
    type=click.Path(path_type=Path),
    required=True,
    metavar="FOLDER",
    help="Target folder; one folder per point is created in it.",
)
def command(*, tuning_file: Path, into: Path) -> None:
    """Write the decks of all points of TUNING that have no run, to be run on another machine.

    Let each run write its results into a folder 'output' beside its deck, copy the folders back, and import
    them with 'correlate tune collect'.
    """
    from correlate.tuning.collect import write_decks  # noqa: PLC0415 - help must stay quick
    from correlate.tuning.definition import load_tuning  # noqa: PLC0415

    written = write_decks(load_tuning(tuning_file), into)
    click.echo(f"{len(written)} decks in {into}")
