"""How the main pulse rises and falls, and how long it lasts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.diagnosis.features.pulse import crossing
from correlate.errors import SignalError

if TYPE_CHECKING:
    from correlate.diagnosis.features.pulse import Pulse

LOW_LEVEL: Final = 0.1
HIGH_LEVEL: Final = 0.9
"""Reference levels of a transition (IEEE Std 181, from memory)."""
HALF_LEVEL: Final = 0.5


def rising_through(pulse: Pulse, share: float) -> float:
    """Return when the curve last rises through a share of its peak before the peak.

    Parameters
    ----------
    pulse
        The curve.
    share
        In (0, 1).

    Returns
    -------
    float
        s.

    Raises
    ------
    SignalError
        The curve is above that level from the first sample on.
    """
    level = share * pulse.height
    below = np.flatnonzero(pulse.values[: pulse.top] < level)
    if not below.size:
        raise SignalError(f"the curve does not start below {100 * share:.0f} % of its peak")
    return crossing(pulse.time, pulse.values, int(below[-1]), level)


def falling_through(pulse: Pulse, share: float) -> float:
    """Return when the curve first falls through a share of its peak after the peak.

    Parameters
    ----------
    pulse
        The curve.
    share
        In (0, 1).

    Returns
    -------
    float
        s.

    Raises
    ------
    SignalError
        The curve stays above that level to its end.
    """
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

    Parameters
    ----------
    pulse
        The curve.

    Returns
    -------
    float
        s.

    Raises
    ------
    SignalError
        The curve is above half of its peak at its first sample, or stays there to its end.

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
