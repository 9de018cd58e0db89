"""The normalised root mean square error."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.errors import SignalError

if TYPE_CHECKING:
    from correlate.pair import AlignedPair


@dataclass(frozen=True, slots=True, kw_only=True)
class NormalisedRms:
    """Root mean square error.

    Attributes
    ----------
    error
        Over the range of the reference; 0 is perfect.
    root_mean_square
        In the unit of the curves.
    """

    error: float
    root_mean_square: float


def normalised_rms(pair: AlignedPair) -> NormalisedRms:
    r"""Return the root mean square error over the range of the reference.

    .. math:: E = \frac{\sqrt{\frac{1}{n}\sum (c - r)^2}}{\max r - \min r}

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate :math:`c`, shape ``(n,)``.

    Returns
    -------
    NormalisedRms

    Raises
    ------
    SignalError
        The reference is constant.

    References
    ----------
    .. [1] Common practice, no source; dividing by the range is a choice made here.

    Examples
    --------
    >>> from correlate.pair import AlignedPair
    >>> normalised_rms(AlignedPair(time=[0, 1], reference=[0, 10], candidate=[1, 11])).error
    0.1
    """
    extent = float(np.ptp(pair.reference))
    if extent == 0.0:
        raise SignalError(
            "the reference is constant throughout the interval, so it has no range to measure against",
            remedy="check the channel and the interval of evaluation",
        )
    difference = (pair.candidate - pair.reference) / extent
    error = math.sqrt(float(np.mean(difference**2)))
    return NormalisedRms(error=error, root_mean_square=error * extent)
