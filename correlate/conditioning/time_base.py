"""From printed times and samples to a signal on one constant step."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import SignalError
from correlate.samples import frozen_samples
from correlate.signal import Signal, Source, Step

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

ALWAYS_CONSTANT: Final = 0.01
"""Deviation from a constant step, as a fraction of the step, that changes no result worth having."""
COARSEST_PRINT: Final = 0.4
"""Coarsest printing of times, as a fraction of the step, that counts as rounding: one lost sample moves a
time by half a step at least."""
MOST_SAMPLES: Final = 10
"""A resampled signal holds at most this many times the samples that were recorded."""
_DIGITS: Final = 15
"""Decimal digits that a float64 holds for certain."""


def signal_on_constant_step(
    time_s: ArrayLike,
    samples: ArrayLike,
    *,
    unit: str,
    channel: str,
    source: Source,
    history: tuple[Step, ...] = (),
) -> Signal:
    """Make a signal from samples and the times they were taken at.

    Times that lie on one constant step are taken as such. So are times that miss it by no more than
    their own printing explains (``0.033, 0.067, 0.1`` ms), or by 1 % of the step; the largest deviation is
    then recorded. Other times are an uneven sampling: the samples are interpolated linearly onto the
    median step, which is recorded too. Linear, because it adds no overshoot between samples whose
    bandwidth nobody knows; the median, because it is the clock's own step where samples were lost and keeps
    the number of samples about the same where a solver chose its steps. The smallest step would multiply
    the samples without adding knowledge.

    Parameters
    ----------
    time_s
        Shape ``(n,)``, s, strictly increasing.
    samples
        Shape ``(n,)``, in `unit`.
    unit
        Unit of the samples.
    channel
        Channel code or name.
    source
        Where the samples came from.
    history
        The steps so far, oldest first.

    Returns
    -------
    Signal
        Its history ends with ``"even time step"`` where printed times were evened out, with
        ``"resample unevenly sampled"`` where samples were interpolated, and is `history` otherwise.

    Raises
    ------
    SignalError
        The numbers of times and samples differ, a time or a sample is not finite, a time is not above the
        one before (the message counts samples from 1), or the steps are too unequal for one grid.
    UnitError
        The unit cannot be parsed.

    References
    ----------
    .. [1] Rule for printed times and choice of the median: derived here.

    Examples
    --------
    >>> printed = [0.0, 3.3e-5, 6.7e-5, 1e-4]
    >>> signal = signal_on_constant_step(
    ...     printed, [0, 1, 2, 3], unit="g", channel="head ax", source=Source("run.csv")
    ... )
    >>> len(signal), round(signal.step_s, 10), signal.history[-1].name
    (4, 3.33333e-05, 'even time step')
    """
    where = f"{source.file}, channel '{channel}'"
    time = _increasing_times(time_s, channel=channel, where=where)
    values = frozen_samples(samples, channel=channel)
    if values.size != time.size:
        raise SignalError(
            f"there are {time.size} times and {values.size} samples",
            where=where,
            remedy="give one time for every sample",
        )
    start_s, step_s = float(time[0]), _mean_step(time)
    deviation = np.abs(time - (start_s + step_s * np.arange(time.size)))
    if np.any(deviation > _allowed_deviation(time, step_s)):
        start_s, step_s, values, steps = _evenly_resampled(time, values, where)
    elif deviation.max() > _float_noise(time):
        settings = {"step_s": step_s, "largest_deviation_s": float(f"{deviation.max():.3g}")}
        steps = (Step("even time step", settings),)
    else:
        steps = ()
    return Signal(
        samples=values,
        start_s=start_s,
        step_s=step_s,
        unit=unit,
        channel=channel,
        source=source,
        history=(*history, *steps),
    )


def _increasing_times(time_s: ArrayLike, *, channel: str, where: str) -> NDArray[np.float64]:
    time = frozen_samples(time_s, channel=f"time of {channel}")
    stuck = np.flatnonzero(np.diff(time) <= 0)
    if stuck.size:
        before = int(stuck[0])
        raise SignalError(
            f"the time of sample {before + 2}, {time[before + 1]:.9g} s, is not above that of the sample "
            f"before it, {time[before]:.9g} s",
            where=where,
            remedy="export the channel again with its times in increasing order",
        )
    return time


def _float_noise(time: NDArray[np.float64]) -> float:
    return float(4 * np.spacing(np.abs(time).max()))


def _mean_step(time: NDArray[np.float64]) -> float:
    """Return the mean step, as the short decimal number behind it where there is one."""
    mean = float((time[-1] - time[0]) / (time.size - 1))
    short = float(f"{mean:.12g}")
    return short if abs(short - mean) * (time.size - 1) <= _float_noise(time) else mean


def _allowed_deviation(time: NDArray[np.float64], step_s: float) -> NDArray[np.float64]:
    """Return how far each time may lie from the constant step, shape ``(n,)``, s.

    Printing moves each time by up to half a unit of its last digit, and so it does the two outer times
    that set the constant step.
    """
    allowed: NDArray[np.float64] = np.full(time.size, ALWAYS_CONSTANT * step_s + _float_noise(time))
    for digit in (_last_decimal(time), _last_significant_digit(time)):
        printed = (digit + max(digit[0], digit[-1])) / 2
        is_fine = printed <= COARSEST_PRINT * step_s * (1 + 1e-6)
        allowed = np.maximum(allowed, np.where(is_fine, printed * (1 + 1e-6), 0.0))
    return allowed


def _last_decimal(time: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the unit of the last decimal place if all times were printed with as many, else 0."""
    for places in range(_DIGITS):
        scaled = time * 10.0**places
        noise = 4 * np.spacing(np.abs(scaled).max())
        if np.abs(scaled - np.rint(scaled)).max() <= noise < 0.01:
            return np.full_like(time, 10.0**-places)
    return np.zeros_like(time)


def _last_significant_digit(time: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the unit of the last digit of each time if all were printed with as many digits, else 0."""
    magnitude = np.abs(time)
    leading = np.floor(np.log10(magnitude, out=np.zeros_like(time), where=magnitude > 0))
    for digits in range(1, _DIGITS - 2):
        places = digits - 1 - leading
        scaled = time * 10.0**places
        if np.abs(scaled - np.rint(scaled)).max() <= 8 * np.spacing(10.0**digits):
            return np.where(magnitude > 0, 10.0**-places, 0.0)
    return np.zeros_like(time)


def _evenly_resampled(
    time: NDArray[np.float64], values: NDArray[np.float64], where: str
) -> tuple[float, float, NDArray[np.float64], tuple[Step, ...]]:
    intervals = np.diff(time)
    step_s = float(f"{np.median(intervals):.12g}")
    count = int(np.floor((time[-1] - time[0]) / step_s * (1 + 1e-9))) + 1
    if count > MOST_SAMPLES * time.size:
        raise SignalError(
            f"the time steps lie between {intervals.min():.3g} s and {intervals.max():.3g} s, "
            f"too unequal for one grid",
            where=where,
            remedy="cut the record to the part that was sampled densely",
        )
    grid = time[0] + step_s * np.arange(count)
    settings = {
        "method": "linear interpolation",
        "step_s": step_s,
        "smallest_step_s": float(f"{intervals.min():.6g}"),
        "largest_step_s": float(f"{intervals.max():.6g}"),
        "samples_before": int(time.size),
        "samples": count,
    }
    step = Step("resample unevenly sampled", settings)
    return float(time[0]), step_s, np.interp(grid, time, values), (step,)
