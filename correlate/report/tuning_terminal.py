"""Tuning in the terminal: the runs, and the change list of a release."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from rich.table import Table
from rich.text import Text

from correlate.errors import SettingsError
from correlate.plots.wording import CAUTION
from correlate.report.tuning_data import percent_words
from correlate.tuning.limits import best_row, broken_limits
from correlate.tuning.runs import HELD_OUT, STATUSES, TRAIN, outcome_name

if TYPE_CHECKING:
    from rich.console import Console

    from correlate.tuning.definition import TuningGoal
    from correlate.tuning.release import TunedRelease
    from correlate.tuning.runs import RunTable
    from correlate.tuning.state import TuningState

NONE = "–"


def print_runs(console: Console, table: RunTable, state: TuningState, goal: TuningGoal) -> None:
    """Print one line per design point, then why runs are not done.

    Parameters
    ----------
    console
        Where to.
    table
        Of the runs.
    state
        Their records.
    goal
        Names the load cases that are held out.
    """
    held_out = [(outcome_name("load case", name), name) for name in goal.held_out]
    columns = [*((name, name) for name in goal.outcomes), (TRAIN, TRAIN), (HELD_OUT, HELD_OUT), *held_out]
    shown = {name: words for name, words in dict(columns).items() if name in table.outcomes}
    grid = Table(box=None, padding=(0, 2, 0, 0))
    for word in ("point", "round", "ended", *shown.values()):
        grid.add_column(word, overflow="fold")
    best = _best(table, goal)
    for row, identity in enumerate(table.identities):
        numbers = [_number(float(table.outcomes[name][row])) for name in shown]
        style = "bold" if row == best else ""
        grid.add_row(Text(identity), str(table.rounds[row]), table.status[row], *numbers, style=style)
    console.print(grid)
    _print_reasons(console, state)
    _print_broken_limits(console, table, goal)
    counts = [f"{table.status.count(status)} {status}" for status in STATUSES if status in table.status]
    console.print(f"{len(table)} points: {', '.join(counts)}.")
    if best is not None:
        console.print(f"Best so far within the limits, by {goal.objective}: {table.identities[best]}.")
    console.print(CAUTION, style="dim")


def print_release(console: Console, release: TunedRelease) -> None:
    """Print what a release changes and what that bought.

    Parameters
    ----------
    console
        Where to.
    release
        The change list.
    """
    changes = Table(box=None, padding=(0, 2, 0, 0))
    for word in ("parameter", "old", "new", "change", ""):
        changes.add_column(word)
    for one in release.changes:
        changes.add_row(
            Text(f"{one.name} [{one.unit}]"),
            f"{one.old:g}",
            f"{one.new:g}",
            percent_words(one.percent),
            "at a bound" if one.at_bound else "",
        )
    gains = Table(box=None, padding=(0, 2, 0, 0))
    for word in ("what it bought", "old", "new", "change"):
        gains.add_column(word)
    for gain in release.gains:
        gains.add_row(Text(gain.outcome), f"{gain.old:.3f}", f"{gain.new:.3f}", f"{gain.change:+.3f}")
    console.print(changes)
    console.print(gains)
    for loss in release.losses:
        console.print(Text(f"Limit violated: {loss}"), style="bold")
    console.print(CAUTION, style="dim")


def _best(table: RunTable, goal: TuningGoal) -> int | None:
    """Return the row of the best run within the limits; None for several objectives, or without one."""
    if len(goal.outcomes) > 1 or goal.outcomes[0] not in table.outcomes:
        return None
    try:
        return best_row(table, goal)
    except SettingsError:
        return None  # the start is not done, or nothing keeps the limits


def _print_broken_limits(console: Console, table: RunTable, goal: TuningGoal) -> None:
    try:
        broken = broken_limits(table, goal)
    except SettingsError:
        return  # the start is not done, so there is nothing to compare with yet
    for limit, rows in broken:
        names = ", ".join(table.identities[row] for row in rows)
        console.print(Text(f"'{limit.outcome}' is below its limit of {limit.least:.3f} in {names}."))


def _print_reasons(console: Console, state: TuningState) -> None:
    for point in state.points:
        record = state.records.get(point.identity)
        if record is not None and record.message:
            console.print(Text(f"{point.identity} {record.status}: {record.message}"))
            for line in record.log_tail[-3:]:
                console.print(Text(f"    {line}"), style="dim")


def _number(value: float) -> str:
    return NONE if math.isnan(value) else f"{value:.3f}"
