"""The error of a model within the confidence interval of repeated tests."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import SettingsError, SignalError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.metrics.repeats import AlignedRepeats

LEAST_REPEATS: Final = 3
"""Fewest repeats that give an interval worth stating (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ConfidenceInterval:
    """Estimated error of the model and its uncertainty from the repeats.

    Attributes
    ----------
    average_error
        Mean absolute error over the mean absolute value of the mean curve; 0 is perfect.
    average_half_width
        Half width of the confidence interval, averaged and divided in the same way.
    share_inside
        Share of the samples at which the error is no larger than the half width, in [0, 1].
    confidence
        Of the interval, two-sided.
    repeats
        Number of repeats.
    error
        Shape ``(n,)``: model less mean of the repeats, in their unit.
    half_width
        Shape ``(n,)``: of the confidence interval of the true error, in the same unit.
    """

    average_error: float
    average_half_width: float
    share_inside: float
    confidence: float
    repeats: int
    error: NDArray[np.float64]
    half_width: NDArray[np.float64]


def confidence_interval(repeats: AlignedRepeats, *, confidence: float = 0.90) -> ConfidenceInterval:
    r"""Estimate the error of a model against the mean of repeated tests, with its confidence interval.

    .. math:: \tilde E(t) = c(t) - \bar r(t), \qquad
              h(t) = t_{\alpha/2,\,k-1} \frac{s(t)}{\sqrt k}, \qquad
              \left|\frac{\tilde E}{\bar r}\right|_\mathrm{avg} = \frac{\sum |\tilde E|}{\sum |\bar r|}

    Parameters
    ----------
    repeats
        Three or more repeats :math:`r`; the mean of the runs is :math:`c`.
    confidence
        :math:`1 - \alpha`, in (0, 1).

    Returns
    -------
    ConfidenceInterval

    Raises
    ------
    SignalError
        Fewer than three repeats, or their mean is zero throughout.
    SettingsError
        The confidence is not between 0 and 1.

    Notes
    -----
    The paper divides by the mean at each instant and warns of means near zero, which every impact signal has;
    here the averages of error and mean are divided (choice made here).

    References
    ----------
    .. [1] Oberkampf, Barone, "Measures of agreement between computation and experiment: validation metrics",
       Journal of Computational Physics 217 (2006), from memory.

    Examples
    --------
    >>> from correlate.metrics.repeats import AlignedRepeats
    >>> repeats = AlignedRepeats(time=[0, 1], references=[[0, 9], [0, 10], [0, 11]], candidates=[[0, 12]])
    >>> found = confidence_interval(repeats)
    >>> found.average_error, round(float(found.half_width[1]), 3)
    (0.2, 1.686)
    """
    from scipy.stats import t  # noqa: PLC0415 - slow to import, needed only here

    count = repeats.references.shape[0]
    if count < LEAST_REPEATS:
        raise SignalError(
            f"{count} repeat(s) of the test are too few for a confidence interval",
            remedy=f"give {LEAST_REPEATS} or more",
        )
    if not 0 < confidence < 1:
        raise SettingsError(f"the confidence is {confidence}", remedy="give a number between 0 and 1")
    mean = repeats.references.mean(axis=0)
    size = float(np.abs(mean).sum())
    if size == 0.0:
        raise SignalError("the mean of the repeats is zero throughout", remedy="check the channel")
    error = repeats.candidates.mean(axis=0) - mean
    factor = float(t.ppf(0.5 + confidence / 2.0, count - 1)) / math.sqrt(count)
    half_width = factor * repeats.references.std(axis=0, ddof=1)
    return ConfidenceInterval(
        average_error=float(np.abs(error).sum()) / size,
        average_half_width=float(half_width.sum()) / size,
        share_inside=float(np.mean(np.abs(error) <= half_width)),
        confidence=confidence,
        repeats=count,
        error=error,
        half_width=half_width,
    )
