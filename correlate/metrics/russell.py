"""Error factors after Russell: magnitude on a logarithmic scale, the same for too large and too small."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.metrics.inner_products import inner_products

if TYPE_CHECKING:
    from correlate.pair import AlignedPair


@dataclass(frozen=True, slots=True, kw_only=True)
class Russell:
    """Error factors.

    Attributes
    ----------
    magnitude
        In (-inf, inf), 0 is perfect; positive when the candidate is too large.
    phase
        In [0, 1]: 0 for scaled copies, 1 for a turned sign.
    comprehensive
        0 is perfect.
    """

    magnitude: float
    phase: float
    comprehensive: float


def russell(pair: AlignedPair) -> Russell:
    r"""Split the disagreement of two curves into magnitude and phase.

    .. math:: m = \frac{\sum c^2 - \sum r^2}{\sqrt{\sum r^2 \sum c^2}}, \qquad
              M = \mathrm{sign}(m) \log_{10}(1 + |m|), \qquad
              P = \frac{1}{\pi} \arccos \frac{\sum r c}{\sqrt{\sum r^2 \sum c^2}}, \qquad
              C = \sqrt{\tfrac{\pi}{4} (M^2 + P^2)}

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate :math:`c`, shape ``(n,)``.

    Returns
    -------
    Russell

    Raises
    ------
    SignalError
        The reference or the candidate is zero throughout.

    References
    ----------
    .. [1] Russell, "Error measures for comparing transient data, part I: development of a comprehensive error
       measure", 68th Shock and Vibration Symposium (1997), from memory.

    Examples
    --------
    >>> import numpy as np
    >>> from correlate.pair import AlignedPair
    >>> curve = np.array([0.0, 1.0, 2.0, 1.0, 0.0])
    >>> twice = russell(AlignedPair(time=np.arange(5.0), reference=curve, candidate=2 * curve))
    >>> half = russell(AlignedPair(time=np.arange(5.0), reference=2 * curve, candidate=curve))
    >>> round(twice.magnitude, 6), round(half.magnitude, 6)
    (0.39794, -0.39794)
    """
    products = inner_products(pair)
    size = products.ratio - 1.0 / products.ratio
    magnitude = math.copysign(math.log10(1.0 + abs(size)), size)
    phase = products.angle / math.pi
    comprehensive = math.sqrt(math.pi / 4.0) * math.hypot(magnitude, phase)
    return Russell(magnitude=magnitude, phase=phase, comprehensive=comprehensive)
