"""Similarity of two curves, regardless of size and with a small delay allowed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


LEAST_UNDER: Final = 0.05
"""Least energy under the reference that counts, as a share of the largest."""


@dataclass(frozen=True, slots=True)
class Likeness:
    """Best normalised correlation and where it lies.

    Attributes
    ----------
    correlation
        In [-1, 1], means not removed.
    delay
        Samples by which the second curve is late.
    """

    correlation: float
    delay: int


def likeness(reference: Floats, candidate: Floats, limit: int, *, ahead: int = 0) -> Likeness:
    r"""Correlate two curves over delays, both taken as zero beyond their ends.

    .. math:: \rho(m) = \frac{\sum_i r_i c_{i+m}}{\sqrt{\sum_i r_i^2 \sum_{i} c_{i+m}^2}}

    The second sum runs over the samples that lie under the reference.

    Parameters
    ----------
    reference, candidate
        Shapes ``(n,)`` and ``(k,)``.
    limit
        Largest delay, samples.
    ahead
        Samples that the candidate has before the first of the reference; negative when it starts later.

    Returns
    -------
    Likeness
        Correlation 0 where one of the curves is zero.

    References
    ----------
    .. [1] Normalised cross-correlation, common practice; without removing means, because zero is a fact here.

    Examples
    --------
    >>> import numpy as np
    >>> pulse = np.array([0.0, 0.0, 1.0, 2.0, 1.0, 0.0, 0.0, 0.0])
    >>> late = likeness(pulse, -3 * np.roll(pulse, 2), 3)
    >>> likeness(pulse, 3 * np.roll(pulse, 2), 3).delay, round(late.correlation, 3) <= 0
    (2, True)
    """
    size = reference.size
    padded = np.zeros(size + 2 * limit)
    first = ahead - limit
    taken = candidate[max(first, 0) : max(first + padded.size, 0)]
    padded[max(-first, 0) : max(-first, 0) + taken.size] = taken
    points = 1 << (padded.size + size - 1).bit_length()
    spectrum = np.fft.rfft(padded, points) * np.conj(np.fft.rfft(reference, points))
    products = np.fft.irfft(spectrum, points)[: 2 * limit + 1]
    energy = np.concatenate(([0.0], np.cumsum(padded**2)))
    under = energy[size:] - energy[: 2 * limit + 1]
    # A window with next to nothing of the candidate in it is compared with nothing, not with noise.
    under = np.maximum(under, LEAST_UNDER * float(under.max()))
    norms = np.sqrt(float(reference @ reference) * under)
    if not norms.all():
        return Likeness(0.0, 0)
    values = products / norms
    best = int(values.argmax())
    return Likeness(float(values[best]), best - limit)


def size_ratio(reference: Floats, candidate: Floats) -> float:
    """Return the size of one curve over that of another: root mean squares, blind to timing.

    Parameters
    ----------
    reference, candidate
        Shape ``(n,)``.

    Returns
    -------
    float
        0 or infinite where one of them is zero; nan where both are.

    Examples
    --------
    >>> import numpy as np
    >>> size_ratio(np.array([0.0, 1.0]), np.array([-2.0, 0.0]))
    2.0
    """
    below, above = float(reference @ reference), float(candidate @ candidate)
    if below == 0.0:
        return math.inf if above else math.nan
    return math.sqrt(above / below)
