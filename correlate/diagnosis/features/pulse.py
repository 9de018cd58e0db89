"""A curve inverted if needed so that its main peak is positive; its onset and rebound."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

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
    """Turn a curve so that its largest absolute value is positive.

    Parameters
    ----------
    time
        Shape ``(n,)``, s.
    values
        Shape ``(n,)``.

    Returns
    -------
    Pulse

    Raises
    ------
    SignalError
        The curve is zero throughout.
    """
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
        The first sample is above the level already.

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

    Parameters
    ----------
    pulse
        The curve.

    Returns
    -------
    float
        0 or more, at most 1: 0 where the curve does not change its sign after the peak.

    References
    ----------
    .. [1] Definition made here; zero is the level at rest, so an offset must be gone before.
    """
    return max(0.0, -float(pulse.values[pulse.top :].min())) / pulse.height


def crossing(time: Floats, values: Floats, before: int, level: float) -> float:
    """Return where the straight line from one sample to the next meets a level.

    Parameters
    ----------
    time, values
        Shape ``(n,)``.
    before
        The sample before the crossing.
    level
        Between this sample and the next.

    Returns
    -------
    float
        s.
    """
    low, high = float(values[before]), float(values[before + 1])
    share = (level - low) / (high - low) if high != low else 0.0
    return float(time[before] + share * (time[before + 1] - time[before]))
