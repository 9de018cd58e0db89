"""Which samples of a signal lie in an interval of time."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from correlate.errors import SettingsError, SignalError

if TYPE_CHECKING:
    from correlate.signal import Signal

GRID_TOLERANCE: Final = 1e-6
"""Two times closer than this fraction of a step are the same time."""


def samples_between(signal: Signal, *, start_s: float, end_s: float) -> slice:
    """Return the samples from a start to an end, both included.

    Parameters
    ----------
    signal
        Any signal.
    start_s, end_s
        Interval, s.

    Returns
    -------
    slice
        Of at least one sample.

    Raises
    ------
    SettingsError
        The interval ends before it starts, or is not finite.
    SignalError
        The interval reaches beyond the data, or holds no sample.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> signal = Signal(samples=[0, 1, 2, 3], start_s=0.0, step_s=0.1, unit="g", channel="head ax")
    >>> samples_between(signal, start_s=0.1, end_s=0.3)
    slice(1, 4, None)
    """
    check_within(signal, start_s=start_s, end_s=end_s)
    first = math.ceil((start_s - signal.start_s) / signal.step_s - GRID_TOLERANCE)
    last = math.floor((end_s - signal.start_s) / signal.step_s + GRID_TOLERANCE)
    if last < first:
        raise SignalError(
            f"the interval {start_s:.6g} s to {end_s:.6g} s holds no sample",
            where=signal.place,
            remedy=f"make it at least one time step ({signal.step_s:.6g} s) long",
        )
    return slice(max(first, 0), min(last, len(signal) - 1) + 1)


def check_within(signal: Signal, *, start_s: float, end_s: float) -> None:
    """Refuse an interval that a signal does not cover.

    Parameters
    ----------
    signal
        Any signal.
    start_s, end_s
        Interval, s.

    Raises
    ------
    SettingsError
        The interval ends before it starts, or is not finite.
    SignalError
        The interval reaches beyond the data.
    """
    check_interval(start_s, end_s)
    slack_s = GRID_TOLERANCE * signal.step_s
    if start_s < signal.start_s - slack_s or end_s > signal.end_s + slack_s:
        raise SignalError(
            f"the interval {start_s:.6g} s to {end_s:.6g} s reaches beyond the data",
            where=signal.place,
            remedy=f"choose one within {signal.start_s:.6g} s to {signal.end_s:.6g} s",
        )


def check_interval(start_s: float, end_s: float) -> None:
    """Refuse an interval that is none.

    Parameters
    ----------
    start_s, end_s
        Interval, s.

    Raises
    ------
    SettingsError
        The interval ends before it starts, or is not finite.
    """
    if not (math.isfinite(start_s) and math.isfinite(end_s) and start_s <= end_s):
        raise SettingsError(
            f"{start_s:.6g} s to {end_s:.6g} s is not an interval", remedy="give a start and a later end"
        )


def multiples_between(start_s: float, end_s: float, step_s: float) -> tuple[int, int]:
    """Return the first and the last whole multiple of a step in an interval.

    Parameters
    ----------
    start_s, end_s
        Interval, s.
    step_s
        Time step, s.

    Returns
    -------
    tuple of int
        ``first`` and ``last``; ``last`` is below ``first`` when the interval holds none.

    Examples
    --------
    >>> multiples_between(0.00995, 0.0301, 1e-4)
    (100, 301)
    """
    first = math.ceil(start_s / step_s - GRID_TOLERANCE)
    return first, math.floor(end_s / step_s + GRID_TOLERANCE)
