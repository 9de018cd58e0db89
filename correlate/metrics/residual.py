"""The residual measure: mean and standard deviation of the error over the reference's peak."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.metrics.reference_size import reference_peak

if TYPE_CHECKING:
    from correlate.pair import AlignedPair

ACCEPTED_MEAN: Final = 0.05
"""Largest absolute mean accepted in roadside-safety practice (NCHRP Web-Only Document 179, from memory)."""
ACCEPTED_DEVIATION: Final = 0.35
"""Largest standard deviation accepted there (same source, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Residual:
    """Analysis of variance of the error.

    Attributes
    ----------
    mean
        Mean residual over the reference's peak; positive when the candidate is too large, 0 is perfect.
    deviation
        Standard deviation of the residual over the reference's peak; 0 is perfect.
    """

    mean: float
    deviation: float

    @property
    def accepted(self) -> bool:
        """Whether both are within :data:`ACCEPTED_MEAN` and :data:`ACCEPTED_DEVIATION`."""
        return abs(self.mean) <= ACCEPTED_MEAN and self.deviation <= ACCEPTED_DEVIATION


def residual(pair: AlignedPair) -> Residual:
    r"""Return mean and standard deviation of the residuals.

    .. math:: e_i = \frac{c_i - r_i}{\max |r|}, \qquad \bar e = \frac{1}{n} \sum e_i, \qquad
              \sigma = \sqrt{\frac{\sum (e_i - \bar e)^2}{n - 1}}

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate :math:`c`, shape ``(n,)``.

    Returns
    -------
    Residual

    Raises
    ------
    SignalError
        The reference is zero throughout.

    References
    ----------
    .. [1] Ray, "Repeatability of full-scale crash tests and criteria for validating simulation results",
       Transportation Research Record 1528 (1996); NCHRP Web-Only Document 179 (2010). From memory; the
       sign of the residual is turned here, so that too large is positive.

    Examples
    --------
    >>> from correlate.pair import AlignedPair
    >>> found = residual(AlignedPair(time=[0, 1, 2], reference=[0, 10, 0], candidate=[1, 11, 1]))
    >>> round(found.mean, 12), found.deviation < 1e-12
    (0.1, True)
    """
    errors = (pair.candidate - pair.reference) / reference_peak(pair)
    return Residual(mean=float(errors.mean()), deviation=float(errors.std(ddof=1)))
