"""Corridor, magnitude and slope scores of ISO/TS 18571."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.compiling import compiled
from correlate.metrics.warping import best_path as compiled_path
from correlate.metrics.warping import kept_costs, stride_of, warp

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.metrics.iso18571.settings import RatingSettings, ZeroReference
    from correlate.pair import AlignedPair

    Floats = NDArray[np.float64]


def score_of_error(
    difference: float, total: float, limit: float, zero_reference: ZeroReference
) -> tuple[float, float]:
    """Return the relative error and its score, which falls from 1 to 0 at the limit.

    Parameters
    ----------
    difference, total
        Sums of absolute differences and of absolute reference values, 0 or more, one unit.
    limit
        Relative error that scores 0.
    zero_reference
        What a reference sum of 0 scores; the published text leaves it open, see ``RatingSettings``.

    Returns
    -------
    error : float
        ``difference / total``; infinite, or not a number when both are 0.
    score : float
        In [0, 1].

    Examples
    --------
    >>> score_of_error(1.0, 10.0, 0.5, "compare")
    (0.1, 0.8)
    """
    if total == 0.0:
        equal = difference == 0.0
        score = 1.0 if equal and zero_reference == "compare" else 0.0
        return (float("nan") if equal else float("inf")), score
    error = difference / total
    return error, max(0.0, (limit - error) / limit)


@dataclass(frozen=True, slots=True)
class CorridorScore:
    """The corridor score and what it was made of.

    Attributes
    ----------
    score
        In [0, 1], 1 is best.
    reference_peak
        Largest absolute value of the reference, in its unit.
    inner_half_width, outer_half_width
        In the unit of the reference.
    """

    score: float
    reference_peak: float
    inner_half_width: float
    outer_half_width: float


def corridor_scores(pair: AlignedPair, settings: RatingSettings) -> NDArray[np.float64]:
    r"""Score every sample by its distance from the reference.

    .. math:: z_i = \mathrm{clip}\left(\frac{b\,T_n - |T_i - C_i|}{b\,T_n - a\,T_n}, 0, 1\right)^k,
              \qquad T_n = \max|T|

    Parameters
    ----------
    pair
        Reference :math:`T` and candidate :math:`C`, shape ``(n,)``.
    settings
        Half widths :math:`a`, :math:`b` and exponent :math:`k`.

    Returns
    -------
    numpy.ndarray
        Shape ``(n,)``, each in [0, 1].

    References
    ----------
    .. [1] ISO/TS 18571:2014, corridor score, from memory.
    """
    return _nearness(pair, float(np.abs(pair.reference).max()), settings)


def _nearness(pair: AlignedPair, peak: float, settings: RatingSettings) -> Floats:
    """Return :func:`corridor_scores` for the largest absolute value of the reference, in one array."""
    inner, outer = settings.inner_half_width * peak, settings.outer_half_width * peak
    nearness = pair.reference - pair.candidate
    np.abs(nearness, out=nearness)
    np.subtract(outer, nearness, out=nearness)
    nearness /= outer - inner
    np.minimum(nearness, 1.0, out=nearness)
    np.maximum(nearness, 0.0, out=nearness)
    nearness **= settings.corridor_exponent
    return nearness


def corridor_score(pair: AlignedPair, settings: RatingSettings) -> CorridorScore:
    """Average the score of every sample.

    Parameters
    ----------
    pair
        Shape ``(n,)``; the reference is not zero throughout.
    settings
        Half widths and exponent.

    Returns
    -------
    CorridorScore

    References
    ----------
    .. [1] ISO/TS 18571:2014, corridor score, from memory.
    """
    peak = float(np.abs(pair.reference).max())
    return CorridorScore(
        score=float(_nearness(pair, peak, settings).mean()),
        reference_peak=peak,
        inner_half_width=settings.inner_half_width * peak,
        outer_half_width=settings.outer_half_width * peak,
    )


@dataclass(frozen=True, slots=True)
class MagnitudeScore:
    """The magnitude score and what it was made of.

    Attributes
    ----------
    score
        In [0, 1], 1 is best.
    error
        ``difference_sum / reference_sum``; not a number when both are 0.
    difference_sum, reference_sum
        Along the warping path, in the unit of the curves.
    warping_distance
        Sum of squared differences along the path.
    band
        Half width of the warping band, in samples.
    """

    score: float
    error: float
    difference_sum: float
    reference_sum: float
    warping_distance: float
    band: int


def band_width(samples: int, share: float) -> int:
    """Return ``ceil(share · samples)``, safe against the rounding of the product.

    Parameters
    ----------
    samples
        Number of samples.
    share
        In (0, 1].

    Returns
    -------
    int

    Examples
    --------
    >>> band_width(30, 0.1), band_width(31, 0.1)
    (3, 4)
    """
    return math.ceil(share * samples - 1e-9)


def best_path(
    reference: Floats, candidate: Floats, settings: RatingSettings
) -> tuple[float, NDArray[np.int32]]:
    """Warp the candidate on the reference.

    Parameters
    ----------
    reference, candidate
        Shape ``(n,)``: the shifted and truncated curves.
    settings
        Band, and which curve a tie advances.

    Returns
    -------
    distance : float
        Sum of squared differences along the path.
    path : numpy.ndarray
        Shape ``(l, 2)``: index in the reference, index in the candidate.
    """
    band = band_width(reference.size, settings.warping_band)
    if settings.path_tie == "candidate":
        warping = warp(candidate, reference, band=band)
        return warping.distance, warping.path[:, ::-1]
    warping = warp(reference, candidate, band=band)
    return warping.distance, warping.path


def magnitude_score(reference: Floats, candidate: Floats, settings: RatingSettings) -> MagnitudeScore:
    r"""Score the relative size difference along the warping path.

    .. math:: \varepsilon = \frac{\sum |C_w - T_w|}{\sum |T_w|}, \qquad
              E_M = \max\left(0, \frac{0.5 - \varepsilon}{0.5}\right)

    Parameters
    ----------
    reference, candidate
        Shape ``(n,)``: the shifted and truncated curves :math:`T`, :math:`C`.
    settings
        Band, limit, rules for ties and for a reference sum of 0.

    Returns
    -------
    MagnitudeScore

    References
    ----------
    .. [1] ISO/TS 18571:2014, magnitude score, from memory. Local cost :math:`(C_i - T_j)^2`; ties prefer the
       diagonal, then advancing the candidate, then the reference (the text leaves this open; see
       ``RatingSettings``).
    """
    band = band_width(reference.size, settings.warping_band)
    reaches = min(band, reference.size - 1)
    candidate_first = settings.path_tie == "candidate"
    stride = stride_of(band)
    memory = np.empty(kept_costs(reference.size, reaches, stride))
    distance, difference, total = path_sums(reference, candidate, reaches, stride, candidate_first, memory)
    error, score = score_of_error(difference, total, settings.magnitude_limit, settings.zero_reference)
    return MagnitudeScore(score, error, difference, total, distance, band)


@compiled
def path_sums(
    reference: Floats,
    candidate: Floats,
    band: int,
    stride: int,
    candidate_first: bool,
    memory: Floats,
) -> tuple[float, float, float]:
    """Return the distance, and the sums of absolute differences and of absolute reference values on the path.

    Parameters
    ----------
    reference, candidate
        Shape ``(n,)``.
    band
        From 0 to ``n - 1``.
    stride
        From :func:`correlate.metrics.warping.stride_of`.
    candidate_first
        Whether a tie advances the candidate.
    memory
        As for :func:`correlate.metrics.warping.best_path`.

    Returns
    -------
    distance, difference, total : float
    """
    first, second = (candidate, reference) if candidate_first else (reference, candidate)
    distance, path = compiled_path(first, second, band, stride, memory)
    difference, total = sums_on_path(first, second, path, candidate_first)
    return distance, difference, total


@compiled
def sums_on_path(
    first: Floats, second: Floats, path: NDArray[np.int32], candidate_first: bool
) -> tuple[float, float]:
    """Return the sums of absolute differences and of absolute reference values on a path.

    Parameters
    ----------
    first, second
        Shape ``(n,)``, in the order of the path.
    path
        Shape ``(l, 2)``.
    candidate_first
        Whether the first curve is the candidate.

    Returns
    -------
    difference, total : float
    """
    difference = 0.0
    total = 0.0
    for step in range(path.shape[0]):
        one, other = first[path[step, 0]], second[path[step, 1]]
        difference += abs(one - other)
        total += abs(other if candidate_first else one)
    return difference, total


@dataclass(frozen=True, slots=True)
class SlopeScore:
    """The slope score and what it was made of.

    Attributes
    ----------
    score
        In [0, 1], 1 is best.
    error
        ``difference_sum / reference_sum``; not a number when both are 0.
    difference_sum, reference_sum
        Of the smoothed derivatives, in units of the curves a second.
    """

    score: float
    error: float
    difference_sum: float
    reference_sum: float


def smoothed_slope(values: Floats, step_s: float, settings: RatingSettings) -> Floats:
    """Differentiate and average over about a millisecond.

    Central difference inside; one-sided at the two ends. Then a centred moving average whose window
    shrinks symmetrically near the ends. The published text leaves both end rules open; see
    ``RatingSettings``.

    Parameters
    ----------
    values
        Shape ``(n,)``.
    step_s
        Time step, in s.
    settings
        Length of the average and the rules at the ends.

    Returns
    -------
    numpy.ndarray
        Shape ``(n,)``, units of the values a second.

    References
    ----------
    .. [1] ISO/TS 18571:2014, slope score, from memory.

    Examples
    --------
    >>> import numpy as np
    >>> from correlate.metrics.iso18571 import RatingSettings
    >>> smoothed_slope(np.arange(20.0), 0.5, RatingSettings())[[0, 10, 19]].tolist()
    [2.0, 2.0, 2.0]
    """
    return _smoothed_slope(values, step_s, *slope_rules(settings))


def slope_rules(settings: RatingSettings) -> tuple[int, bool, bool]:
    """Return what compiled code needs of the settings.

    Parameters
    ----------
    settings
        Length of the average and the rules at the ends.

    Returns
    -------
    half : int
        Samples to each side of the average.
    second_order, repeat : bool
        Rule of the derivative, and of the average, at the ends.
    """
    half = settings.slope_average_samples // 2
    return half, settings.slope_ends == "second-order", settings.average_ends == "repeat"


def slope_score(reference: Floats, candidate: Floats, step_s: float, settings: RatingSettings) -> SlopeScore:
    r"""Score the relative difference of the smoothed derivatives.

    .. math:: \varepsilon = \frac{\sum |C' - T'|}{\sum |T'|}, \qquad
              E_S = \max\left(0, \frac{2 - \varepsilon}{2}\right)

    Parameters
    ----------
    reference, candidate
        Shape ``(n,)``: the shifted and truncated curves.
    step_s
        Time step, in s.
    settings
        Limit, length of the average and the rules at the ends.

    Returns
    -------
    SlopeScore

    References
    ----------
    .. [1] ISO/TS 18571:2014, slope score, from memory.
    """
    difference, total = slope_sums(reference, candidate, step_s, *slope_rules(settings))
    error, score = score_of_error(difference, total, settings.slope_limit, settings.zero_reference)
    return SlopeScore(score, error, difference, total)


@compiled
def slope_sums(
    reference: Floats,
    candidate: Floats,
    step_s: float,
    half: int,
    second_order: bool,
    repeat: bool,
) -> tuple[float, float]:
    """Return the sums of absolute differences and of absolute values of the smoothed reference slope.

    Parameters
    ----------
    reference, candidate
        Shape ``(n,)``.
    step_s
        Time step, in s.
    half, second_order, repeat
        From :func:`slope_rules`.

    Returns
    -------
    difference, total : float
    """
    expected = _smoothed_slope(reference, step_s, half, second_order, repeat)
    found = _smoothed_slope(candidate, step_s, half, second_order, repeat)
    difference = 0.0
    total = 0.0
    for index in range(expected.size):
        difference += abs(found[index] - expected[index])
        total += abs(expected[index])
    return difference, total


@compiled
def _smoothed_slope(
    values: Floats,
    step_s: float,
    half: int,
    second_order: bool,
    repeat: bool,
) -> Floats:
    """Return the averaged derivative; see :func:`smoothed_slope`."""
    slope = _derivative(values, step_s)
    if second_order:
        slope[0] = (4.0 * values[1] - 3.0 * values[0] - values[2]) / (2.0 * step_s)
        slope[-1] = (3.0 * values[-1] - 4.0 * values[-2] + values[-3]) / (2.0 * step_s)
    if not repeat:
        return _centred_means(slope, half)
    padded = np.empty(slope.size + 2 * half)
    padded[:half] = slope[0]
    padded[half : half + slope.size] = slope
    padded[half + slope.size :] = slope[-1]
    return _centred_means(padded, half)[half : half + slope.size]


@compiled
def _derivative(values: Floats, step_s: float) -> Floats:
    """Return the central difference, one-sided at the ends."""
    last = values.size - 1
    slope = np.empty(values.size)
    slope[0] = (values[1] - values[0]) / step_s
    slope[last] = (values[last] - values[last - 1]) / step_s
    twice = 2.0 * step_s
    for index in range(1, last):
        slope[index] = (values[index + 1] - values[index - 1]) / twice
    return slope


@compiled
def _centred_means(values: Floats, half: int) -> Floats:
    """Return the mean of ``half`` values to each side, fewer (but as many on both sides) near the ends."""
    size = values.size
    means = np.zeros(size)
    inside = means[half : half + max(0, size - 2 * half)]
    # Offset by offset and over slices, so that the compiler vectorizes the inner loop.
    for offset in range(2 * half + 1):
        part = values[offset : offset + inside.size]
        for index in range(inside.size):
            inside[index] += part[index]
    count = 2.0 * half + 1.0
    for index in range(inside.size):
        inside[index] /= count
    for index in range(size):
        reach = min(half, index, size - 1 - index)
        if reach < half:
            means[index] = values[index - reach : index + reach + 1].sum() / (2 * reach + 1)
    return means
