"""What a proposal must keep: held-out load cases and qualification windows, as the start has them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import SettingsError
from correlate.tuning.runs import outcome_name

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.tuning.definition import TuningGoal
    from correlate.tuning.runs import RunTable

_ROUNDING: Final = 1e-9
_SAME: Final = 1e-4
"""Largest distance from the start point, in sides of the cube, that counts as rounding in a file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """An outcome that may not fall below a value.

    Attributes
    ----------
    outcome
        Its name.
    least
        The value.
    start
        What the start point has.
    """

    outcome: str
    least: float
    start: float


def start_row(table: RunTable) -> int:
    """Return the row of the start point.

    Parameters
    ----------
    table
        Of the runs.

    Returns
    -------
    int

    Raises
    ------
    SettingsError
        The start point was not run to its end.
    """
    away = np.abs(table.space.to_unit(table.points) - table.space.to_unit(table.space.start_point))
    rows = np.flatnonzero(table.done & (away.max(axis=1, initial=0.0) <= _SAME))
    if rows.size == 0:
        raise SettingsError(
            "the start point has no finished run, so nothing can be compared with it",
            remedy="run the start point first",
        )
    return int(rows[0])


def limits_of(table: RunTable, goal: TuningGoal) -> tuple[Limit, ...]:
    """Return the limits of a goal as numbers.

    Parameters
    ----------
    table
        Of the runs, the start point among them where the goal has limits.
    goal
        What tuning is to raise, and what it must keep.

    Returns
    -------
    tuple of Limit
        Held-out load cases first. A window that the start misses is no limit.

    Raises
    ------
    SettingsError
        The start point has no finished run, or lacks a held-out load case.
    """
    found = []
    if goal.held_out and goal.largest_held_out_loss is not None:
        for case in goal.held_out:
            name = outcome_name("load case", case)
            value = float(table.outcome(name)[start_row(table)])
            if not np.isfinite(value):
                raise SettingsError(
                    f"the start point has no outcome '{name}'", remedy="rate the start point again"
                )
            found.append(Limit(outcome=name, least=value - goal.largest_held_out_loss, start=value))
    windows = [name for name in table.outcomes if name.startswith(outcome_name("window", ""))]
    if goal.windows_stay_met and windows:
        starts = {name: float(table.outcomes[name][start_row(table)]) for name in windows}
        found += [Limit(outcome=name, least=0.0, start=value) for name, value in starts.items() if value >= 0]
    return tuple(found)


def within_limits(table: RunTable, goal: TuningGoal) -> NDArray[np.bool_]:
    """Return which finished runs keep every limit, shape ``(n,)``."""
    kept = table.done.copy()
    for limit in limits_of(table, goal):
        kept &= table.outcomes[limit.outcome] >= limit.least - _ROUNDING
    return kept


def broken_limits(table: RunTable, goal: TuningGoal) -> tuple[tuple[Limit, tuple[int, ...]], ...]:
    """Return every limit that finished runs break, with the rows of those runs.

    Raises
    ------
    SettingsError
        As :func:`limits_of`.
    """
    found = []
    for limit in limits_of(table, goal):
        kept = table.outcomes[limit.outcome] >= limit.least - _ROUNDING
        rows = np.flatnonzero(table.done & ~kept)
        if rows.size:
            found.append((limit, tuple(rows.tolist())))
    return tuple(found)


def needed_outcomes(table: RunTable, goal: TuningGoal) -> tuple[str, ...]:
    """Name the outcomes whose surrogates a proposal needs: what is to be raised, then what must be kept."""
    return tuple(dict.fromkeys([*goal.outcomes, *(limit.outcome for limit in limits_of(table, goal))]))


def best_row(table: RunTable, goal: TuningGoal) -> int:
    """Return the row of the best run that keeps every limit, by the first outcome to raise.

    Parameters
    ----------
    table
        Of the runs.
    goal
        What tuning is to raise, and what it must keep.

    Returns
    -------
    int

    Raises
    ------
    SettingsError
        No finished run keeps the limits.
    """
    values = np.where(within_limits(table, goal), table.outcome(goal.outcomes[0]), np.nan)
    if not np.isfinite(values).any():
        raise SettingsError(
            "no finished run keeps the limits", remedy="run the start point, or widen a limit"
        )
    return int(np.nanargmax(values))
