"""Force laws of the virtual model, in kN, mm and ms; simpler than the hardware, and of other form."""

import math


def layer_indentation(depth: float, *, modulus: float, radius: float, thickness: float) -> float:
    r"""Sphere pressed into a thin elastic layer (foundation of independent springs).

    .. math:: F = \pi E R \delta^2 / h

    Parameters
    ----------
    depth
        Indentation [mm]; no force without it.
    modulus
        ``E`` [kN/mm^2].
    radius, thickness
        ``R`` and ``h`` [mm].

    Returns
    -------
    float
        Force [kN].

    References
    ----------
    .. [1] Johnson, Contact Mechanics (1985), chapter 4.3, elastic foundation; from memory.
    """
    return math.pi * modulus * radius * depth * depth / thickness if depth > 0.0 else 0.0


def elastic_pad(depth: float, *, modulus: float, area: float, thickness: float) -> float:
    r"""Flat pad on a rigid backing.

    .. math:: F = E A\,\delta / h

    Parameters
    ----------
    depth
        Compression [mm]; no force without it.
    modulus
        ``E`` [kN/mm^2].
    area, thickness
        ``A`` [mm^2] and ``h`` [mm].

    Returns
    -------
    float
        Force [kN]; Hooke's law.
    """
    return modulus * area * depth / thickness if depth > 0.0 else 0.0


def rate_factor(rate: float, *, coefficient: float, reference: float) -> float:
    r"""Logarithmic rate effect: stiffer going in, softer coming out.

    .. math:: 1 + C\,\operatorname{sgn}(v)\ln(1 + |v|/v_0), \text{ never below 0}

    Parameters
    ----------
    rate
        Rate of deformation [mm/ms].
    coefficient, reference
        ``C`` [-] and ``v_0`` [mm/ms].

    Returns
    -------
    float
        Factor [-].

    Notes
    -----
    Invented for the demo; logarithmic rate effects are common practice, no source.
    """
    return max(0.0, 1.0 + math.copysign(coefficient * math.log1p(abs(rate) / reference), rate))


def block_foam(depth: float, *, modulus: float, area: float, thickness: float, densification: float) -> float:
    r"""Foam block under a flat face.

    .. math:: F = E A\,\varepsilon\,\exp\left[(\varepsilon/\varepsilon_d)^4\right]

    Parameters
    ----------
    depth
        Compression [mm]; no force without it.
    modulus
        ``E`` [kN/mm^2].
    area, thickness
        ``A`` [mm^2], thickness [mm].
    densification
        Strain ``eps_d`` [-] where the force is e times the linear one.

    Returns
    -------
    float
        Force [kN].

    Notes
    -----
    Invented for the demo.
    """
    if depth <= 0.0:
        return 0.0
    strain = depth / thickness
    return modulus * area * strain * math.exp(min((strain / densification) ** 4, 50.0))


def spring_and_dashpot(deformation: float, rate: float, *, stiffness: float, damping: float) -> float:
    r"""Linear spring beside a linear dashpot.

    .. math:: F = k x + c \dot x

    Parameters
    ----------
    deformation, rate
        Deformation [mm] (or angle [rad]) and rate [mm/ms] (or [rad/ms]).
    stiffness, damping
        ``k`` [kN/mm] and ``c`` [kN*ms/mm] (or moments a radian).

    Returns
    -------
    float
        Force [kN] (or moment [kN*mm]).

    References
    ----------
    .. [1] Kelvin and Voigt's element, in any textbook of viscoelasticity.
    """
    return stiffness * deformation + damping * rate


def hardening_rib(compression: float, *, stiffness: float, reference: float) -> float:
    r"""Rib spring that hardens with the square of its compression.

    .. math:: F = k x \left[1 + (x / x_0)^2\right]

    Parameters
    ----------
    compression
        ``x`` [mm].
    stiffness, reference
        ``k`` [kN/mm] and ``x_0`` [mm], where the force is twice the linear one.

    Returns
    -------
    float
        Force [kN], of the sign of ``compression``.

    Notes
    -----
    Invented for the demo.
    """
    return stiffness * compression * (1.0 + (compression / reference) ** 2)


def loss_damping(stiffness: float, loss_factor: float, frequency: float) -> float:
    r"""Viscous coefficient that gives a loss factor at one frequency.

    .. math:: c = \eta k / (2 \pi f)

    Parameters
    ----------
    stiffness
        ``k`` [kN*mm/rad].
    loss_factor
        ``eta`` [-].
    frequency
        ``f`` [1/ms].

    Returns
    -------
    float
        ``c`` [kN*mm*ms/rad]; textbook, derived from the complex modulus.
    """
    return loss_factor * stiffness / (2.0 * math.pi * frequency)


def hardening_joint(angle: float, *, stiffness: float, hardening: float) -> float:
    r"""Elastic moment of a rubber joint that hardens exponentially.

    .. math:: M = k\,\varphi_0 \sinh(\varphi/\varphi_0)

    Parameters
    ----------
    angle
        Bending angle [rad].
    stiffness, hardening
        ``k`` [kN*mm/rad] and ``phi_0`` [rad].

    Returns
    -------
    float
        Moment [kN*mm], of the sign of ``angle``.

    Notes
    -----
    Invented for the demo.
    """
    return stiffness * hardening * math.sinh(max(-50.0, min(angle / hardening, 50.0)))
