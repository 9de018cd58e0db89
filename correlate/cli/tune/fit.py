"""``correlate tune fit``: surrogates, and which parameters influence which outcomes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import click
import numpy as np

from correlate.cli.tune.options import tuning_argument

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from correlate.tuning.definition import TuningGoal
    from correlate.tuning.runs import RunTable
    from correlate.tuning.surrogate import Surrogate

MOST_CHANNELS: Final = 10
"""Channels that are shown unasked: those whose ratings differ most between the runs."""


@click.command()
@tuning_argument
@click.option("--outcome", "outcomes", multiple=True, metavar="NAME", help="Only this; may be repeated.")
@click.option("--all", "every", is_flag=True, help="Every rating, component and feature; takes minutes.")
@click.option("--seed", type=int, default=0, show_default=True, help="Of the sampling.")
def command(*, tuning_file: Path, outcomes: tuple[str, ...], every: bool, seed: int) -> None:
    """Fit surrogates to the finished runs of TUNING, and show how reliable they are.

    For each: the share of the variance that is predicted for left-out runs (Q²), the coverage of its
    intervals, and the most influential parameters with their total Sobol' index.
    """
    from rich.console import Console  # noqa: PLC0415 - help must stay quick

    from correlate.report.tuning_fit_terminal import print_fit  # noqa: PLC0415
    from correlate.tuning.definition import load_tuning  # noqa: PLC0415
    from correlate.tuning.screening import screen, trajectories  # noqa: PLC0415
    from correlate.tuning.sensitivity import sensitivities  # noqa: PLC0415
    from correlate.tuning.state import read_state, run_table  # noqa: PLC0415

    tuning = load_tuning(tuning_file)
    table = run_table(tuning, read_state(tuning))
    names = outcomes or chosen_outcomes(table, tuning.goal, every=every)
    surrogates = _fitted(table, names)
    moved = sensitivities([one for one in surrogates if not one.flat], seed=seed)
    complete = [rows for rows in trajectories(table) if table.done[rows].all()]
    screened = [screen(table, name, seed=seed) for name in tuning.goal.outcomes] if len(complete) > 1 else []
    print_fit(Console(highlight=False), surrogates, moved, screened)


def chosen_outcomes(table: RunTable, goal: TuningGoal, *, every: bool) -> list[str]:
    """Return the outcomes to fit: of the goal and its limits, of the load cases, of the channels that differ.

    Parameters
    ----------
    table
        Of the runs.
    goal
        Of the project.
    every
        All others, too.

    Returns
    -------
    list of str
    """
    from correlate.tuning.limits import needed_outcomes  # noqa: PLC0415
    from correlate.tuning.runs import HELD_OUT, TRAIN  # noqa: PLC0415

    needed = needed_outcomes(table, goal)
    ratings = [name for name in (TRAIN, HELD_OUT) if name in table.outcomes]
    cases = [name for name in table.outcomes if name.startswith("load case/")]
    rest = [name for name in table.outcomes if not name.startswith(("spread/", "window/"))] if every else ()
    return list(dict.fromkeys([*needed, *ratings, *cases, *_differing_channels(table), *rest]))


def _differing_channels(table: RunTable) -> list[str]:
    """Name the channels whose ratings differ most between the finished runs; those of one value never do."""
    channels = [name for name in table.outcomes if name.startswith("channel/")]
    spread = {name: float(np.nanstd(table.outcomes[name][table.done])) for name in channels}
    moving = [name for name in channels if spread[name] > 0]
    return sorted(moving, key=lambda name: -spread[name])[:MOST_CHANNELS]


def _fitted(table: RunTable, names: Sequence[str]) -> list[Surrogate]:
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import track  # noqa: PLC0415

    from correlate.tuning.surrogate import fit_surrogate  # noqa: PLC0415

    console = Console(stderr=True)
    shown = track(names, "fitting", console=console, transient=True, disable=not console.is_terminal)
    return [fit_surrogate(table, name) for name in shown]
