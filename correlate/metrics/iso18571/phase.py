"""The phase score of ISO/TS 18571 and its search for the shift."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.compiling import compiled

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.metrics.iso18571.settings import RatingSettings
    from correlate.pair import AlignedPair

    Floats = NDArray[np.float64]


_ROUNDING: Final = 64 * np.finfo(np.float64).eps
"""Error of a product sum by Fourier transform, relative to the product of the two norms."""


DEAD: Final = 1e-6
"""[choice] A candidate whose range is no more of the reference's largest value than this is dead."""


@compiled
def is_dead(reference: Floats, candidate: Floats) -> bool:
    """Say whether a candidate does not move, seen from the size of the reference; shapes ``(n,)``."""
    peak = 0.0
    low = high = candidate[0]
    for index in range(candidate.size):
        peak = max(peak, abs(reference[index]))
        low = min(low, candidate[index])
        high = max(high, candidate[index])
    return bool(high - low <= DEAD * peak)


def shift_products(reference: Floats, candidate: Floats, limit: int) -> Floats:
    """Return ``Σ reference[i] · candidate[i + m]`` for ``m = -limit … limit``.

    Parameters
    ----------
    reference, candidate
        Shape ``(…, n)``.
    limit
        Largest shift :math:`m`, in samples.

    Returns
    -------
    numpy.ndarray
        Shape ``(…, 2·limit + 1)``.
    """
    from scipy.fft import irfft, next_fast_len, rfft  # noqa: PLC0415 - keeps the import of correlate quick

    size = reference.shape[-1]
    length = next_fast_len(size + limit, real=True)
    curves = np.zeros((2, *reference.shape[:-1], length))
    curves[0, ..., :size] = reference
    curves[1, ..., :size] = candidate
    # One call for both: the call itself takes as long as the transform of a usual curve.
    spectrum, other = rfft(curves, overwrite_x=True)
    np.conj(spectrum, out=spectrum)
    spectrum *= other
    circular = irfft(spectrum, length, overwrite_x=True)
    return np.concatenate([circular[..., length - limit :], circular[..., : limit + 1]], axis=-1)


@compiled
def _running(reference: Floats, candidate: Floats, least: int) -> tuple[Floats, Floats]:
    """Return means and summed squared deviations of the first ``least`` values, one more, … (Welford 1962).

    Rows: reference, candidate, and both from their ends. The update is exact for a flat beginning, and
    loses no digits where the deviations are small. Four chains in one loop keep the processor busy.
    """
    size = reference.size
    means = np.empty((4, size - least + 1))
    spreads = np.empty((4, size - least + 1))
    mean = np.zeros(4)
    spread = np.zeros(4)
    value = np.empty(4)
    for index in range(size):
        value[0], value[1] = reference[index], candidate[index]
        value[2], value[3] = reference[size - 1 - index], candidate[size - 1 - index]
        share = 1.0 / (index + 1)
        for row in range(4):
            change = value[row] - mean[row]
            mean[row] += change * share
            spread[row] += change * (value[row] - mean[row])
        if index >= least - 1:
            for row in range(4):
                means[row, index - least + 1] = mean[row]
                spreads[row, index - least + 1] = spread[row]
    return means, spreads


@compiled
def normalised(reference: Floats, candidate: Floats, products: Floats, flat: float) -> tuple[Floats, Floats]:
    """Return the correlation of every shift and a bound on its rounding error.

    Parameters
    ----------
    reference, candidate
        Shape ``(n,)``, their means removed.
    products
        Shape ``(2m + 1,)``, from :func:`shift_products`.
    flat
        What an overlap without variance counts as.

    Returns
    -------
    values, errors : numpy.ndarray
        Shape ``(2m + 1,)``.
    """
    size = reference.size
    limit = products.size // 2
    means, spreads = _running(reference, candidate, size - limit)
    bound = _ROUNDING * math.log2(2.0 * size) * math.sqrt(_square_sum(reference) * _square_sum(candidate))
    values = np.empty(products.size)
    errors = np.zeros(products.size)
    for index in range(products.size):
        kept = size - abs(index - limit)
        row = limit - abs(index - limit)
        # Late candidate: the head of the reference meets the tail of the candidate; early: the reverse.
        head, tail = (0, 3) if index >= limit else (1, 2)
        scale = math.sqrt(spreads[head, row] * spreads[tail, row])
        if scale > 0.0:
            covariance = products[index] - kept * means[head, row] * means[tail, row]
            values[index] = min(1.0, max(-1.0, covariance / scale))
            errors[index] = bound / scale
        else:
            values[index] = flat
    return values, errors


@compiled
def _square_sum(values: Floats) -> float:
    total = 0.0
    for value in values:
        total += value * value
    return total


@compiled
def best_delay(
    reference: Floats,
    candidate: Floats,
    values: Floats,
    errors: Floats,
    tolerance: float,
    earlier: bool,
) -> tuple[int, float]:
    """Return the delay of highest correlation and that correlation, ties resolved.

    Parameters
    ----------
    reference, candidate
        Shape ``(n,)``.
    values, errors
        Shape ``(2m + 1,)``, from :func:`normalised`.
    tolerance
        Correlations this close count as equal.
    earlier
        Whether, of two shifts of one size, the one that moves the candidate to earlier times is taken.

    Returns
    -------
    delay : int
        In samples, positive when the candidate is late.
    correlation : float
    """
    limit = values.size // 2
    floor = -np.inf
    for index in range(values.size):
        floor = max(floor, values[index] - errors[index])
    exact = np.full(values.size, -np.inf)
    best = -np.inf
    for index in range(values.size):
        if values[index] + errors[index] < floor - tolerance:
            continue
        exact[index] = values[index]
        if errors[index] > 0.0:
            direct = _direct(reference, candidate, index - limit)
            exact[index] = direct if direct > -np.inf else values[index]
        best = max(best, exact[index])
    chosen = _nearest(exact, best - tolerance, earlier)
    return chosen - limit, exact[chosen]


@compiled
def _nearest(exact: Floats, least: float, earlier: bool) -> int:
    """Return the index nearest to the middle whose value is large enough."""
    limit = exact.size // 2
    first = 1 if earlier else -1
    for step in range(limit + 1):
        if exact[limit + first * step] >= least:
            return limit + first * step
        if exact[limit - first * step] >= least:
            return limit - first * step
    return limit


@compiled
def _direct(reference: Floats, candidate: Floats, delay: int) -> float:
    """Return the correlation at one delay, term by term; minus infinity when an overlap is flat."""
    size = reference.size - abs(delay)
    first = reference[max(0, -delay) : max(0, -delay) + size]
    second = candidate[max(0, delay) : max(0, delay) + size]
    mean_first, mean_second = first.mean(), second.mean()
    product = 0.0
    spread_first = 0.0
    spread_second = 0.0
    for index in range(size):
        a, b = first[index] - mean_first, second[index] - mean_second
        product += a * b
        spread_first += a * a
        spread_second += b * b
    if spread_first == 0.0 or spread_second == 0.0:
        return -np.inf
    return float(product / math.sqrt(spread_first) / math.sqrt(spread_second))


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
