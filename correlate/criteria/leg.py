"""Criteria of the leg."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.criteria.curve_measures import largest
from correlate.criteria.result import CriterionResult, at_instant, checked_curves, checked_positive

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


TIBIA_MOMENT_NM: Final = 225.0
"""Critical bending moment, adult male, N·m (ECE R94 annex 4, from memory)."""
TIBIA_FORCE_N: Final = 35_900.0
"""Critical compression, adult male, N (ECE R94 annex 4, from memory)."""


def femur_force(axial_force_N: ArrayLike, *, step_s: float) -> CriterionResult:
    """Return the largest compression of the femur.

    Parameters
    ----------
    axial_force_N
        Femur force, tension positive, shape ``(n,)``, N, CFC 600.
    step_s
        Sampling interval, s.

    Returns
    -------
    CriterionResult
        ``value`` in N, positive, at its instant; 0 where the femur is never compressed.

    Raises
    ------
    SignalError
        Fewer than two samples, or one that is not finite.

    References
    ----------
    .. [1] 49 CFR 571.208 S6.5.

    Examples
    --------
    >>> femur_force([0.0, -4200.0, 300.0], step_s=1e-3)
    CriterionResult(value=4200.0, start_s=0.001, end_s=0.001)
    """
    (curve,) = checked_curves(step_s, axial_force_N=axial_force_N)
    return largest(-curve, step_s=step_s)


def tibia_index(
    moment_x_Nm: ArrayLike,
    moment_y_Nm: ArrayLike,
    axial_force_N: ArrayLike,
    *,
    step_s: float,
    critical_moment_Nm: float = TIBIA_MOMENT_NM,
    critical_force_N: float = TIBIA_FORCE_N,
) -> CriterionResult:
    r"""Return the tibia index at one end of a tibia.

    .. math:: \mathrm{TI} = \max_t \left|\frac{M_R}{M_c}\right| + \left|\frac{F_z}{F_c}\right|,
              \qquad M_R = \sqrt{M_x^2 + M_y^2}

    Parameters
    ----------
    moment_x_Nm, moment_y_Nm
        Bending moments, shape ``(n,)``, N·m, CFC 600.
    axial_force_N
        :math:`F_z`, shape ``(n,)``, N, CFC 600.
    step_s
        Sampling interval, s.
    critical_moment_Nm, critical_force_N
        :math:`M_c` and :math:`F_c` of the device.

    Returns
    -------
    CriterionResult
        ``value`` is dimensionless, at its instant.

    Raises
    ------
    SignalError
        Unequal lengths, fewer than two samples, or one that is not finite.

    References
    ----------
    .. [1] ECE R94 annex 4; formula and constants from memory.

    Examples
    --------
    >>> round(tibia_index([0, 135], [0, 180], [0, -3590], step_s=1e-3).value, 9)
    1.1
    """
    moment_x, moment_y, force = checked_curves(
        step_s, moment_x_Nm=moment_x_Nm, moment_y_Nm=moment_y_Nm, axial_force_N=axial_force_N
    )
    bending = np.hypot(moment_x, moment_y) / checked_positive("critical_moment_Nm", critical_moment_Nm)
    course = bending + np.abs(force) / checked_positive("critical_force_N", critical_force_N)
    index = int(np.argmax(course))
    return at_instant(course[index], index, step_s)
