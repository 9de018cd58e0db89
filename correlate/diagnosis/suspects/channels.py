"""Suspects among channels: swapped axes, exchanged channels, another frame."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations, product
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.conditioning import condition
from correlate.diagnosis.suspects.case import MODERATE, Suspect, error_left, paired, rated, scaled
from correlate.display import short_repr
from correlate.errors import CorrelateError, SignalError
from correlate.pair import AlignedPair

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import ArrayLike, NDArray

    from correlate.diagnosis.suspects.case import Case

    Floats = NDArray[np.float64]


AXES_MOST_LEFT: Final = 0.06
"""Another axis must leave no more than this share of the squares of the reference …"""
AXES_BETTER: Final = 0.35
"""… and no more than this share of what a poor model's freedoms would leave of the axis in place."""
NOTABLE: Final = 0.08
"""Below this share the axis in place needs no other explanation than a poor model."""
AXES_OCCAM: Final = 1.5
"""Factor on the error for the weight: with axes and signs to choose from, one fits sooner by chance."""


def other_axis(case: Case) -> Iterator[Suspect]:
    """Take the place of the candidate by each other axis, with either sign.

    References
    ----------
    .. [1] Criterion derived here.
    """
    found = [suspect for name in case.others for sign in (1, -1) for suspect in _tried(case, name, sign)]
    if found:
        yield max(found, key=lambda suspect: suspect.weight)


def _tried(case: Case, name: str, sign: int) -> Iterator[Suspect]:
    pair = _pair(case, name, sign)
    if pair is None:
        return
    left = error_left(pair, MODERATE)
    after = rated(pair, case.settings) or 0.0
    if (
        case.poor < NOTABLE
        or left > min(AXES_MOST_LEFT, AXES_BETTER * case.poor)
        or after <= (case.rating or 0.0)
    ):
        return
    words = " with its sign turned" if sign == -1 else ""
    yield Suspect(
        kind="other axis",
        channel=case.reference.channel,
        evidence=f"of '{name}'{words} {left:.2f} of the squares of the test cannot be explained by "
        f"size, delay and duration, of '{case.candidate.channel}' {case.poor:.2f}",
        fix=f'check the axes of both sides; if they are exchanged, write model = "{name}"'
        + (f" and model_sign = {-case.recipe.candidate_sign}" if sign == -1 else ""),
        rating_before=case.rating,
        rating_after=after,
        change={
            "candidate_channel": name,
            "candidate_sign": sign * case.recipe.candidate_sign,
            **case.extra,
        },
        weight=1 - AXES_OCCAM * left,
    )


def _pair(case: Case, name: str, sign: int) -> AlignedPair | None:
    unit = case.recipe.unit or case.reference.unit
    try:
        treated = condition(case.others[name], case.recipe.for_candidate(unit))
    except CorrelateError:
        # An axis that cannot be compared is no better one.
        return None
    pair = paired(case.treated_reference, treated, case.recipe)
    return scaled(pair, -1.0) if pair is not None and sign == -1 else pair


EXCHANGE_MOST_LEFT: Final = 0.1
"""The exchange must leave no more than this share of the squares of the two references …"""
EXCHANGE_BETTER: Final = 0.6
"""… and no more than this share of what a poor model's freedoms would leave of the two axes as they are."""
EXCHANGE_OCCAM: Final = 1.3
"""Factor on the error for the weight: with axes and signs to choose from, one fits sooner by chance."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Exchange:
    """One exchange of two axes.

    Attributes
    ----------
    axes
        Numbers of the two.
    sign
        Of the curve that now stands in the place of the first.
    first
        The first of the two pairs after the exchange.
    lefts
        Squared errors that a usable model's freedoms leave of the two.
    """

    axes: tuple[int, int]
    sign: int
    first: AlignedPair
    lefts: tuple[float, float]

    @property
    def left(self) -> float:
        """Squared error of both."""
        return sum(self.lefts)


def best_exchange(pairs: Sequence[AlignedPair], energies: Sequence[float], poor: Sequence[float]) -> Exchange:
    """Exchange every two axes with every pair of signs."""
    tried = []
    for one, other in combinations(range(3), 2):
        options = [
            [_option(pairs, energies, place, source, sign) for sign in (1, -1)]
            for place, source in ((one, other), (other, one))
        ]
        for (sign, first, left), (_, _, right) in product(*options):
            tried.append(Exchange(axes=(one, other), sign=sign, first=first, lefts=(left, right)))
    total = sum(poor)
    return min(tried, key=lambda one: total - sum(poor[index] for index in one.axes) + one.left)


def _option(
    pairs: Sequence[AlignedPair], energies: Sequence[float], place: int, source: int, sign: int
) -> tuple[int, AlignedPair, float]:
    pair = AlignedPair(
        time=pairs[place].time, reference=pairs[place].reference, candidate=sign * pairs[source].candidate
    )
    return sign, pair, energies[place] * error_left(pair, MODERATE)


def suspected_exchange(
    tried: Exchange, cases: Sequence[Case], energies: Sequence[float], poor: Sequence[float]
) -> Suspect | None:
    """Say whether the best exchange is so good that it is suspected.

    References
    ----------
    .. [1] Criterion derived here.
    """
    size, before = (sum(values[index] for index in tried.axes) for values in (energies, poor))
    if tried.left > min(EXCHANGE_MOST_LEFT * size, EXCHANGE_BETTER * before):
        return None
    case, other = cases[tried.axes[0]], cases[tried.axes[1]]
    after = rated(tried.first, case.settings) or 0.0
    if after <= (case.rating or 0.0):
        return None
    sign = tried.sign * case.recipe.candidate_sign
    return Suspect(
        kind="other axis",
        channel=case.reference.channel,
        evidence=f"with '{case.candidate.channel}' and '{other.candidate.channel}' exchanged "
        f"{tried.left / size:.2f} of the squares of both axes of the test cannot be explained by size, delay "
        f"and duration, as they are "
        f"{before / size:.2f}",
        fix=f'check the axes of both sides; if they are exchanged, write model = "{other.candidate.channel}" '
        f"and model_sign = {sign} for '{case.reference.channel}', the reverse "
        f"for '{other.reference.channel}'",
        rating_before=case.rating,
        rating_after=after,
        change={"candidate_channel": other.candidate.channel, "candidate_sign": sign, **case.extra},
        weight=1 - EXCHANGE_OCCAM * tried.left / size,
    )


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
