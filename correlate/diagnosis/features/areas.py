"""What the main pulse carries: its areas."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.diagnosis.features.transitions import LOW_LEVEL, falling_through, rising_through
from correlate.errors import SignalError

if TYPE_CHECKING:
    from correlate.diagnosis.features.pulse import Pulse

LEAST_NET_SHARE: Final = 0.2
"""An impulse below this share of the absolute area is a difference of large numbers: not told."""


def impulse(pulse: Pulse) -> float:
    r"""Return the integral over time (trapezoidal rule), signed.

    .. math:: \int y\,dt

    Parameters
    ----------
    pulse
        The curve.

    Returns
    -------
    float
        Unit of the curve times s.

    Raises
    ------
    SignalError
        Positive and negative areas nearly cancel: what is left is less than a fifth of both together.

    References
    ----------
    .. [1] Textbook; that a small remainder is not told: choice made here.
    """
    net = float(np.trapezoid(pulse.values, pulse.time))
    whole = float(np.trapezoid(np.abs(pulse.values), pulse.time))
    if abs(net) < LEAST_NET_SHARE * whole:
        raise SignalError("its positive and negative areas nearly cancel")
    return pulse.sign * net


def share_before_peak(pulse: Pulse) -> float:
    """Return the share of the main pulse's area that lies before its peak.

    The main pulse runs around the peak from and to 10 % of it. A symmetric pulse has 0.5.

    Parameters
    ----------
    pulse
        The curve.

    Returns
    -------
    float
        In (0, 1).

    Raises
    ------
    SignalError
        The pulse is not whole: it does not start or end below 10 % of its peak.

    References
    ----------
    .. [1] Definition made here.
    """
    start, end = rising_through(pulse, LOW_LEVEL), falling_through(pulse, LOW_LEVEL)
    before = area_between(pulse, start, pulse.peak_time)
    return before / (before + area_between(pulse, pulse.peak_time, end))


def area_between(pulse: Pulse, start: float, end: float) -> float:
    """Return the area between two times inside the curve, on straight lines between samples.

    Parameters
    ----------
    pulse
        The curve.
    start, end
        s, in this order.

    Returns
    -------
    float
        Unit of the curve times s.
    """
    inside = pulse.time[(pulse.time > start) & (pulse.time < end)]
    times = np.concatenate([[start], inside, [end]])
    return float(np.trapezoid(np.interp(times, pulse.time, pulse.values), times))
