"""``correlate tune propose``: the next design points."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from correlate.cli.tune.options import tuning_argument

if TYPE_CHECKING:
    from pathlib import Path


@click.command()
@tuning_argument
@click.option("--runs", type=click.IntRange(min=1), default=8, show_default=True, help="How many.")
@click.option("--seed", type=int, default=0, show_default=True, help="Equal seeds give equal proposals.")
@click.option(
    "--least-q2",
    type=click.FloatRange(0, 1),
    default=0.5,
    show_default=True,
    help="Propose nothing from a surrogate that predicts less than this share of the variance.",
)
@click.option("--dry", is_flag=True, help="Only show them; do not change design.csv.")
def command(*, tuning_file: Path, runs: int, seed: int, least_q2: float, dry: bool) -> None:
    """Propose the next design points of TUNING and add them to design.csv as a new round.

    Each has its predicted rating with the interval that should contain 95 of 100 runs, the probability that
    the limits are met, and its reason. 'correlate tune run' runs them, 'correlate tune confirm' shows whether
    the predictions held.
    """
    from rich.console import Console  # noqa: PLC0415 - help must stay quick

    from correlate.report.tuning_fit_terminal import print_proposals  # noqa: PLC0415
    from correlate.tuning.batches import add_batch  # noqa: PLC0415
    from correlate.tuning.definition import load_tuning  # noqa: PLC0415
    from correlate.tuning.limits import needed_outcomes  # noqa: PLC0415
    from correlate.tuning.proposals import propose  # noqa: PLC0415
    from correlate.tuning.state import read_state, run_table  # noqa: PLC0415
    from correlate.tuning.surrogate import fit_surrogates  # noqa: PLC0415

    tuning = load_tuning(tuning_file)
    state = read_state(tuning)
    table = run_table(tuning, state)
    surrogates = fit_surrogates(table, needed_outcomes(table, tuning.goal))
    proposals = propose(table, surrogates, tuning.goal, runs, seed, least_q2=least_q2)
    print_proposals(Console(highlight=False), tuning.space, tuning.goal, proposals)
    if dry:
        click.echo("nothing was written")
        return
    added = add_batch(tuning, state, proposals)
    click.echo(f"round {added[0].round}: {added[0].identity} to {added[-1].identity} in {tuning.design_file}")
