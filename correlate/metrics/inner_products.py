"""Inner products and sizes that measures share."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.errors import SignalError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.pair import AlignedPair


@dataclass(frozen=True, slots=True)
class InnerProducts:
    """Two curves as vectors.

    Attributes
    ----------
    ratio
        Norm of the candidate over norm of the reference, above 0.
    angle
        Between the two, in [0, π] rad: 0 for scaled copies, π for a turned sign.
    """

    ratio: float
    angle: float


def inner_products(pair: AlignedPair) -> InnerProducts:
    r"""Compare two curves as vectors.

    .. math:: \frac{\lVert c \rVert}{\lVert r \rVert}, \qquad
              \alpha = 2\,\mathrm{atan2}\left(\left\lVert \hat c - \hat r \right\rVert,
              \left\lVert \hat c + \hat r \right\rVert\right)

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate :math:`c`, shape ``(n,)``.

    Returns
    -------
    InnerProducts

    Raises
    ------
    SignalError
        The reference or the candidate is zero throughout.

    Notes
    -----
    The angle is :math:`\arccos(\hat r \cdot \hat c)` by a formula that loses no digits near 0 and π.

    References
    ----------
    .. [1] Kahan, "How futile are mindless assessments of roundoff in floating-point computation?" (2006),
       angle between two vectors, from memory.

    Examples
    --------
    >>> import numpy as np
    >>> from correlate.pair import AlignedPair
    >>> curve = np.array([0.0, 3.0, -4.0])
    >>> found = inner_products(AlignedPair(time=[0, 1, 2], reference=curve, candidate=-2 * curve))
    >>> found.ratio, round(found.angle / np.pi, 12)
    (2.0, 1.0)
    """
    reference, size_r = unit_vector(pair.reference, "reference")
    candidate, size_c = unit_vector(pair.candidate, "candidate")
    apart = float(np.linalg.norm(candidate - reference))
    together = float(np.linalg.norm(candidate + reference))
    return InnerProducts(ratio=size_c / size_r, angle=2.0 * math.atan2(apart, together))


def unit_vector(curve: NDArray[np.float64], name: str) -> tuple[NDArray[np.float64], float]:
    """Return a curve as a vector of length 1, and its length.

    Parameters
    ----------
    curve
        Shape ``(n,)``.
    name
        For the message.

    Returns
    -------
    vector : numpy.ndarray
        Shape ``(n,)``.
    norm : float
        In the unit of the curve.

    Raises
    ------
    SignalError
        The curve is zero throughout.

    Examples
    --------
    >>> import numpy as np
    >>> unit_vector(np.array([0.0, 3.0, 4.0]), "reference")[1]
    5.0
    """
    # The peak is taken out first, so that no square of a small or large sample is lost.
    peak = float(np.abs(curve).max())
    if peak == 0.0:
        raise SignalError(
            f"the {name} is zero throughout the interval, so it has neither size nor phase",
            remedy="check the channel and the interval of evaluation",
        )
    scaled = curve / peak
    norm = float(np.linalg.norm(scaled))
    return scaled / norm, norm * peak


def reference_peak(pair: AlignedPair) -> float:
    """Return the largest absolute value of the reference.

    Parameters
    ----------
    pair
        Shape ``(n,)``.

    Returns
    -------
    float
        Above 0.

    Raises
    ------
    SignalError
        The reference is zero throughout.

    Examples
    --------
    >>> from correlate.pair import AlignedPair
    >>> reference_peak(AlignedPair(time=[0, 1, 2], reference=[1, -5, 2], candidate=[0, 0, 0]))
    5.0
    """
    peak = float(np.abs(pair.reference).max())
    if peak == 0.0:
        raise SignalError(
            "the reference is zero throughout the interval, so nothing can be measured against it",
            remedy="check the channel and the interval of evaluation",
        )
    return peak
