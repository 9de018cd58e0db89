"""Cutting and moving along the time axis: interval, crop, time zero."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, Protocol

import numpy as np

from correlate.errors import SettingsError, SignalError
from correlate.signal import Step

if TYPE_CHECKING:
    from correlate.signal import Signal


class OnTimeBase(Protocol):
    """Something with samples on a constant time step: a signal, or a curve whose history is not needed.

    Attributes
    ----------
    start_s, end_s
        Times of the first and the last sample, s.
    step_s
        Sampling interval, s.
    place
        File and channel, for messages.
    """

    def __len__(self) -> int:
        """Return the number of samples."""

    @property
    def start_s(self) -> float:
        """Time of the first sample, s."""

    @property
    def end_s(self) -> float:
        """Time of the last sample, s."""

    @property
    def step_s(self) -> float:
        """Sampling interval, s."""

    @property
    def place(self) -> str:
        """File and channel, for messages."""


GRID_TOLERANCE: Final = 1e-6
"""Two times closer than this fraction of a step are the same time."""


def samples_between(signal: OnTimeBase, *, start_s: float, end_s: float) -> slice:
    """Return the samples from a start to an end, both included.

    Parameters
    ----------
    signal
        A signal, or anything with a time base.
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


def check_within(signal: OnTimeBase, *, start_s: float, end_s: float) -> None:
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


CROP_STEP: Final = "crop"
"""Name of the step in the history of a signal that was cut."""


def crop(signal: Signal, *, start_s: float, end_s: float) -> Signal:
    """Keep the samples of an interval, both ends included.

    Parameters
    ----------
    signal
        Any signal.
    start_s, end_s
        Interval, s.

    Returns
    -------
    Signal
        Its history gains ``"crop"`` with the interval and the samples cut before and after it; the signal
        itself when nothing is cut.

    Raises
    ------
    SettingsError
        The interval ends before it starts.
    SignalError
        The interval reaches beyond the data or holds fewer than two samples.

    References
    ----------
    .. [1] No formula; that a crop is refused rather than shortened is a rule of this project.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> raw = Signal(samples=[0, 1, 2, 3], start_s=0.0, step_s=0.1, unit="g", channel="head ax")
    >>> str(crop(raw, start_s=0.1, end_s=0.3).history[-1])
    'crop (start_s=0.1, end_s=0.3, samples_before=1, samples_after=0)'
    """
    kept = samples_between(signal, start_s=start_s, end_s=end_s)
    if kept == slice(0, len(signal)):
        return signal
    if kept.stop - kept.start < 2:
        raise SignalError(
            f"the interval {start_s:.6g} s to {end_s:.6g} s holds a single sample",
            where=signal.place,
            remedy=f"make it at least two time steps ({2 * signal.step_s:.6g} s) long",
        )
    settings = {
        "start_s": float(f"{start_s:.12g}"),
        "end_s": float(f"{end_s:.12g}"),
        "samples_before": kept.start,
        "samples_after": len(signal) - kept.stop,
    }
    return signal.then(
        Step(CROP_STEP, settings),
        samples=signal.samples[kept],
        start_s=signal.start_s + kept.start * signal.step_s,
    )


SHIFT_STEP: Final = "shift time"
"""Name of the step in the history of a signal moved by a given time."""
ZERO_STEP: Final = "set time zero"
"""Name of the step in the history of a signal whose time zero is a threshold crossing."""


def shift_time(signal: Signal, offset_s: float) -> Signal:
    """Move a signal in time.

    Parameters
    ----------
    signal
        Any signal.
    offset_s
        Added to every time, s; positive moves the signal to later times.

    Returns
    -------
    Signal
        Same samples. Its history gains ``"shift time"``; the signal itself when the offset is 0.

    Raises
    ------
    SettingsError
        The offset is not finite.

    References
    ----------
    .. [1] No formula.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> signal = Signal(samples=[0, 1], start_s=0.0, step_s=1e-4, unit="g", channel="head ax")
    >>> shift_time(signal, -0.002).start_s
    -0.002
    """
    if not math.isfinite(offset_s):
        raise SettingsError(f"the time shift is {offset_s} s", remedy="give a finite number of seconds")
    if offset_s == 0:
        return signal
    return signal.then(Step(SHIFT_STEP, {"by_s": offset_s}), start_s=signal.start_s + offset_s)


def zero_at_threshold(signal: Signal, *, trigger: Signal, level: float, unit: str | None = None) -> Signal:
    """Set time zero to the moment when a trigger channel first reaches a level in either direction.

    Between the last sample below the level and the first at or above it the trigger is taken as a
    straight line.

    Parameters
    ----------
    signal
        The signal to move.
    trigger
        The channel that decides, on the time axis of `signal`; it may be `signal` itself.
    level
        Absolute value to reach, above zero.
    unit
        Unit of `level`; that of the trigger when not given.

    Returns
    -------
    Signal
        Same samples. Its history gains ``"set time zero"`` with the trigger, the level and the time by
        which the signal was moved.

    Raises
    ------
    SettingsError
        The level is not a finite number above zero.
    SignalError
        The trigger never reaches the level, or is above it from its first sample on.
    UnitError
        The unit does not suit the trigger.

    References
    ----------
    .. [1] Threshold of a named channel: common practice, no source.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> pulse = Signal(samples=[0, 0, 10, 20], start_s=0.0, step_s=0.1, unit="g", channel="sled ax")
    >>> round(zero_at_threshold(pulse, trigger=pulse, level=5.0).start_s, 12)
    -0.15
    """
    if not (math.isfinite(level) and level > 0):
        raise SettingsError(f"the trigger level is {level}", remedy="give a number above zero")
    in_unit = trigger.in_unit(unit or trigger.unit)
    zero_s = _crossing_s(in_unit, level)
    settings = {
        "trigger": trigger.channel,
        "trigger_file": trigger.source.file,
        "level": level,
        "unit": in_unit.unit,
        "by_s": -zero_s,
    }
    return signal.then(Step(ZERO_STEP, settings), start_s=signal.start_s - zero_s)


def _crossing_s(trigger: Signal, level: float) -> float:
    size = np.abs(trigger.samples)
    reached = np.flatnonzero(size >= level)
    if not reached.size:
        raise SignalError(
            f"the trigger never reaches {level:.6g} {trigger.unit}: "
            f"its largest absolute value is {size.max():.6g}",
            where=trigger.place,
            remedy="choose a lower level or another trigger channel",
        )
    after = int(reached[0])
    if after == 0:
        raise SignalError(
            f"the trigger is at {trigger.samples[0]:.6g} {trigger.unit} in its first sample, "
            f"not below {level:.6g}",
            where=trigger.place,
            remedy="remove its offset first, choose a higher level or export more time before the event",
        )
    before_value, after_value = trigger.samples[after - 1], trigger.samples[after]
    fraction = (math.copysign(level, after_value) - before_value) / (after_value - before_value)
    return trigger.start_s + (after - 1 + float(fraction)) * trigger.step_s
