"""The remaining difference when a model is allowed small, or large, errors in size, delay and duration."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.diagnosis.suspects.pulse import main_pulse

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.pair import AlignedPair

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Freedom:
    """How far an honest model may be off.

    Attributes
    ----------
    size
        Largest factor of size, up or down.
    delay_s, delay_share
        Largest delay, late or early, in s and as a share of the event; the smaller counts.
    durations
        Factors of duration that are tried.
    """

    size: float
    delay_s: float
    delay_share: float
    durations: tuple[float, ...]


def _durations(largest: float, step: float) -> tuple[float, ...]:
    count = round(np.log(largest) / np.log(step))
    return tuple(float(step**power) for power in range(-count, count + 1))


MODERATE: Final = Freedom(size=1.3, delay_s=0.0035, delay_share=0.15, durations=_durations(1.22, 1.035))
"""What a usable model may be off: granted to a curve once its mistake is set right."""
POOR: Final = Freedom(size=2.5, delay_s=0.009, delay_share=0.25, durations=_durations(1.8, 1.05))
"""What a poor model may be off: granted to the curve as it is."""


def error_left(pair: AlignedPair, freedom: Freedom) -> float:
    r"""Return the least squared error that size, delay and duration can bring a candidate to.

    .. math:: \min_{a, \tau, d} \frac{\sum_i (r(t_i) - a\,c((t_i - t_0 - \tau)/d + t_0))^2}{\sum_i r(t_i)^2}

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate :math:`c`, zero beyond its ends; :math:`t_0` is time zero, or the
        start where the interval begins later.
    freedom
        Bounds of :math:`a`, :math:`\tau` and :math:`d`.

    Returns
    -------
    float
        In [0, inf): 0 is perfect, 1 as bad as no candidate at all. Infinite where the reference is zero.

    References
    ----------
    .. [1] Derived here: for each delay the best size is a quotient of two sums, cut to its bounds.

    Examples
    --------
    >>> import numpy as np
    >>> from correlate.pair import AlignedPair
    >>> time = np.arange(400) * 1e-4
    >>> def pulse(late, slow):
    ...     return np.sin(np.pi * np.clip((time - 0.005 - late) / (0.02 * slow), 0, 1)) ** 2
    >>> pair = AlignedPair(time=time, reference=pulse(0, 1), candidate=1.2 * pulse(0.002, 1.0))
    >>> error_left(pair, MODERATE) < 1e-9
    True
    """
    energy = float(pair.reference @ pair.reference)
    if energy == 0.0:
        return float("inf")
    pulse = main_pulse(pair.reference)
    event = pulse.event_last - pulse.event_first + 1
    limit = max(1, round(min(freedom.delay_s / pair.step_s, freedom.delay_share * event)))
    rows = np.stack([_slowed(pair, duration, limit) for duration in freedom.durations])
    # The lags asked for do not wrap around at the length of a row.
    points = 1 << (rows.shape[1] - 1).bit_length()
    spectrum = np.conj(np.fft.rfft(pair.reference, points))
    products = np.fft.irfft(np.fft.rfft(rows, points, axis=1) * spectrum, points, axis=1)[:, : 2 * limit + 1]
    sums = np.concatenate((np.zeros((len(rows), 1)), np.cumsum(rows**2, axis=1)), axis=1)
    under = sums[:, len(pair) :] - sums[:, : 2 * limit + 1]
    under = np.maximum(under, 1e-300)
    size = np.clip(products / under, 1 / freedom.size, freedom.size)
    return max(0.0, 1.0 + float((size**2 * under - 2 * size * products).min()) / energy)


def _slowed(pair: AlignedPair, duration: float, limit: int) -> Floats:
    """Return the candidate at another duration, with zeros for the delays on either side."""
    origin = max(0.0, float(pair.time[0]))
    padded = np.zeros(len(pair) + 2 * limit)
    padded[limit : limit + len(pair)] = np.interp(
        (pair.time - origin) / duration + origin, pair.time, pair.candidate, left=0.0, right=0.0
    )
    return padded
