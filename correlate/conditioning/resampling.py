"""Time bases and resampling, with a filter against aliasing."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.conditioning.filters import FILTER_STEP, forward_and_backward, frequency_class, pad_samples
from correlate.conditioning.time_axis import GRID_TOLERANCE, check_within, crop, multiples_between
from correlate.errors import SettingsError, SignalError
from correlate.samples import frozen_samples, handed_over
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
    return float(time[0]), step_s, handed_over(np.interp(grid, time, values)), (step,)


ANTI_ALIAS_STEP: Final = "anti-alias filter"
"""Name of the step that takes away what a coarser grid cannot carry."""
CUT_FRACTION: Final = 0.3
"""−6 dB frequency of the filter, as a fraction of the new sample rate."""
POLES: Final = 4
"""Poles of one pass of the filter."""


def is_band_limited(signal: Signal, step_s: float) -> bool:
    """Say whether a signal may go onto a grid without folding high frequencies down.

    Parameters
    ----------
    signal
        Any signal.
    step_s
        Time step of the grid, s.

    Returns
    -------
    bool
        True when the grid is no coarser than the signal's own, when the history holds a channel frequency
        class that may be used at the new rate, or an anti-alias filter for a rate as low.

    References
    ----------
    .. [1] That a class's lowest sample rate also carries a signal filtered with it: derived here; at half
       that rate the classes let 3 % of the amplitude through.
    """
    rate_hz = (1 + GRID_TOLERANCE) / step_s
    if signal.step_s * (1 + GRID_TOLERANCE) >= step_s:
        return True
    return any(_suits(step, rate_hz) for step in signal.history)


def limit_band(signal: Signal, step_s: float) -> Signal:
    """Filter away what a coarser grid cannot carry, without phase.

    A four-pole Butterworth low-pass, run forward and backward: half the amplitude remains at 0.3 of the new
    sample rate, 1.7 % or less at half of it, 99 % or more up to 0.16 of it.

    Parameters
    ----------
    signal
        Sampled more finely than `step_s`.
    step_s
        Time step of the coming grid, s.

    Returns
    -------
    Signal
        Same grid and unit. Its history gains ``"anti-alias filter"``.

    References
    ----------
    .. [1] Corner and order: chosen here, so that half the new rate is weakened about as much as CFC 1000
       weakens it at its lowest rate.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> raw = Signal(samples=[1.0] * 500, start_s=0.0, step_s=1e-5, unit="g", channel="head ax")
    >>> limit_band(raw, 1e-4).history[-1].settings["minus_6_db_hz"]
    3000.0
    """
    from scipy.signal import butter  # noqa: PLC0415 - slow to import, needed only here

    cut_hz = round(CUT_FRACTION / step_s, 6)
    sections = butter(POLES, cut_hz, fs=signal.sample_rate_hz, output="sos")
    pad = pad_samples(signal)
    settings = {
        "minus_6_db_hz": cut_hz,
        "method": "four-pole Butterworth forward and backward",
        "pad_samples": pad,
    }
    return signal.then(
        Step(ANTI_ALIAS_STEP, settings), samples=handed_over(forward_and_backward(sections, signal, pad))
    )


def _suits(step: Step, rate_hz: float) -> bool:
    if step.name == FILTER_STEP:
        return frequency_class(step.settings["cfc"]).lowest_rate_hz <= rate_hz
    return step.name == ANTI_ALIAS_STEP and step.settings["minus_6_db_hz"] <= CUT_FRACTION * rate_hz


RESAMPLE_STEP: Final = "resample"
"""Name of the step in the history of a resampled signal."""
MOST_RESAMPLED: Final = 20_000_000
"""Largest grid, so that a mistyped step does not fill the memory."""


def resample(
    signal: Signal, *, step_s: float, start_s: float | None = None, end_s: float | None = None
) -> Signal:
    """Interpolate onto the multiples of a time step, without letting high frequencies fold down.

    The interpolation is a cubic spline through all samples. A grid coarser than the signal's own needs a
    band limit first: a channel frequency class that suits the new rate, if the history holds one; else an
    anti-alias filter is run, as a step of its own in the history.

    Parameters
    ----------
    signal
        Any signal.
    step_s
        New time step, s. The new times are whole multiples of it.
    start_s, end_s
        Interval to stay in, s; all of the data when not given.

    Returns
    -------
    Signal
        Its history gains ``"resample"``, before it ``"anti-alias filter"`` where one was needed and behind
        it ``"crop"`` where the interval cuts something. A signal that lies on the grid already keeps its
        samples and records nothing but the crop.

    Raises
    ------
    SettingsError
        The step is not above zero, or the interval ends before it starts.
    SignalError
        The interval reaches beyond the data, or holds fewer than two or far too many times of the grid.

    References
    ----------
    .. [1] Filter before resampling, cubic interpolation at a bandwidth limited by a frequency class: common
       practice, no source.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> raw = Signal(samples=[0, 1, 8, 27, 64], start_s=0.0, step_s=1.0, unit="g", channel="head ax")
    >>> finer = resample(raw, step_s=0.5)
    >>> round(float(finer.samples[3]), 12), finer.history[-1].settings["method"]
    (3.375, 'cubic spline')
    """
    if not (math.isfinite(step_s) and step_s > 0):
        raise SettingsError(f"the time step is {step_s!r} s", remedy="give a number of seconds above zero")
    start = signal.start_s if start_s is None else start_s
    end = signal.end_s if end_s is None else end_s
    check_within(signal, start_s=start, end_s=end)
    if end - start > MOST_RESAMPLED * step_s:
        raise _unsuitable(signal, step_s, f"more than {MOST_RESAMPLED} times")
    first, last = multiples_between(start, end, step_s)
    if last <= first:
        raise _unsuitable(signal, step_s, "fewer than two times")
    if not lies_on_multiples(signal, step_s):
        limited = signal if is_band_limited(signal, step_s) else limit_band(signal, step_s)
        signal = _interpolated(limited, step_s)
    return crop(signal, start_s=max(first * step_s, signal.start_s), end_s=min(last * step_s, signal.end_s))


def lies_on_multiples(signal: Signal, step_s: float) -> bool:
    """Say whether the times of a signal are successive whole multiples of a step.

    Parameters
    ----------
    signal
        Any signal.
    step_s
        Time step, s.

    Returns
    -------
    bool
        True when no time misses its multiple by more than a millionth of the step.
    """
    first = round(signal.start_s / step_s)
    at_start = signal.start_s / step_s - first
    at_end = signal.end_s / step_s - (first + len(signal) - 1)
    return max(abs(at_start), abs(at_end)) <= GRID_TOLERANCE


def _interpolated(signal: Signal, step_s: float) -> Signal:
    from scipy.interpolate import CubicSpline  # noqa: PLC0415 - slow to import, needed only here

    first, last = multiples_between(signal.start_s, signal.end_s, step_s)
    # In native steps, so that the knots are exact whole numbers.
    position = (np.arange(first, last + 1) * step_s - signal.start_s) / signal.step_s
    samples = CubicSpline(np.arange(len(signal), dtype=np.float64), signal.samples)(position)
    settings = {"method": "cubic spline", "step_before_s": signal.step_s, "step_s": step_s}
    return signal.then(
        Step(RESAMPLE_STEP, settings),
        samples=handed_over(samples),
        start_s=first * step_s,
        step_s=step_s,
    )


def _unsuitable(signal: Signal, step_s: float, count: str) -> SignalError:
    return SignalError(
        f"a grid of {step_s:.6g} s has {count} in the interval",
        where=signal.place,
        remedy=f"choose a step that suits {signal.start_s:.6g} s to {signal.end_s:.6g} s of data",
    )
