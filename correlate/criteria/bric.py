"""The brain injury criterion BrIC."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.criteria.arrays import checked_curves, checked_positive
from correlate.criteria.result import CriterionResult

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

CRITICAL_RATES: Final = (66.25, 56.45, 42.87)
"""Critical angular velocities about x, y and z, rad/s (Takhounts et al. 2013, from memory)."""


def bric(
    rate_x_rad_per_s: ArrayLike,
    rate_y_rad_per_s: ArrayLike,
    rate_z_rad_per_s: ArrayLike,
    *,
    step_s: float,
    critical_rad_per_s: tuple[float, float, float] = CRITICAL_RATES,
) -> CriterionResult:
    r"""Return the brain injury criterion.

    .. math:: \mathrm{BrIC} = \sqrt{\sum_{i=x,y,z} \left(\frac{\max_t |\omega_i|}{\omega_{ic}}\right)^2}

    Parameters
    ----------
    rate_x_rad_per_s, rate_y_rad_per_s, rate_z_rad_per_s
        Angular velocity :math:`\omega` of the head, shape ``(n,)``, rad/s, CFC 60.
    step_s
        Sampling interval, s.
    critical_rad_per_s
        :math:`\omega_{ic}`, rad/s.

    Returns
    -------
    CriterionResult
        ``value`` is dimensionless. The maxima of the axes need not coincide: the times run from the first of
        them to the last.

    Raises
    ------
    SignalError
        Unequal lengths, fewer than two samples, or one that is not finite.

    References
    ----------
    .. [1] Takhounts, Craig, Moorhouse, McFadden, Hasija, "Development of brain injury criteria (BrIC)", Stapp
       Car Crash Journal 57 (2013). Constants from memory.

    Examples
    --------
    >>> round(bric([0, 66.25], [0, 56.45], [42.87, 0], step_s=1e-3).value ** 2, 12)
    3.0
    """
    curves = checked_curves(
        step_s,
        rate_x_rad_per_s=rate_x_rad_per_s,
        rate_y_rad_per_s=rate_y_rad_per_s,
        rate_z_rad_per_s=rate_z_rad_per_s,
    )
    for axis, critical in zip("xyz", critical_rad_per_s, strict=True):
        checked_positive(f"critical_rad_per_s, axis {axis}", critical)
    indices = [int(np.argmax(np.abs(curve))) for curve in curves]
    shares = [
        abs(float(curve[index])) / critical
        for curve, index, critical in zip(curves, indices, critical_rad_per_s, strict=True)
    ]
    return CriterionResult(
        value=math.hypot(*shares), start_s=min(indices) * float(step_s), end_s=max(indices) * float(step_s)
    )
