"""Corridor score: how near the candidate is to the reference at each instant."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.metrics.iso18571.settings import RatingSettings
    from correlate.pair import AlignedPair


@dataclass(frozen=True, slots=True)
class CorridorScore:
    """The corridor score and what it was made of.

    Attributes
    ----------
    score
        In [0, 1], 1 is best.
    reference_peak
        Largest absolute value of the reference, in its unit.
    inner_half_width, outer_half_width
        In the unit of the reference.
    """

    score: float
    reference_peak: float
    inner_half_width: float
    outer_half_width: float


def corridor_scores(pair: AlignedPair, settings: RatingSettings) -> NDArray[np.float64]:
    r"""Score every sample by its distance from the reference.

    .. math:: z_i = \mathrm{clip}\left(\frac{b\,T_n - |T_i - C_i|}{b\,T_n - a\,T_n}, 0, 1\right)^k,
              \qquad T_n = \max|T|

    Parameters
    ----------
    pair
        Reference :math:`T` and candidate :math:`C`, shape ``(n,)``.
    settings
        Half widths :math:`a`, :math:`b` and exponent :math:`k`.

    Returns
    -------
    numpy.ndarray
        Shape ``(n,)``, each in [0, 1].

    References
    ----------
    .. [1] ISO/TS 18571:2014, corridor score, from memory.
    """
    peak = float(np.abs(pair.reference).max())
    inner, outer = settings.inner_half_width * peak, settings.outer_half_width * peak
    error = np.abs(pair.reference - pair.candidate)
    nearness = np.clip((outer - error) / (outer - inner), 0.0, 1.0)
    return np.asarray(nearness**settings.corridor_exponent, dtype=np.float64)


def corridor_score(pair: AlignedPair, settings: RatingSettings) -> CorridorScore:
    """Average the score of every sample.

    Parameters
    ----------
    pair
        Shape ``(n,)``; the reference is not zero throughout.
    settings
        Half widths and exponent.

    Returns
    -------
    CorridorScore

    References
    ----------
    .. [1] ISO/TS 18571:2014, corridor score, from memory.
    """
    peak = float(np.abs(pair.reference).max())
    return CorridorScore(
        score=float(corridor_scores(pair, settings).mean()),
        reference_peak=peak,
        inner_half_width=settings.inner_half_width * peak,
        outer_half_width=settings.outer_half_width * peak,
    )
