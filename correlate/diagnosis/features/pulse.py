"""The main pulse of a curve, its transitions and further peaks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.display import short_repr
from correlate.errors import SignalError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


ONSET_LEVEL: Final = 0.05
"""Share of the peak at which a pulse has begun; common practice, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class Pulse:
    """A curve turned so that its main peak is positive.

    Attributes
    ----------
    time
        Shape ``(n,)``, s.
    values
        Shape ``(n,)``: the curve times ``sign``.
    sign
        +1, or -1 for a curve whose largest absolute value is negative.
    top
        Sample of the peak.
    """

    time: Floats
    values: Floats
    sign: float
    top: int

    @property
    def height(self) -> float:
        """The peak, above 0."""
        return float(self.values[self.top])

    @property
    def peak_time(self) -> float:
        """Time of the peak, s."""
        return float(self.time[self.top])


def pulse_of(time: Floats, values: Floats) -> Pulse:
    """Turn a curve so that its largest absolute value is positive."""
    top = int(np.argmax(np.abs(values)))
    if values[top] == 0.0:
        raise SignalError(
            "the curve is zero throughout, so it has no features",
            remedy="check the channel and the interval of evaluation",
        )
    sign = float(np.sign(values[top]))
    return Pulse(time, sign * values, sign, top)


def onset_time(pulse: Pulse) -> float:
    """Return when the absolute value first reaches 5 % of the peak, on a straight line between samples.

    References
    ----------
    .. [1] A small share of the peak as the begin: common practice, no source.
    """
    size = np.abs(pulse.values)
    level = ONSET_LEVEL * pulse.height
    first = int(np.argmax(size >= level))
    if first == 0:
        raise SignalError("the curve is above 5 % of its peak from the first sample")
    return crossing(pulse.time, size, first - 1, level)


def rebound(pulse: Pulse) -> float:
    """Return the largest swing to the other side after the peak, as a share of the peak.

    References
    ----------
    .. [1] Definition made here; zero is the level at rest, so an offset must be gone before.
    """
    return max(0.0, -float(pulse.values[pulse.top :].min())) / pulse.height


def crossing(time: Floats, values: Floats, before: int, level: float) -> float:
    """Return where the straight line from one sample to the next meets a level."""
    low, high = float(values[before]), float(values[before + 1])
    share = (level - low) / (high - low) if high != low else 0.0
    return float(time[before] + share * (time[before + 1] - time[before]))


LEAST_PROMINENCE: Final = 0.1
"""A peak stands out by this share of the largest one; common practice, no source."""


@short_repr
@dataclass(frozen=True, slots=True)
class CurvePeak:
    """One peak of a curve.

    Attributes
    ----------
    time
        s.
    value
        Signed, unit of the curve.
    """

    time: float
    value: float


def curve_peaks(pulse: Pulse) -> tuple[CurvePeak, ...]:
    """Return the peaks of the sign of the largest one that stand out by at least 10 % of it.

    References
    ----------
    .. [1] Prominence as in topography: the descent to the higher of the two saddles on either side. That it
       must be 10 % of the largest peak: common practice, no source.
    """
    from scipy.signal import find_peaks  # noqa: PLC0415 - slow to import

    found, _ = find_peaks(pulse.values, height=0.0, prominence=LEAST_PROMINENCE * pulse.height)
    samples = sorted({int(one) for one in found if pulse.values[one] < pulse.height} | {pulse.top})
    return tuple(CurvePeak(float(pulse.time[one]), pulse.sign * float(pulse.values[one])) for one in samples)


LOW_LEVEL: Final = 0.1
HIGH_LEVEL: Final = 0.9
"""Reference levels of a transition (IEEE Std 181, from memory)."""
HALF_LEVEL: Final = 0.5


def rising_through(pulse: Pulse, share: float) -> float:
    """Return when the curve last rises through a share of its peak before the peak."""
    level = share * pulse.height
    below = np.flatnonzero(pulse.values[: pulse.top] < level)
    if not below.size:
        raise SignalError(f"the curve does not start below {100 * share:.0f} % of its peak")
    return crossing(pulse.time, pulse.values, int(below[-1]), level)


def falling_through(pulse: Pulse, share: float) -> float:
    """Return when the curve first falls through a share of its peak after the peak."""
    level = share * pulse.height
    below = np.flatnonzero(pulse.values[pulse.top :] < level)
    if not below.size:
        raise SignalError(f"the curve does not fall below {100 * share:.0f} % of its peak before it ends")
    return crossing(pulse.time, pulse.values, pulse.top + int(below[0]) - 1, level)


def rise_rate(pulse: Pulse) -> float:
    r"""Return the mean slope of the rise from 10 % to 90 % of the peak, with the sign of the peak.

    .. math:: \frac{0.8\,p}{t_{90} - t_{10}}

    Parameters
    ----------
    pulse
        The curve.

    Returns
    -------
    float
        Unit of the curve a second.

    Raises
    ------
    SignalError
        The curve does not start below 10 % of its peak.

    References
    ----------
    .. [1] Reference levels of 10 % and 90 %: IEEE Std 181, from memory.
    """
    duration = _first_rising(pulse, HIGH_LEVEL) - rising_through(pulse, LOW_LEVEL)
    return pulse.sign * (HIGH_LEVEL - LOW_LEVEL) * pulse.height / duration


def fall_rate(pulse: Pulse) -> float:
    r"""Return the mean slope of the fall from 90 % to 10 % of the peak, of the opposite sign.

    .. math:: -\frac{0.8\,p}{t_{10} - t_{90}}

    Parameters
    ----------
    pulse
        The curve.

    Returns
    -------
    float
        Unit of the curve a second.

    Raises
    ------
    SignalError
        The curve does not fall below 10 % of its peak before it ends.

    References
    ----------
    .. [1] Reference levels of 10 % and 90 %: IEEE Std 181, from memory.
    """
    duration = falling_through(pulse, LOW_LEVEL) - _last_falling(pulse, HIGH_LEVEL)
    return -pulse.sign * (HIGH_LEVEL - LOW_LEVEL) * pulse.height / duration


def half_duration(pulse: Pulse) -> float:
    """Return for how long the curve stays above half of its peak, around the peak.

    References
    ----------
    .. [1] Pulse duration at the 50 % reference level: IEEE Std 181, from memory.
    """
    return falling_through(pulse, HALF_LEVEL) - rising_through(pulse, HALF_LEVEL)


def _first_rising(pulse: Pulse, share: float) -> float:
    """Return the first rise through a level after the last rise through the low one."""
    level = share * pulse.height
    low = np.flatnonzero(pulse.values[: pulse.top] < LOW_LEVEL * pulse.height)
    start = int(low[-1]) if low.size else 0
    first = start + int(np.argmax(pulse.values[start:] >= level))
    return crossing(pulse.time, pulse.values, max(first - 1, start), level)


def _last_falling(pulse: Pulse, share: float) -> float:
    """Return the last fall through a level before the first fall through the low one."""
    level = share * pulse.height
    low = np.flatnonzero(pulse.values[pulse.top :] < LOW_LEVEL * pulse.height)
    stop = pulse.top + int(low[0]) if low.size else pulse.values.size - 1
    above = np.flatnonzero(pulse.values[pulse.top : stop + 1] >= level)
    return crossing(pulse.time, pulse.values, pulse.top + int(above[-1]), level)
