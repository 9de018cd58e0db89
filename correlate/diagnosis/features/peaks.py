"""The peaks of a curve in the direction of its largest one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.display import short_repr

if TYPE_CHECKING:
    from correlate.diagnosis.features.pulse import Pulse

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

    Parameters
    ----------
    pulse
        The curve.

    Returns
    -------
    tuple of CurvePeak
        In the order of time; the largest value is always among them, even at an end of the curve.

    References
    ----------
    .. [1] Prominence as in topography: the descent to the higher of the two saddles on either side. That it
       must be 10 % of the largest peak: common practice, no source.
    """
    from scipy.signal import find_peaks  # noqa: PLC0415 - slow to import

    found, _ = find_peaks(pulse.values, height=0.0, prominence=LEAST_PROMINENCE * pulse.height)
    samples = sorted({int(one) for one in found if pulse.values[one] < pulse.height} | {pulse.top})
    return tuple(CurvePeak(float(pulse.time[one]), pulse.sign * float(pulse.values[one])) for one in samples)
