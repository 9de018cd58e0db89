"""What the tuning commands share: the file, and the table at the end."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from correlate.tuning.definition import Tuning

tuning_argument = click.argument("tuning_file", metavar="TUNING", type=click.Path(path_type=Path))


def show_runs(tuning: Tuning) -> None:
    """Print where the project stands."""
    from rich.console import Console  # noqa: PLC0415 - help must stay quick

    from correlate.report.tuning_terminal import print_runs  # noqa: PLC0415
    from correlate.tuning.state import read_state, run_table  # noqa: PLC0415

    state = read_state(tuning)
    print_runs(Console(highlight=False), run_table(tuning, state), state, tuning.goal)
