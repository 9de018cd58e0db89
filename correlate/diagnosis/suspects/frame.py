"""A sensor whose local frame is rotated relative to that of the other side."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.display import short_repr
from correlate.errors import SignalError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

PLANAR: Final = 0.02
"""A second singular value below this share of the first leaves the turn about the main direction open."""


@short_repr
@dataclass(frozen=True, slots=True, eq=False)
class FrameRotation:
    """The turn of one sensor that brings it nearest to another.

    Attributes
    ----------
    matrix
        Shape ``(3, 3)``, read-only: candidate axes to reference axes, a proper rotation.
    angle_rad
        In [0, pi].
    axis
        Unit vector, shape ``(3,)``, read-only; zero where nothing is turned.
    error_before, error_after
        Squared difference over the squares of the reference, all axes together.
    determined
        False where both sensors move along one line only: the turn about that line is left out then.
    """

    matrix: Floats
    angle_rad: float
    axis: Floats
    error_before: float
    error_after: float
    determined: bool


def frame_rotation(
    reference_triple: Sequence[ArrayLike], candidate_triple: Sequence[ArrayLike]
) -> FrameRotation:
    r"""Find the constant rotation that brings a three-axis sensor nearest to another.

    .. math:: \min_{Q^T Q = 1,\ \det Q = 1} \sum_i |r_i - Q\,c_i|^2

    Parameters
    ----------
    reference_triple, candidate_triple
        Each three curves x, y, z of shape ``(n,)``, one grid, one unit.

    Returns
    -------
    FrameRotation

    Raises
    ------
    SignalError
        Not three curves of one length on each side, or one side is zero throughout.

    References
    ----------
    .. [1] Schönemann, "A generalized solution of the orthogonal Procrustes problem", Psychometrika 31 (1966);
       Kabsch, "A solution for the best rotation to relate two sets of vectors", Acta Crystallographica A32
       (1976), for the proper rotation.

    Examples
    --------
    >>> import numpy as np
    >>> x, y, z = np.sin(np.outer([1, 2, 3], np.linspace(0, 3, 50)))
    >>> found = frame_rotation((x, y, z), (-y, x, z))
    >>> round(float(np.degrees(found.angle_rad)), 6), found.axis.round(6) + 0.0
    (90.0, array([ 0.,  0., -1.]))
    """
    reference, candidate = _rows(reference_triple, "reference"), _rows(candidate_triple, "candidate")
    if reference.shape != candidate.shape:
        raise SignalError(
            f"the reference has {reference.shape[1]} samples, the candidate {candidate.shape[1]}",
            remedy="bring both sensors to one grid first",
        )
    left, strengths, right = np.linalg.svd(reference @ candidate.T)
    determined = bool(strengths[1] > PLANAR * strengths[0])
    matrix = _proper(left, right) if determined else _least_turn(left[:, 0], right[0])
    vector = _rotation_vector(matrix)
    angle = float(np.linalg.norm(vector))
    axis = vector / angle if angle > 0 else vector
    size = float((reference**2).sum())
    for array in (matrix, axis):
        array.flags.writeable = False
    return FrameRotation(
        matrix=matrix,
        angle_rad=angle,
        axis=axis,
        error_before=float(((reference - candidate) ** 2).sum()) / size,
        error_after=float(((reference - matrix @ candidate) ** 2).sum()) / size,
        determined=determined,
    )


def _rows(triple: Sequence[ArrayLike], side: str) -> Floats:
    rows = [np.asarray(row, dtype=np.float64) for row in triple]
    if len(rows) != 3 or any(row.ndim != 1 or row.size != rows[0].size for row in rows):
        raise SignalError(
            f"the {side} has curves of shapes {', '.join(str(row.shape) for row in rows)}",
            remedy="give three axes of one length",
        )
    stacked = np.stack(rows)
    if not stacked.any():
        raise SignalError(
            f"all three axes of the {side} are zero throughout", remedy="check the channels and the interval"
        )
    return stacked


def _proper(left: Floats, right: Floats) -> Floats:
    # Turning the weakest direction is the cheapest way from a mirror image to a rotation.
    mirror = 1.0 if np.linalg.det(left @ right) > 0 else -1.0
    return np.asarray(left @ np.diag([1.0, 1.0, mirror]) @ right)


def _least_turn(towards: Floats, start: Floats) -> Floats:
    """Return the smallest rotation that brings one unit vector onto another."""
    from scipy.spatial.transform import Rotation  # noqa: PLC0415 - slow to import, needed only here

    normal = np.cross(start, towards)
    sine, cosine = float(np.linalg.norm(normal)), float(start @ towards)
    if sine < 1e-12:
        aside = np.eye(3)[int(np.abs(start).argmin())]
        normal, sine = np.cross(start, aside), float(np.linalg.norm(np.cross(start, aside)))
        vector = normal / sine * (0.0 if cosine > 0 else math.pi)
    else:
        vector = normal / sine * math.atan2(sine, cosine)
    return np.asarray(Rotation.from_rotvec(vector).as_matrix())


def _rotation_vector(matrix: Floats) -> Floats:
    from scipy.spatial.transform import Rotation  # noqa: PLC0415 - slow to import, needed only here

    return np.array(Rotation.from_matrix(matrix).as_rotvec())
