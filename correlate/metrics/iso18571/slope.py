"""Slope score: whether the curves rise and fall alike."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.compiling import compiled
from correlate.metrics.iso18571.errors_to_scores import score_of_error

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.metrics.iso18571.settings import RatingSettings

    Floats = NDArray[np.float64]


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
    inner = max(0, size - 2 * half)
    # Offset by offset, so that the compiler makes vector instructions of the loop over samples.
    for offset in range(2 * half + 1):
        for index in range(inner):
            means[half + index] += values[offset + index]
    for index in range(inner):
        means[half + index] /= 2 * half + 1
    for index in range(size):
        reach = min(half, index, size - 1 - index)
        if reach < half:
            means[index] = values[index - reach : index + reach + 1].sum() / (2 * reach + 1)
    return means
