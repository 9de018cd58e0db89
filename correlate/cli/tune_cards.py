"""``correlate tune cards``: intervals of the parameters from the tests, and model discrepancy."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from correlate.cli.tune import tuning_argument

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.tuning.cards import CardsPosterior
    from correlate.tuning.definition import Tuning


@click.command()
@tuning_argument
@click.option("--seed", type=int, default=0, show_default=True, help="Of the sampling.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the tables.")
def cards_command(*, tuning_file: Path, seed: int, as_json: bool) -> None:
    """Estimate the parameters of TUNING from the tests, and show where the model cannot match them.

    For each parameter: the interval that contains its value with a probability of 95 %, allowing for model
    discrepancy, the scatter of the tests and the errors of the emulated curves. Then the parameters and
    combinations of parameters that the tests do not determine, and the stretches where the tests differ from
    the best-fit curve by more than chance. The result is saved as cards.json.
    """
    from rich.console import Console

    from correlate.tuning.definition import load_tuning

    tuning = load_tuning(tuning_file)
    found = _cards_of_project(tuning, seed=seed)
    if as_json:
        import json

        from correlate.tuning.cards import cards_content

        click.echo(json.dumps(cards_content(found), indent=2))
        return
    from correlate.report.tuning_cards import print_cards

    print_cards(Console(highlight=False), found)


def _cards_of_project(tuning: Tuning, *, seed: int) -> CardsPosterior:
    """Estimate the parameters, and save the result where that is allowed."""
    from rich.console import Console
    from rich.progress import Progress

    from correlate.files import may_write
    from correlate.tuning.cards import FILE, find_cards, write_cards
    from correlate.tuning.runs import read_state

    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as bar:
        task = bar.add_task("estimating the parameters", total=1.0)

        def tell(done: float, words: str) -> None:
            bar.update(task, completed=done, description=words)

        found = find_cards(tuning, read_state(tuning), seed=seed, progress=tell)
    if may_write(tuning.folder):
        write_cards(tuning.folder / FILE, found)
    else:
        click.echo("the project is read-only; the result was not saved", err=True)
    return found
