"""Force laws of the invented hardware: small pure functions of deformation and rate, in SI units.

Every contact law is unilateral: it pushes, or it is zero, and never pulls.
"""

import math


def rate_dependent_contact(
    depth: float, rate: float, *, stiffness: float, exponent: float, damping: float
) -> float:
    r"""Nonlinear contact whose force grows with the speed of indentation.

    .. math:: F = \max(0,\; k\,\delta^n (1 + d\,\dot\delta)), \quad \delta > 0

    Parameters
    ----------
    depth, rate
        Indentation [m] and its rate [m/s], positive while going in.
    stiffness, exponent, damping
        ``k`` [N/m^n], ``n`` [-] and ``d`` [s/m].

    Returns
    -------
    float
        Force [N], never negative; zero without indentation.

    References
    ----------
    .. [1] Hunt and Crossley, Journal of Applied Mechanics 42 (1975); from memory.
    """
    if depth <= 0.0:
        return 0.0
    return max(0.0, stiffness * math.pow(depth, exponent) * (1.0 + damping * rate))


def densifying_foam(
    depth: float, *, stiffness: float, thickness: float, densification: float, power: float
) -> float:
    r"""Foam: linear at first, then a steep rise once the cells close.

    .. math:: F = k\,t\,\left[\varepsilon + \frac{\varepsilon_d}{p}
              \left(\frac{\varepsilon}{\varepsilon_d}\right)^{p}\right], \quad \varepsilon = \delta / t > 0

    At the densification strain the tangent stiffness has doubled.

    Parameters
    ----------
    depth
        Compression [m].
    stiffness, thickness
        Initial stiffness [N/m] and thickness [m].
    densification, power
        Densification strain [-] and steepness [-], above 1.

    Returns
    -------
    float
        Force [N], never negative.

    Notes
    -----
    Invented for the demo; the shape (linear, then a power of strain) is common practice, no source.
    """
    if depth <= 0.0:
        return 0.0
    strain = depth / thickness
    closing = densification / power * math.pow(strain / densification, power)
    return stiffness * thickness * (strain + closing)


def stiffening_spring(
    deformation: float, *, first: float, extra: float, knee: float, smoothing: float
) -> float:
    r"""Two-way spring that gains stiffness beyond a knee, with a rounded corner.

    .. math:: F = k_1 x + k_2\,w\,\ln\left(1 + e^{(x - x_k)/w}\right)

    Parameters
    ----------
    deformation
        Deformation [m]; negative is stretch, where only ``first`` counts.
    first, extra
        Stiffness ``k_1`` throughout and ``k_2`` beyond the knee [N/m].
    knee, smoothing
        ``x_k`` and the width ``w`` of the corner [m].

    Returns
    -------
    float
        Force [N].

    References
    ----------
    .. [1] Lobdell et al. (1973): rib spring that stiffens beyond 38 mm; from memory. The rounding is ours.
    """
    scaled = (deformation - knee) / smoothing
    beyond = smoothing * (
        scaled + math.log1p(math.exp(-scaled)) if scaled > 0.0 else math.log1p(math.exp(scaled))
    )
    return first * deformation + extra * beyond


def two_way_damping(rate: float, *, loading: float, unloading: float, transition: float) -> float:
    r"""Dashpot with one coefficient going in and another coming out, blended smoothly.

    .. math:: F = \tfrac12 \left[c_l + c_u + (c_l - c_u)\tanh(v/v_t)\right] v

    Parameters
    ----------
    rate
        Rate of deformation [m/s], positive in loading.
    loading, unloading
        Coefficients ``c_l`` and ``c_u`` [N s/m].
    transition
        Speed ``v_t`` of the blend [m/s].

    Returns
    -------
    float
        Force [N], of the sign of ``rate``.

    References
    ----------
    .. [1] Lobdell et al. (1973): different damping in loading and unloading; from memory. The blend is ours.
    """
    blend = 0.5 * (loading - unloading) * math.tanh(rate / transition)
    return (0.5 * (loading + unloading) + blend) * rate


def regularised_friction(speed: float, *, limit: float, transition: float) -> float:
    r"""Dry friction with a smooth passage through standstill.

    .. math:: F = F_c \tanh(v / v_t)

    Parameters
    ----------
    speed
        Sliding speed [m/s].
    limit, transition
        Friction limit ``F_c`` [N] and regularisation speed ``v_t`` [m/s].

    Returns
    -------
    float
        Friction force [N], of the sign of ``speed``; the caller lets it oppose the motion.

    Notes
    -----
    Common practice, no source.
    """
    return limit * math.tanh(speed / transition)


def maxwell_rate(force: float, rate: float, *, stiffness: float, relaxation_time: float) -> float:
    r"""Rate of change of the force in a spring and a dashpot in series.

    .. math:: \dot F = k\,\dot x - F/\tau

    Parameters
    ----------
    force, rate
        Present branch force [N] and rate of deformation [m/s].
    stiffness, relaxation_time
        ``k`` [N/m] and ``tau`` [s].

    Returns
    -------
    float
        Rate of the branch force [N/s].

    References
    ----------
    .. [1] Maxwell's element, in any textbook of viscoelasticity (derived from the two elements in series).
    """
    return stiffness * rate - force / relaxation_time


def bending_rubber(angle: float, *, linear: float, cubic: float) -> float:
    r"""Elastic moment of a rubber joint that stiffens as it bends.

    .. math:: M = k_1 \varphi + k_3 \varphi^3

    Parameters
    ----------
    angle
        Bending angle [rad].
    linear, cubic
        ``k_1`` [N m/rad] and ``k_3`` [N m/rad^3].

    Returns
    -------
    float
        Moment [N m], of the sign of ``angle``.

    Notes
    -----
    Invented for the demo.
    """
    return (linear + cubic * angle * angle) * angle


def honeycomb_yield(crush: float, *, plateau: float, decline: float, ramp: float) -> float:
    r"""Force at which aluminium honeycomb goes on crushing.

    .. math:: F_y = F_0 (1 - b\,c)\,(1 - e^{-(c + c_0)/r}), \quad c_0 = r/20

    Parameters
    ----------
    crush
        Lasting crush so far [m].
    plateau, decline, ramp
        ``F_0`` [N], loss of area per crush ``b`` [1/m], length ``r`` of the first rise [m].

    Returns
    -------
    float
        Force [N], never negative.

    Notes
    -----
    Invented for the demo; a plateau that follows the cut shape of the block is common practice, no source.
    """
    rise = 1.0 - math.exp(-(max(crush, 0.0) + 0.05 * ramp) / ramp)
    return max(0.0, plateau * (1.0 - decline * crush) * rise)
