"""The largest cross-correlation over all shifts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.metrics.inner_products import unit_vector

if TYPE_CHECKING:
    from correlate.pair import AlignedPair


@dataclass(frozen=True, slots=True, kw_only=True)
class CrossCorrelation:
    """Best correlation and the shift that gives it.

    Attributes
    ----------
    correlation
        In [-1, 1], 1 for a scaled and shifted copy.
    delay_samples, delay_s
        Positive when the candidate is late.
    """

    correlation: float
    delay_samples: int
    delay_s: float


def cross_correlation(pair: AlignedPair) -> CrossCorrelation:
    r"""Return the largest normalised cross-correlation; outside the interval both curves count as zero.

    .. math:: \rho = \max_m \frac{\sum_i r_i\, c_{i+m}}{\sqrt{\sum r^2 \sum c^2}}, \qquad |m| < n

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate :math:`c`, shape ``(n,)``.

    Returns
    -------
    CrossCorrelation
        Of equal correlations, to rounding, that of the smallest shift counts, and of those the late one.

    Raises
    ------
    SignalError
        A curve is zero throughout.

    References
    ----------
    .. [1] Normalised cross-correlation; any textbook of signal processing. No mean is removed (choice made
       here): an impact signal rests at zero.

    Examples
    --------
    >>> from correlate.pair import AlignedPair
    >>> pair = AlignedPair(time=[0, 1, 2, 3], reference=[0, 1, 0, 0], candidate=[0, 0, 3, 0])
    >>> found = cross_correlation(pair)
    >>> round(found.correlation, 12), found.delay_samples
    (1.0, 1)
    """
    from scipy.fft import irfft, next_fast_len, rfft  # noqa: PLC0415 - keeps the import of correlate quick

    reference, _ = unit_vector(pair.reference, "reference")
    candidate, _ = unit_vector(pair.candidate, "candidate")
    size = len(pair)
    length = next_fast_len(2 * size - 1, real=True)
    circular = irfft(np.conj(rfft(reference, length)) * rfft(candidate, length), length)
    values = np.concatenate([circular[length - size + 1 :], circular[:size]])
    delays = np.arange(1 - size, size)
    tied = delays[values >= values.max() - 1e-12]
    delay = min((int(one) for one in tied), key=lambda one: (abs(one), -one))
    correlation = float(np.clip(values[delay + size - 1], -1.0, 1.0))
    return CrossCorrelation(correlation=correlation, delay_samples=delay, delay_s=delay * pair.step_s)
