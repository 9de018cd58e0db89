"""Theil's inequality coefficient."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.metrics.reference_size import reference_peak

if TYPE_CHECKING:
    from correlate.pair import AlignedPair


@dataclass(frozen=True, slots=True, kw_only=True)
class Theil:
    """Inequality of two curves.

    Attributes
    ----------
    inequality
        In [0, 1]: 0 for equal curves, 1 for a turned sign or a candidate of zeros.
    """

    inequality: float


def theil(pair: AlignedPair) -> Theil:
    r"""Return the norm of the difference over the sum of the norms.

    .. math:: U = \frac{\sqrt{\sum (c - r)^2}}{\sqrt{\sum c^2} + \sqrt{\sum r^2}}

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate :math:`c`, shape ``(n,)``.

    Returns
    -------
    Theil

    Raises
    ------
    SignalError
        The reference is zero throughout.

    References
    ----------
    .. [1] Theil, "Economic forecasts and policy" (1961), inequality coefficient, from memory.

    Examples
    --------
    >>> from correlate.pair import AlignedPair
    >>> theil(AlignedPair(time=[0, 1], reference=[3, 4], candidate=[-3, -4])).inequality
    1.0
    """
    peak = reference_peak(pair)
    reference, candidate = pair.reference / peak, pair.candidate / peak
    sizes = float(np.linalg.norm(candidate)) + float(np.linalg.norm(reference))
    return Theil(inequality=min(1.0, float(np.linalg.norm(candidate - reference)) / sizes))
