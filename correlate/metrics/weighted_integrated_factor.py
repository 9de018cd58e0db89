"""The weighted integrated factor."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.metrics.reference_size import reference_peak

if TYPE_CHECKING:
    from correlate.pair import AlignedPair


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightedIntegratedFactor:
    """Agreement of two curves.

    Attributes
    ----------
    factor
        In [0, 1], 1 for equal curves, 0 where the signs are opposite throughout.
    """

    factor: float


def weighted_integrated_factor(pair: AlignedPair) -> WeightedIntegratedFactor:
    r"""Average, weighted by size, how far the smaller of two values falls short of the larger.

    .. math:: F = 1 - \sqrt{\frac{\sum \max(r^2, c^2)
              \left(1 - \frac{\max(0,\, r c)}{\max(r^2, c^2)}\right)^2}{\sum \max(r^2, c^2)}}

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate :math:`c`, shape ``(n,)``.

    Returns
    -------
    WeightedIntegratedFactor

    Raises
    ------
    SignalError
        The reference is zero throughout.

    References
    ----------
    .. [1] Hovenga, Spit, Uijldert, Dalenoort, SAE 2005-01-1307, "weighted integrated factor", from memory. A
       sample at which both are zero agrees and weighs nothing.

    Examples
    --------
    >>> from correlate.pair import AlignedPair
    >>> pair = AlignedPair(time=[0, 1, 2], reference=[0, 2, 4], candidate=[0, 1, 2])
    >>> weighted_integrated_factor(pair).factor
    0.5
    """
    peak = reference_peak(pair)
    reference, candidate = pair.reference / peak, pair.candidate / peak
    weight = np.maximum(reference**2, candidate**2)
    counted = weight > 0
    shortfall = 1.0 - np.maximum(0.0, reference * candidate)[counted] / weight[counted]
    mean = float((weight[counted] * shortfall**2).sum() / weight.sum())
    return WeightedIntegratedFactor(factor=max(0.0, 1.0 - math.sqrt(mean)))
