"""``correlate tune show``: every design point with its status and outcomes."""

from __future__ import annotations

from pathlib import Path

import click

from correlate.cli.tune.options import show_runs, tuning_argument


@click.command()
@tuning_argument
@click.option(
    "--csv",
    "csv_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write one line per point with parameters and all outcomes.",
)
def command(*, tuning_file: Path, csv_file: Path | None) -> None:
    """Show the design points of TUNING, with the status and the outcomes of their runs."""
    from correlate.tuning.definition import load_tuning  # noqa: PLC0415 - help must stay quick

    tuning = load_tuning(tuning_file)
    if csv_file is not None:
        from correlate.files import write_text  # noqa: PLC0415
        from correlate.report.tuning_data import runs_csv  # noqa: PLC0415
        from correlate.tuning.state import read_state, run_table  # noqa: PLC0415

        write_text(csv_file, runs_csv(run_table(tuning, read_state(tuning))))
    show_runs(tuning)
