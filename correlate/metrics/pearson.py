"""Pearson's correlation coefficient."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.errors import SignalError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.pair import AlignedPair


@dataclass(frozen=True, slots=True, kw_only=True)
class Pearson:
    """Linear correlation.

    Attributes
    ----------
    correlation
        In [-1, 1], 1 when the candidate is the reference times a positive number plus an offset.
    """

    correlation: float


def pearson(pair: AlignedPair) -> Pearson:
    r"""Return the correlation of the samples.

    .. math:: \rho = \frac{\sum (r - \bar r)(c - \bar c)}{\sqrt{\sum (r - \bar r)^2 \sum (c - \bar c)^2}}

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate :math:`c`, shape ``(n,)``.

    Returns
    -------
    Pearson

    Raises
    ------
    SignalError
        One of the curves is constant.

    References
    ----------
    .. [1] Pearson 1895; any textbook of statistics.

    Examples
    --------
    >>> from correlate.pair import AlignedPair
    >>> pair = AlignedPair(time=[0, 1, 2], reference=[0, 1, 2], candidate=[5, 3, 1])
    >>> round(pearson(pair).correlation, 12)
    -1.0
    """
    product = float(_standard(pair.reference, "reference") @ _standard(pair.candidate, "candidate"))
    return Pearson(correlation=float(np.clip(product, -1.0, 1.0)))


def _standard(curve: NDArray[np.float64], name: str) -> NDArray[np.float64]:
    """Return the deviations from the mean as a vector of length 1."""
    if np.ptp(curve) == 0.0:
        raise SignalError(
            f"the {name} is constant throughout the interval, so it correlates with nothing",
            remedy="check the channel and the interval of evaluation",
        )
    deviation = (curve - curve.mean()) / np.ptp(curve)
    return np.asarray(deviation / np.linalg.norm(deviation), dtype=np.float64)
