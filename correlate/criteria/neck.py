"""Criteria of the neck."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from correlate.criteria.result import CriterionResult, at_instant, checked_curves, checked_positive
from correlate.display import short_repr

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import ArrayLike


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
    """The loads each of which alone would give a value of 1.

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


NIC_LENGTH_M: Final = 0.2
"""Length by which the relative acceleration counts, m (Boström et al. 1996, from memory)."""


def nic(
    lower_acceleration_m_per_s2: ArrayLike, head_acceleration_m_per_s2: ArrayLike, *, step_s: float
) -> CriterionResult:
    r"""Return the neck injury criterion of rear impacts.

    .. math:: \mathrm{NIC} = \max_t\; 0.2\,a_\mathrm{rel} + v_\mathrm{rel}^2, \qquad
              a_\mathrm{rel} = a_\mathrm{T1} - a_\mathrm{head}, \quad
              v_\mathrm{rel} = \int a_\mathrm{rel}\,dt

    Parameters
    ----------
    lower_acceleration_m_per_s2
        :math:`a_\mathrm{T1}`, first thoracic vertebra, +x forward, shape ``(n,)``, m/s².
    head_acceleration_m_per_s2
        :math:`a_\mathrm{head}`, at the centre of gravity, +x forward, shape ``(n,)``, m/s².
    step_s
        Sampling interval, s.

    Returns
    -------
    CriterionResult
        ``value`` in m²/s² at its instant.

    Raises
    ------
    SignalError
        Unequal lengths, fewer than two samples, or one that is not finite.

    Notes
    -----
    The curves begin at rest relative to each other; the integral is the trapezoidal one. The criterion is
    meant up to the end of the contact of head and head restraint: cut the curves there.

    References
    ----------
    .. [1] Boström, Svensson, Aldman, Hansson, Håland, Lövsund, Seeman, Suneson, Säljö, Örtengren, "A new neck
       injury criterion candidate based on injury findings in the cervical spinal ganglia after experimental
       neck extension trauma", IRCOBI (1996). From memory.

    Examples
    --------
    >>> round(nic([50.0] * 101, [0.0] * 101, step_s=1e-3).value, 9)
    35.0
    """
    lower, head = checked_curves(
        step_s,
        lower_acceleration_m_per_s2=lower_acceleration_m_per_s2,
        head_acceleration_m_per_s2=head_acceleration_m_per_s2,
    )
    relative = lower - head
    velocity = np.concatenate([[0.0], np.cumsum(0.5 * (relative[1:] + relative[:-1]))]) * step_s
    course = NIC_LENGTH_M * relative + velocity**2
    index = int(np.argmax(course))
    return at_instant(course[index], index, step_s)
