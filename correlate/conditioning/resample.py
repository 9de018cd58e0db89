"""Resample a signal to another constant time step."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.conditioning.anti_alias import is_band_limited, limit_band
from correlate.conditioning.crop import crop
from correlate.conditioning.interval import GRID_TOLERANCE, check_within, multiples_between
from correlate.errors import SettingsError, SignalError
from correlate.signal import Step

if TYPE_CHECKING:
    from correlate.signal import Signal

RESAMPLE_STEP: Final = "resample"
"""Name of the step in the history of a resampled signal."""
MOST_SAMPLES: Final = 20_000_000
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
    if end - start > MOST_SAMPLES * step_s:
        raise _unsuitable(signal, step_s, f"more than {MOST_SAMPLES} times")
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
    return signal.then(Step(RESAMPLE_STEP, settings), samples=samples, start_s=first * step_s, step_s=step_s)


def _unsuitable(signal: Signal, step_s: float, count: str) -> SignalError:
    return SignalError(
        f"a grid of {step_s:.6g} s has {count} in the interval",
        where=signal.place,
        remedy=f"choose a step that suits {signal.start_s:.6g} s to {signal.end_s:.6g} s of data",
    )
