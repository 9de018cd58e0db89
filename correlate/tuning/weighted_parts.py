"""What a rating is a weighted mean of, found from the runs themselves."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.tuning.runs import HELD_OUT, OVERALL, TRAIN, outcome_name

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.tuning.runs import RunTable

EXACT: Final = 1e-9
"""Largest difference between a rating and the weighted mean of its parts that counts as rounding."""


def part_names(table: RunTable, outcome: str) -> tuple[str, ...]:
    """Name the outcomes that a rating may be a weighted mean of.

    Parameters
    ----------
    table
        Of the runs.
    outcome
        ``overall``, ``train`` or ``held-out``; others have no parts.

    Returns
    -------
    tuple of str
        All load cases.
    """
    if outcome not in {OVERALL, TRAIN, HELD_OUT}:
        return ()
    return tuple(name for name in table.outcomes if name.startswith(outcome_name("load case", "")))


def part_weights(table: RunTable, outcome: str, rows: NDArray[np.int64]) -> dict[str, float]:
    """Find the weights with which a rating is the mean of its parts in every run.

    The weights of a campaign are not handed down to here, and need not be: with more runs than parts, at
    most one set of weights reproduces every run to the last digit.

    Parameters
    ----------
    table
        Of the runs.
    outcome
        Name of the rating.
    rows
        Runs that have it.

    Returns
    -------
    dict of str to float
        Parts with a weight above zero. Empty when no weights reproduce every run, when a part is missing in
        one of them, or when the runs are too few to tell.
    """
    from scipy.optimize import nnls  # noqa: PLC0415 - slow to import

    names = part_names(table, outcome)
    parts = np.array([table.outcomes[name][rows] for name in names]).T
    if not names or rows.size <= len(names) or not np.isfinite(parts).all():
        return {}
    values = table.outcomes[outcome][rows]
    weights, _ = nnls(parts, values)
    if np.abs(parts @ weights - values).max() > EXACT or abs(weights.sum() - 1) > np.sqrt(EXACT):
        return {}
    return {name: float(weight) for name, weight in zip(names, weights, strict=True) if weight > EXACT}
