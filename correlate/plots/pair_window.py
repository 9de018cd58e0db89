"""What is drawn of the time that is looked at: samples of curves, and bins of a loss account."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.plots.pair_reach import round_step
from correlate.plots.reduction import kept_samples

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.diagnosis.accounting import LossAccount

    Floats = NDArray[np.float64]

OUTSIDE_COLUMNS: Final = 60
"""Pixel columns on either side of the time that is looked at, so that zooming out shows something at once."""
_BINS: Final = 120


def kept_in_window(
    time: Floats, values: Floats, window_s: tuple[float, float] | None, columns: int
) -> NDArray[np.intp]:
    """Choose the samples to draw: many of the time that is looked at, few of the rest.

    Parameters
    ----------
    time, values
        Shape ``(n,)``.
    window_s
        Start and end of the time that is looked at, s; None for all of it.
    columns
        Pixel columns of that time.

    Returns
    -------
    numpy.ndarray
        Increasing indices. Within the window the extremes of each column, outside of it those of
        `OUTSIDE_COLUMNS` columns on either side.
    """
    if window_s is None or values.size <= 2 * columns + 2:
        return kept_samples(values, columns)
    # One sample more on either side, so that the lines reach the edge of the picture.
    first = max(int(np.searchsorted(time, window_s[0])) - 1, 0)
    end = min(int(np.searchsorted(time, window_s[1], side="right")) + 1, values.size)
    parts = ((0, first, OUTSIDE_COLUMNS), (first, end, columns), (end, values.size, OUTSIDE_COLUMNS))
    return np.concatenate(
        [begin + kept_samples(values[begin:stop], wide) for begin, stop, wide in parts if stop > begin]
    )


def bin_width(account: LossAccount) -> float:
    """Return the width of the bins of a loss account that suits a picture, s.

    Parameters
    ----------
    account
        Of the time that is looked at.

    Returns
    -------
    float
        A round number of which about a hundred fit, and not below the time step.
    """
    return round_step(float(account.time[-1] - account.time[0]) / min(_BINS, account.time.size - 1))


def within(account: LossAccount, window_s: tuple[float, float] | None) -> LossAccount:
    """Cut a loss account to the time that is looked at.

    Parameters
    ----------
    account
        Of the pair.
    window_s
        Start and end, s; None for all of it.

    Returns
    -------
    LossAccount
        The whole one where the window holds fewer than two samples.
    """
    if window_s is None:
        return account
    inside = (account.time >= window_s[0] - 1e-9) & (account.time <= window_s[1] + 1e-9)
    if np.count_nonzero(inside) < 2:
        return account
    return replace(
        account,
        time=account.time[inside],
        by_sample={name: lost[inside] for name, lost in account.by_sample.items()},
    )
