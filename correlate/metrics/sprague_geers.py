"""Magnitude, phase and comprehensive error after Sprague and Geers."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.metrics.inner_products import inner_products

if TYPE_CHECKING:
    from correlate.pair import AlignedPair

ACCEPTED: Final = 0.40
"""Largest magnitude, phase and comprehensive error accepted in roadside-safety practice (NCHRP Web-Only
Document 179, 2010, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpragueGeers:
    """Error factors.

    Attributes
    ----------
    magnitude
        In [-1, inf): 0.2 means 20 % too large.
    phase
        In [0, 1]: 0 for scaled copies, 1 for a turned sign.
    comprehensive
        Root of the sum of squares of both, 0 is perfect.
    """

    magnitude: float
    phase: float
    comprehensive: float

    @property
    def accepted(self) -> bool:
        """Whether all three are within :data:`ACCEPTED`."""
        return max(abs(self.magnitude), self.phase, self.comprehensive) <= ACCEPTED


def sprague_geers(pair: AlignedPair) -> SpragueGeers:
    r"""Split the disagreement of two curves into magnitude and phase.

    .. math:: M = \sqrt{\frac{\sum c^2}{\sum r^2}} - 1, \qquad
              P = \frac{1}{\pi} \arccos \frac{\sum r c}{\sqrt{\sum r^2 \sum c^2}}, \qquad
              C = \sqrt{M^2 + P^2}

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate :math:`c`, shape ``(n,)``.

    Returns
    -------
    SpragueGeers

    Raises
    ------
    SignalError
        The reference or the candidate is zero throughout.

    References
    ----------
    .. [1] Sprague, Geers, Shock and Vibration 11 (2004), from memory. Integrals over time are sums over
       samples here: the constant step cancels.

    Examples
    --------
    >>> import numpy as np
    >>> from correlate.pair import AlignedPair
    >>> curve = np.array([0.0, 1.0, 2.0, 1.0, 0.0])
    >>> found = sprague_geers(AlignedPair(time=np.arange(5.0), reference=curve, candidate=1.2 * curve))
    >>> round(found.magnitude, 12), round(found.phase, 12)
    (0.2, 0.0)
    """
    products = inner_products(pair)
    magnitude, phase = products.ratio - 1.0, products.angle / math.pi
    return SpragueGeers(magnitude=magnitude, phase=phase, comprehensive=math.hypot(magnitude, phase))
