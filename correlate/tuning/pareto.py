"""Several outcomes at once: which runs no other run beats in everything."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.errors import SettingsError
from correlate.tuning.limits import within_limits

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from correlate.tuning.definition import TuningGoal
    from correlate.tuning.runs import RunTable

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ParetoFront:
    """Runs that no other run beats in everything.

    Attributes
    ----------
    outcomes
        What is raised, ``k`` names.
    rows
        Rows of the table, by falling first outcome.
    values
        Shape ``(n, k)``.
    """

    outcomes: tuple[str, ...]
    rows: NDArray[np.int64]
    values: Floats


def not_beaten(values: ArrayLike) -> NDArray[np.bool_]:
    """Return which points no other point beats: at least as good in everything and better in something.

    Parameters
    ----------
    values
        Shape ``(n, k)``, more is better; a row with a nan is beaten.

    Returns
    -------
    numpy.ndarray
        Shape ``(n,)``. Of equal points all are kept.

    Examples
    --------
    >>> not_beaten([[1, 3], [2, 2], [1, 2], [3, 1]]).tolist()
    [True, True, False, True]
    """
    known = np.asarray(values, dtype=np.float64)
    no_less = (known[:, None, :] >= known[None, :, :]).all(axis=2)
    more = (known[:, None, :] > known[None, :, :]).any(axis=2)
    return np.asarray(~(no_less & more).any(axis=0) & np.isfinite(known).all(axis=1))


def pareto_front(table: RunTable, goal: TuningGoal) -> ParetoFront:
    """Return the front of the finished runs that keep the limits.

    Parameters
    ----------
    table
        Of the runs.
    goal
        What tuning is to raise, and what it must keep.

    Returns
    -------
    ParetoFront

    Raises
    ------
    SettingsError
        No run has an outcome, or the limits cannot be told.
    """
    values = np.array([table.outcome(name) for name in goal.outcomes]).T
    allowed = np.where(within_limits(table, goal)[:, None], values, np.nan)
    rows = np.flatnonzero(not_beaten(allowed))
    rows = rows[np.argsort(-values[rows, 0], kind="stable")]
    return ParetoFront(outcomes=goal.outcomes, rows=rows, values=values[rows])


def hypervolume(values: ArrayLike, reference: ArrayLike) -> float:
    """Return how much of the space above a reference point a front covers.

    Parameters
    ----------
    values
        Shape ``(n, k)``, more is better.
    reference
        Shape ``(k,)``; what does not exceed it in everything covers nothing.

    Returns
    -------
    float
        Product of the units of the outcomes. By slices along the last outcome: exact, and meant for the few
        points and outcomes of a front.

    Raises
    ------
    SettingsError
        The shapes do not fit.

    Examples
    --------
    >>> hypervolume([[1, 2], [2, 1]], [0, 0])
    3.0
    """
    points, corner = (
        np.atleast_2d(np.asarray(values, dtype=np.float64)),
        np.asarray(reference, dtype=np.float64),
    )
    if points.shape[1] != corner.size:
        raise SettingsError(f"{points.shape[1]} outcomes do not fit a reference of {corner.size}")
    points = points[(points > corner).all(axis=1)]
    if points.size == 0:
        return 0.0
    if corner.size == 1:
        return float(points.max() - corner[0])
    levels = np.unique(points[:, -1])
    bottoms = np.concatenate([corner[-1:], levels[:-1]])
    return float(
        sum(
            (top - bottom) * hypervolume(points[points[:, -1] >= top, :-1], corner[:-1])
            for top, bottom in zip(levels, bottoms, strict=True)
        )
    )
