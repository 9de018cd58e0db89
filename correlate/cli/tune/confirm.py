"""``correlate tune confirm``: whether predictions came true, and whether the gain is real."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from correlate.cli.tune.options import tuning_argument

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.statistics import Estimate
    from correlate.tuning.definition import Tuning
    from correlate.tuning.guards import Gain
    from correlate.tuning.runs import RunTable


@click.command()
@tuning_argument
@click.option(
    "--round", "round_number", type=click.IntRange(min=1), metavar="N", help="The batch.  [default: the last]"
)
@click.option("--seed", type=int, default=0, show_default=True, help="Of the sampling.")
def command(*, tuning_file: Path, round_number: int | None, seed: int) -> None:
    """Rate the runs of a proposed batch of TUNING and show whether the predictions held.

    Also show every round with its held-out load cases, whether the gain exceeds the scatter of the tests from
    one repeat to the next, which parameters are at a bound, and which the runs cannot distinguish.
    """
    from rich.console import Console  # noqa: PLC0415 - help must stay quick

    from correlate.report.tuning_fit_terminal import print_confirmation  # noqa: PLC0415
    from correlate.tuning.batches import last_round, read_batch  # noqa: PLC0415
    from correlate.tuning.confirmation import confirm  # noqa: PLC0415
    from correlate.tuning.definition import load_tuning  # noqa: PLC0415
    from correlate.tuning.guards import bound_words, rounds_of  # noqa: PLC0415
    from correlate.tuning.limits import best_row  # noqa: PLC0415
    from correlate.tuning.missing_runs import rate_unrated  # noqa: PLC0415
    from correlate.tuning.rating import RunRater  # noqa: PLC0415
    from correlate.tuning.state import read_state, run_table  # noqa: PLC0415

    tuning = load_tuning(tuning_file)
    state = read_state(tuning)
    rate_unrated(tuning, state, RunRater(tuning))
    table = run_table(tuning, read_state(tuning))
    number = round_number or last_round(state)
    until = table.select(table.rounds <= number)
    found = confirm(table.select(table.rounds < number), until, read_batch(tuning, number), tuning.goal)
    best = best_row(table, tuning.goal)
    gain = gain_of(tuning, table)
    console = Console(highlight=False)
    print_confirmation(console, until, found, rounds_of(table, tuning.goal), tuning.goal)
    console.print(f"Best run: {table.identities[best]}; {gain.words}.")
    near = _near_best_words(tuning, table, gain.estimate, seed=seed)
    for words in (*bound_words(tuning.space, table.points[best]), *near):
        console.print(f"{words[:1].upper()}{words[1:]}.")


def gain_of(tuning: Tuning, table: RunTable) -> Gain:
    """Compare the rise of the training rating with chance between the repeats of the tests.

    Parameters
    ----------
    tuning
        The project.
    table
        Of the runs.

    Returns
    -------
    Gain
    """
    from correlate.campaign import load_campaign  # noqa: PLC0415
    from correlate.tuning.guards import Gain, gain_over_repeats  # noqa: PLC0415
    from correlate.tuning.limits import best_row, start_row  # noqa: PLC0415
    from correlate.tuning.rating import checked_cases  # noqa: PLC0415
    from correlate.tuning.runs import TRAIN  # noqa: PLC0415

    best, start = best_row(table, tuning.goal), start_row(table)
    cases = checked_cases(tuning, load_campaign(tuning.campaign_file))
    weights = {case.name: case.weight for case in cases if case.name in tuning.goal.train}
    train = table.outcome(TRAIN)
    return Gain(
        before=float(train[start]),
        after=float(train[best]),
        estimate=gain_over_repeats(_by_repeat(table, start), _by_repeat(table, best), weights),
    )


def _by_repeat(table: RunTable, row: int) -> dict[str, dict[str, float]]:
    """Return the rating of each repeat of a run, by load case."""
    found: dict[str, dict[str, float]] = {}
    for name, values in table.outcomes.items():
        kind, _, rest = name.partition("/")
        if kind == "repeat" and values[row] == values[row]:
            case, _, repeat = rest.partition("/")
            found.setdefault(case, {})[repeat] = float(values[row])
    return found


def _near_best_words(tuning: Tuning, table: RunTable, gain: Estimate | None, *, seed: int) -> tuple[str, ...]:
    """Say which parameters the runs cannot tell, by the surrogate of the first outcome to raise."""
    from correlate.tuning.limits import best_row  # noqa: PLC0415
    from correlate.tuning.near_optimal import near_optimal  # noqa: PLC0415
    from correlate.tuning.surrogate import fit_surrogate, untrusted  # noqa: PLC0415

    if gain is None:
        return ("with one repeat per load case, undetermined parameters cannot be identified",)
    surrogate = fit_surrogate(table, tuning.goal.outcomes[0])
    if untrusted(surrogate):
        told = f"the surrogate predicts too little (Q² {surrogate.q2:.2f})"
        return (f"{told} to identify undetermined parameters",)
    best = table.points[best_row(table, tuning.goal)]
    return near_optimal(tuning.space, surrogate.mean_cube, best, gain.half_width(), seed=seed).words
