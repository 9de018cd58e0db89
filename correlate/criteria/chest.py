"""Criteria of the chest: compression, its rate, and the viscous criterion."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.criteria.result import CriterionResult, at_instant, checked_curves, checked_positive
from correlate.errors import SignalError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


VISCOUS_SCALE: Final = 1.3
"""Scale of the viscous criterion, adult male (ECE R94 annex 4 and SAE J1727, from memory)."""
CHEST_DEPTH_M: Final = 0.229
"""Depth of half the rib cage in the viscous criterion, adult male, m (same sources, from memory)."""
_FORMULA_SAMPLES: Final = 5


def chest_deflection(deflection_mm: ArrayLike, *, step_s: float) -> CriterionResult:
    """Return the largest compression of the chest.

    Parameters
    ----------
    deflection_mm
        Sternum towards spine, positive when pushed in, shape ``(n,)``, mm. A channel with +x forward has to
        be turned in sign first.
    step_s
        Sampling interval, s.

    Returns
    -------
    CriterionResult
        ``value`` in mm at its instant.

    Raises
    ------
    SignalError
        Fewer than two samples, or one that is not finite.

    References
    ----------
    .. [1] 49 CFR 571.208 S6.4.

    Examples
    --------
    >>> chest_deflection([0.0, 12.0, 41.5, 30.0], step_s=0.01)
    CriterionResult(value=41.5, start_s=0.02, end_s=0.02)
    """
    (curve,) = checked_curves(step_s, deflection_mm=deflection_mm)
    index = int(np.argmax(curve))
    return at_instant(curve[index], index, step_s)


def chest_deflection_rate(deflection_mm: ArrayLike, *, step_s: float) -> CriterionResult:
    r"""Return the largest rate of compression.

    .. math:: V_i = \frac{8(D_{i+1} - D_{i-1}) - (D_{i+2} - D_{i-2})}{12\,\Delta t}

    Parameters
    ----------
    deflection_mm
        :math:`D`, positive when pushed in, shape ``(n,)`` of five or more samples, mm.
    step_s
        Sampling interval, s.

    Returns
    -------
    CriterionResult
        ``value`` in m/s at its instant; the first two and the last two samples have no rate.

    Raises
    ------
    SignalError
        Fewer than five samples, or one that is not finite.

    References
    ----------
    .. [1] ECE R94 annex 4, the rate in the viscous criterion; SAE J1727.

    Examples
    --------
    >>> round(chest_deflection_rate([0.0, 1.0, 2.0, 3.0, 4.0, 5.0], step_s=1e-3).value, 12)
    1.0
    """
    (curve,) = checked_curves(step_s, deflection_mm=deflection_mm)
    rate = _rate(curve, step_s) * 1e-3
    index = int(np.argmax(rate))
    return at_instant(rate[index], index + 2, step_s)


def viscous_criterion(
    deflection_mm: ArrayLike,
    *,
    step_s: float,
    scale: float = VISCOUS_SCALE,
    depth_m: float = CHEST_DEPTH_M,
) -> CriterionResult:
    r"""Return the viscous criterion.

    .. math:: \mathrm{VC} = \max_i\; s\,V_i\,\frac{D_i}{L}

    Parameters
    ----------
    deflection_mm
        :math:`D`, positive when pushed in, shape ``(n,)`` of five or more samples, mm.
    step_s
        Sampling interval, s.
    scale
        :math:`s`.
    depth_m
        :math:`L`, m.

    Returns
    -------
    CriterionResult
        ``value`` in m/s at its instant, with :math:`V` as in :func:`chest_deflection_rate`.

    Raises
    ------
    SignalError
        Fewer than five samples, or one that is not finite.

    References
    ----------
    .. [1] ECE R94 annex 4; SAE J1727. The constants are from memory.

    Examples
    --------
    >>> ramp = [2.0 * index for index in range(11)]
    >>> round(viscous_criterion(ramp, step_s=1e-3, scale=1.0, depth_m=0.1).value, 12)
    0.32
    """
    (curve,) = checked_curves(step_s, deflection_mm=deflection_mm)
    factor = checked_positive("scale", scale) / checked_positive("depth_m", depth_m) * 1e-6
    course = factor * _rate(curve, step_s) * curve[2:-2]
    index = int(np.argmax(course))
    return at_instant(course[index], index + 2, step_s)


def _rate(curve: Floats, step_s: float) -> Floats:
    """Return the five-point rate of all samples but two at either end."""
    if curve.size < _FORMULA_SAMPLES:
        raise SignalError(
            f"{curve.size} samples are too few for the five-point rate",
            where="deflection_mm",
            remedy="give five or more",
        )
    return np.asarray(
        (8.0 * (curve[3:-1] - curve[1:-3]) - (curve[4:] - curve[:-4])) / (12.0 * step_s), dtype=np.float64
    )
