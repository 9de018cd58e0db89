"""Criteria of chest, neck and leg."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from correlate.criteria.result import CriterionResult, at_instant, checked_curves, checked_positive
from correlate.display import short_repr
from correlate.errors import SignalError

if TYPE_CHECKING:
    from collections.abc import Mapping

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


NijCase = Literal["tension-extension", "tension-flexion", "compression-extension", "compression-flexion"]

_CASES: Final[tuple[tuple[NijCase, int, int], ...]] = (
    ("tension-extension", 1, -1),
    ("tension-flexion", 1, 1),
    ("compression-extension", -1, -1),
    ("compression-flexion", -1, 1),
)


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class NeckIntercepts:
    """The loads that alone would give a value of 1.

    Attributes
    ----------
    tension_N, compression_N
        Axial force, N.
    flexion_Nm, extension_Nm
        Moment about the occipital condyle, N·m.
    """

    tension_N: float  # noqa: N815 - the unit is written as it is
    compression_N: float  # noqa: N815
    flexion_Nm: float  # noqa: N815
    extension_Nm: float  # noqa: N815

    def __post_init__(self) -> None:
        """Refuse an intercept of zero or less."""
        for name in ("tension_N", "compression_N", "flexion_Nm", "extension_Nm"):
            checked_positive(name, getattr(self, name))


ADULT_MALE_NECK: Final = NeckIntercepts(
    tension_N=6806.0, compression_N=6160.0, flexion_Nm=310.0, extension_Nm=135.0
)
"""Mid-size adult male in position (49 CFR 571.208 S6.6, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NijResult(CriterionResult):
    """The largest value of the four cases.

    Attributes
    ----------
    case
        The case that governs.
    cases
        Largest value of each case, 0 where the neck is never loaded that way.
    """

    case: NijCase
    cases: Mapping[NijCase, float]


def nij(
    axial_force_N: ArrayLike,
    moment_Nm: ArrayLike,
    *,
    step_s: float,
    intercepts: NeckIntercepts = ADULT_MALE_NECK,
) -> NijResult:
    r"""Return the neck injury criterion.

    .. math:: N_{ij} = \frac{|F_z|}{F_{zc}} + \frac{|M_{oc}|}{M_{yc}}

    At each instant the signs of force and moment choose one of four cases.

    Parameters
    ----------
    axial_force_N
        :math:`F_z` of the upper neck, tension positive, shape ``(n,)``, N, CFC 600.
    moment_Nm
        :math:`M_{oc}` about the occipital condyle, flexion positive, shape ``(n,)``, N·m, CFC 600.
    step_s
        Sampling interval, s.
    intercepts
        :math:`F_{zc}`, :math:`M_{yc}` of the device.

    Returns
    -------
    NijResult
        ``value`` is dimensionless, at its instant.

    Raises
    ------
    SignalError
        Unequal lengths, fewer than two samples, or one that is not finite.

    References
    ----------
    .. [1] 49 CFR 571.208 S6.6; intercepts from memory. Polarity: SAE J211-1 and J1733, from memory.

    Examples
    --------
    >>> found = nij([0.0, 3403.0], [0.0, -67.5], step_s=1e-4)
    >>> found.value, found.case
    (1.0, 'tension-extension')
    """
    force, moment = checked_curves(step_s, axial_force_N=axial_force_N, moment_Nm=moment_Nm)
    # Zero force or moment belongs to both of its cases with the same value; the first is named.
    force_part = np.where(force >= 0, force / intercepts.tension_N, -force / intercepts.compression_N)
    moment_part = np.where(moment > 0, moment / intercepts.flexion_Nm, -moment / intercepts.extension_Nm)
    course = force_part + moment_part
    largest: dict[NijCase, float] = {}
    for name, force_sign, moment_sign in _CASES:
        loaded = (force * force_sign >= 0) & (moment * moment_sign >= 0)
        largest[name] = float(course[loaded].max()) if loaded.any() else 0.0
    index = int(np.argmax(course))
    case = max(largest, key=lambda name: largest[name])
    time_s = index * float(step_s)
    return NijResult(
        value=float(course[index]),
        start_s=time_s,
        end_s=time_s,
        case=case,
        cases=MappingProxyType(largest),
    )


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
    index = int(np.argmin(curve))
    return at_instant(max(0.0, -float(curve[index])), index, step_s)


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
