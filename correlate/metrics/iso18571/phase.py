"""Phase score: by how many samples the candidate is late or early.

The correlations of all shifts come from one Fourier transform and running variances, so the search costs
O(n log n). The transform carries a rounding error that matters where an overlap has almost no variance; every
shift that could still be the best within that error is computed again by the direct formula.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.compiling import compiled
from correlate.metrics.iso18571.shift_search import best_delay, is_dead, normalised, shift_products

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.metrics.iso18571.settings import RatingSettings
    from correlate.pair import AlignedPair

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class PhaseScore:
    """The phase score and what it was made of.

    Attributes
    ----------
    score
        In [0, 1], 1 is best.
    delay_samples
        Positive when the candidate is late: it must move this many samples to earlier times.
    correlation
        Normalised cross-correlation at that shift; minus infinity when no overlap has variance.
    largest_shift
        ``largest_shift · n``, in samples, not rounded.
    correlation_unshifted
        Normalised cross-correlation without a shift; as above where there is no variance.
    candidate_dead
        Whether the candidate does not move in the interval.
    """

    score: float
    delay_samples: int
    correlation: float
    largest_shift: float
    correlation_unshifted: float
    candidate_dead: bool


@dataclass(frozen=True, slots=True, eq=False)
class ShiftCorrelations:
    """Normalised cross-correlation for every shift that is tried.

    Attributes
    ----------
    delays
        Shape ``(2m + 1,)``: ``-m … m`` samples; positive moves the candidate to earlier times.
    values
        Shape ``(2m + 1,)``, in [-1, 1], or minus infinity (or 0, as set) where an overlap is flat.
    errors
        Shape ``(2m + 1,)``: bound on the rounding error of each value.
    """

    delays: NDArray[np.int64]
    values: NDArray[np.float64]
    errors: NDArray[np.float64]


def shift_count(samples: int, share: float) -> int:
    """Return ``floor(share · samples)``, safe against the rounding of the product.

    Parameters
    ----------
    samples
        Number of samples.
    share
        In (0, 1).

    Returns
    -------
    int

    Examples
    --------
    >>> shift_count(35, 0.2), shift_count(34, 0.2)
    (7, 6)
    """
    return math.floor(share * samples + 1e-9)


def shift_correlations(pair: AlignedPair, settings: RatingSettings) -> ShiftCorrelations:
    r"""Correlate the overlap of both curves for every shift, each overlap's own mean removed.

    .. math:: \rho(m) = \frac{\sum_i (T_i - \bar T)(C_{i+m} - \bar C)}
              {\sqrt{\sum_i (T_i - \bar T)^2 \sum_i (C_{i+m} - \bar C)^2}}

    Parameters
    ----------
    pair
        Reference :math:`T` and candidate :math:`C`, shape ``(n,)``.
    settings
        Largest shift, and what a flat overlap counts as.

    Returns
    -------
    ShiftCorrelations

    References
    ----------
    .. [1] ISO/TS 18571:2014, phase score, from memory.
    """
    size = len(pair)
    limit = shift_count(size, settings.largest_shift)
    reference = pair.reference - pair.reference.mean()
    candidate = pair.candidate - pair.candidate.mean()
    products = shift_products(reference, candidate, limit)
    flat = -np.inf if settings.flat_overlap == "reject" else 0.0
    values, errors = _values_and_errors(reference, candidate, products, flat)
    return ShiftCorrelations(np.arange(-limit, limit + 1), values, errors)


def phase_score(pair: AlignedPair, settings: RatingSettings) -> PhaseScore:
    r"""Score the shift of highest correlation.

    .. math:: E_P = \max\left(0, \frac{0.2 N - n_\varepsilon}{0.2 N}\right)^k

    Parameters
    ----------
    pair
        Shape ``(n,)``.
    settings
        Largest shift, exponent, rules for ties and flat overlaps.

    Returns
    -------
    PhaseScore

    References
    ----------
    .. [1] ISO/TS 18571:2014, phase score, from memory. Ties go to the smaller shift, then to the shift that
       moves the candidate to earlier times (the text leaves this open; see ``RatingSettings``).
    """
    correlations = shift_correlations(pair, settings)
    delay, correlation = _best(pair, correlations, settings)
    unshifted = float(correlations.values[correlations.values.size // 2])
    dead = bool(is_dead(pair.reference, pair.candidate))
    return score_of_delay(delay, (correlation, unshifted), len(pair), settings, dead=dead)


def score_of_delay(
    delay: int, correlations: tuple[float, float], samples: int, settings: RatingSettings, *, dead: bool
) -> PhaseScore:
    """Score a delay.

    Parameters
    ----------
    delay
        In samples, positive when the candidate is late.
    correlations
        At that delay, and without a shift.
    samples
        Number of samples of the pair.
    dead
        Whether the candidate does not move, so that no shift is better than another.
    settings
        Largest shift and exponent.

    Returns
    -------
    PhaseScore
    """
    largest = settings.largest_shift * samples
    score = max(0.0, (largest - abs(delay)) / largest) ** settings.phase_exponent
    if dead and settings.dead_candidate == "zero":
        score = 0.0
    return PhaseScore(score, delay, correlations[0], largest, correlations[1], dead)


def _best(pair: AlignedPair, found: ShiftCorrelations, settings: RatingSettings) -> tuple[int, float]:
    """Return the delay of highest correlation and that correlation, ties resolved."""
    earlier = settings.phase_tie == "earlier"
    delay, correlation = best_delay(
        pair.reference, pair.candidate, found.values, found.errors, settings.tie_tolerance, earlier
    )
    return int(delay), float(correlation)


@compiled
def _values_and_errors(
    reference: Floats, candidate: Floats, products: Floats, flat: float
) -> tuple[Floats, Floats]:
    """Hand :func:`normalised` to Python, which cannot take arrays from what other compiled code keeps too."""
    return normalised(reference, candidate, products, flat)
