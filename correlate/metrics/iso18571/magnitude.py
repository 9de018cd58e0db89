"""Magnitude score: the difference in size that is left when timing is warped away."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.compiling import compiled
from correlate.metrics.iso18571.errors_to_scores import score_of_error
from correlate.metrics.warping import best_path as compiled_path
from correlate.metrics.warping import stride_of, warp

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from correlate.metrics.iso18571.settings import RatingSettings

    Floats = NDArray[np.float64]


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
    distance, difference, total = path_sums(reference, candidate, reaches, stride_of(band), candidate_first)
    error, score = score_of_error(difference, total, settings.magnitude_limit, settings.zero_reference)
    return MagnitudeScore(score, error, difference, total, distance, band)


@compiled
def path_sums(
    reference: Floats,
    candidate: Floats,
    band: int,
    stride: int,
    candidate_first: bool,
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

    Returns
    -------
    distance, difference, total : float
    """
    first, second = (candidate, reference) if candidate_first else (reference, candidate)
    distance, path = compiled_path(first, second, band, stride)
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
