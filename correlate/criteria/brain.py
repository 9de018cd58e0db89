"""Brain criterion of rotation in three axes: DAMAGE."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.criteria.result import CriterionResult, at_instant, checked_curves

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


STIFFNESS_PER_S2: Final = (32142.0, 23493.0, 16935.0)
"""Stiffness over mass of the axes x, y and z, 1/s² (Gabler et al. 2019, from memory)."""
COUPLING_PER_S2: Final = 1636.3
"""Stiffness over mass between x and z; x and y, and y and z are not coupled (same source, from memory)."""
DAMPING_S: Final = 5.9148e-3
"""Damping over stiffness, s (same source, from memory)."""
SCALE_PER_M: Final = 2.9903
"""Factor from the largest displacement to the criterion (same source, from memory)."""


def damage(
    acceleration_x_rad_per_s2: ArrayLike,
    acceleration_y_rad_per_s2: ArrayLike,
    acceleration_z_rad_per_s2: ArrayLike,
    *,
    step_s: float,
) -> CriterionResult:
    r"""Return DAMAGE, the criterion of a three-degree-of-freedom system driven by the head's rotation.

    .. math:: \ddot\delta + a_1 K \dot\delta + K \delta = \ddot u, \qquad
              \mathrm{DAMAGE} = \beta \max_t \|\delta(t)\|

    Parameters
    ----------
    acceleration_x_rad_per_s2, acceleration_y_rad_per_s2, acceleration_z_rad_per_s2
        Angular acceleration :math:`\ddot u` of the head, shape ``(n,)``, rad/s².
    step_s
        Sampling interval, s.

    Returns
    -------
    CriterionResult
        ``value`` is dimensionless, at its instant.

    Raises
    ------
    SignalError
        Unequal lengths, fewer than two samples, or one that is not finite.

    Notes
    -----
    :math:`K` has the stiffnesses of the axes, and the coupling of x and z, on its diagonal, and the coupling
    with a minus sign off it. Damping is proportional to it, so that the system separates into three
    oscillators, each solved exactly for straight lines between samples. It begins at rest. The cost grows
    with the number of samples.

    References
    ----------
    .. [1] Gabler, Crandall, Panzer, "Development of a second-order system for rapid estimation of maximum
       brain strain", Annals of Biomedical Engineering 47 (2019). Formula and constants from memory. The
       solution by modes: derived here.

    Examples
    --------
    >>> import numpy as np
    >>> still = np.zeros(2001)
    >>> round(damage(still, np.full(2001, 4000.0), still, step_s=1e-4).value, 4)
    0.6122
    """
    driven = np.stack(
        checked_curves(
            step_s,
            acceleration_x_rad_per_s2=acceleration_x_rad_per_s2,
            acceleration_y_rad_per_s2=acceleration_y_rad_per_s2,
            acceleration_z_rad_per_s2=acceleration_z_rad_per_s2,
        )
    )
    squares, modes = np.linalg.eigh(_stiffness())
    courses = np.stack(
        [
            _oscillator(square, course, float(step_s))
            for square, course in zip(squares, modes.T @ driven, strict=True)
        ]
    )
    # The modes are at right angles to each other: the length is that of the displacements.
    course = SCALE_PER_M * np.sqrt(np.sum(courses**2, axis=0))
    index = int(np.argmax(course))
    return at_instant(course[index], index, step_s)


def _stiffness() -> Floats:
    """Return the matrix K, 1/s²."""
    matrix = np.diag(STIFFNESS_PER_S2)
    matrix[0, 0] += COUPLING_PER_S2
    matrix[2, 2] += COUPLING_PER_S2
    matrix[0, 2] = matrix[2, 0] = -COUPLING_PER_S2
    return matrix


def _oscillator(square: float, driven: Floats, step_s: float) -> Floats:
    """Return the displacement of a damped oscillator from rest, driven along straight lines."""
    from scipy.linalg import expm  # noqa: PLC0415 - slow to load, and only this criterion needs it
    from scipy.signal import lfilter  # noqa: PLC0415

    # State: displacement, velocity, the drive and its rise over one step.
    system = np.zeros((4, 4))
    system[0, 1] = step_s
    system[1] = step_s * np.array([-square, -DAMPING_S * square, 1.0, 0.0])
    system[2, 3] = 1.0
    step = expm(system)
    ahead, held, risen = step[:2, :2], step[:2, 2], step[:2, 3]
    first, second = held - risen, risen
    # The recursion of displacement and velocity as one of displacement alone.
    trace, determinant = float(np.trace(ahead)), float(np.linalg.det(ahead))
    other = np.array([ahead[1, 1], -ahead[0, 1]])
    numerator = [second[0], first[0] - other @ second, -other @ first]
    rest = float(driven[0]) * np.array([-second[0], other @ second])
    course, _ = lfilter(numerator, [1.0, -trace, determinant], driven, zi=rest)
    return np.asarray(course, dtype=np.float64)
