"""The severity index."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from correlate.criteria.arrays import checked_curves
from correlate.criteria.result import CriterionResult

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


def severity_index(acceleration_g: ArrayLike, *, step_s: float) -> CriterionResult:
    r"""Return the severity index.

    .. math:: \mathrm{SI} = \int a^{2.5}\,dt

    Parameters
    ----------
    acceleration_g
        Resultant acceleration :math:`a`, shape ``(n,)``, g; below zero it counts as zero.
    step_s
        Sampling interval, s.

    Returns
    -------
    CriterionResult
        The stretch of time is that of the whole curve.

    Raises
    ------
    SignalError
        Fewer than two samples, or one that is not finite.

    References
    ----------
    .. [1] Gadd, "Use of a weighted-impulse criterion for estimating injury hazard", SAE 660793 (1966);
       trapezoidal rule.

    Examples
    --------
    >>> import numpy as np
    >>> round(severity_index(np.full(101, 100.0), step_s=1e-4).value, 9)
    1000.0
    """
    (curve,) = checked_curves(step_s, acceleration_g=acceleration_g)
    powers = np.maximum(curve, 0.0) ** 2.5
    area = step_s * float(powers.sum() - 0.5 * (powers[0] + powers[-1]))
    return CriterionResult(value=area, start_s=0.0, end_s=(curve.size - 1) * float(step_s))
