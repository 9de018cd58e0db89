"""Registration: repeats whose features are brought to common places, over time or along the arc."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.display import short_repr
from correlate.errors import SettingsError
from correlate.reference.arc_length import path_scales, points_by_arc_length
from correlate.reference.landmarks import (
    LEAST_STEPS,
    Landmark,
    common_landmarks,
    monotone_maps,
    usable_landmarks,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from correlate.reference.arc_length import CrossPlot
    from correlate.reference.repeats import RepeatSet

    Floats = NDArray[np.float64]

STATIONS: Final = 200
"""Stations along the arc."""
CONTROL_POINTS: Final = 5
"""Inner control points of a warping function."""
PENALTY: Final = 0.01
"""Weight of the mean square of a warping function's slope less 1. Chosen here."""
ROUNDS: Final = 8
"""Rounds of warping one repeat after the other."""
DENSER: Final = 5
"""Points at which a path is evaluated, for each station."""
LARGEST_ARC_MOVE: Final = 0.1
"""Bound of every move along the arc, as a share of it. Chosen here."""


def registered_by_features(repeats: RepeatSet, largest_move_s: float) -> RepeatSet:
    r"""Bring onset, peaks, valleys and zero crossings of repeats to common times.

    Landmarks of the mean curve are looked for in each repeat. The common time of each is the mean over the
    repeats; between them, time is mapped by monotone cubics :math:`h_i`, and each repeat becomes
    :math:`x_i(h_i(t))`. The ends of the interval stay.

    Parameters
    ----------
    repeats
        Aligned by shifts, or as recorded.
    largest_move_s
        Bound of every move, s; above 0.

    Returns
    -------
    RepeatSet
        With the landmarks used, and where each was in every repeat, in `landmarks`.

    Raises
    ------
    SettingsError
        The bound is not above 0.

    References
    ----------
    .. [1] Registration by landmarks: Kneip, Gasser, Annals of Statistics 20 (1992) 1266-1305, from memory.
       Choice and matching of landmarks: derived here.

    Examples
    --------
    >>> from correlate import Signal
    >>> from correlate.reference.repeats import repeat_set
    >>> def repeat(late_s: float) -> Signal:
    ...     time = np.arange(0, 0.05, 1e-4)
    ...     first = np.exp(-(((time - 0.01) / 0.002) ** 2))
    ...     second = np.exp(-(((time - 0.03 - late_s) / 0.002) ** 2))
    ...     return Signal(samples=first + second, start_s=0, step_s=1e-4, unit="g", channel="ax")
    >>> still = repeat_set([repeat(-0.0005), repeat(0.0005)], largest_shift_s=0.0)
    >>> moved = registered_by_features(still, 0.002)
    >>> [round(1e3 * one.own[1] - 1e3 * one.own[0], 2) for one in moved.landmarks if one.kind == "peak"]
    [0.0, 1.0]
    >>> bool(moved.standard_deviation.max() < 0.1 * still.standard_deviation.max())
    True
    """
    start_s, end_s = float(repeats.time_s[0]), float(repeats.time_s[-1])
    step_s = float(repeats.time_s[1] - repeats.time_s[0])
    found = common_landmarks(
        repeats.curves, repeats.mean, start=start_s, step=step_s, largest_move=largest_move_s
    )
    landmarks = usable_landmarks(found, start=start_s, end=end_s, least=LEAST_STEPS * step_s)
    maps = monotone_maps(landmarks, repeats.time_s, len(repeats))
    curves = np.stack(
        [np.interp(own, repeats.time_s, curve) for own, curve in zip(maps, repeats.curves, strict=True)]
    )
    curves.flags.writeable = False
    return replace(repeats, curves=curves, landmarks=landmarks)


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ArcRegistration:
    """Which points of cross-plots correspond.

    Attributes
    ----------
    share
        Shape ``(m,)``: common share of the arc, 0 to 1.
    own
        Shape ``(k, m)``: share of each repeat's own arc that corresponds, rising along each row.
    method
        In words, for the assumptions.
    landmarks
        That were used; empty for other methods.
    """

    share: Floats
    own: Floats
    method: str
    landmarks: tuple[Landmark, ...] = ()

    @property
    def largest_move(self) -> float:
        """Largest difference between own and common share."""
        return float(np.abs(self.own - self.share).max())


def equal_shares(paths: Sequence[CrossPlot], stations: int = STATIONS) -> ArcRegistration:
    """Let points at equal shares of the arc length correspond.

    Parameters
    ----------
    paths
        One a repeat.
    stations
        Along the arc.

    Returns
    -------
    ArcRegistration
    """
    share = np.linspace(0.0, 1.0, stations)
    return ArcRegistration(
        share=share,
        own=np.tile(share, (len(paths), 1)),
        method="points at the same share of the arc length are the same moment of the event",
    )


def features_along_arc(
    paths: Sequence[CrossPlot], stations: int = STATIONS, *, largest_move: float = LARGEST_ARC_MOVE
) -> ArcRegistration:
    """Let peaks, valleys and zero crossings of x and y correspond, and what lies between them.

    Parameters
    ----------
    paths
        One a repeat.
    stations
        Along the arc.
    largest_move
        Bound of every move, as a share of the arc; above 0.

    Returns
    -------
    ArcRegistration

    Raises
    ------
    SettingsError
        The bound is not above 0.
    SignalError
        A path never leaves its first point.
    """
    share = np.linspace(0.0, 1.0, stations)
    scales = path_scales(paths)
    points = np.stack([points_by_arc_length(path, share, scales) for path in paths])
    step = float(share[1])
    found: list[Landmark] = []
    for axis, name in enumerate("xy"):
        curves = points[:, axis]
        found += common_landmarks(
            curves, curves.mean(axis=0), start=0.0, step=step, largest_move=largest_move, of=name
        )
    landmarks = usable_landmarks(found, start=0.0, end=1.0, least=step)
    own = monotone_maps(landmarks, share, len(paths))
    words = (
        f"{len(landmarks)} landmarks of x and y correspond; points were moved by up to "
        f"{np.abs(own - share).max():.1%} of the arc"
    )
    return ArcRegistration(share=share, own=own, method=words, landmarks=landmarks)


def warped_along_arc(
    paths: Sequence[CrossPlot],
    stations: int = STATIONS,
    *,
    control_points: int = CONTROL_POINTS,
    penalty: float = PENALTY,
) -> ArcRegistration:
    r"""Register cross-plots by warping their arc lengths so that their shapes correlate best.

    With :math:`z_i(s)` the two axes of a repeat at share :math:`s` of its arc, each axis less its mean over
    the arc and divided by its root mean square, warping functions :math:`w_i` through movable control points
    minimise

    .. math:: \sum_i \int_0^1 |z_i(w_i(s)) - \bar z_{-i}(s)|^2 + \lambda\,(w_i'(s) - 1)^2 \; \mathrm{d}s

    by warping one repeat after the other against the mean of the rest. The first term is twice the sum over
    both axes of one less the correlation. Control points move by less than half their spacing, which keeps
    the functions rising; the mean of all moves is taken out.

    Parameters
    ----------
    paths
        Two repeats or more.
    stations
        Along the arc.
    control_points
        Inner ones of each function, evenly spaced; 1 or more.
    penalty
        :math:`\lambda`, above 0: the larger, the less is moved.

    Returns
    -------
    ArcRegistration

    Raises
    ------
    SettingsError
        There is no control point or the penalty is not above 0.
    SignalError
        A path never leaves its first point.

    References
    ----------
    .. [1] Hartlen, Cronin, "Arc-length re-parametrization and signal registration to determine a
       characteristic average and statistical response corridors of biomechanical data", Frontiers in
       Bioengineering and Biotechnology 10 (2022), doi 10.3389/fbioe.2022.843148: arc length, warping through
       control points, correlation, penalty; from memory. Deviations: monotone cubics, one repeat after the
       other against the mean of the rest, penalty and bound chosen here.
    """
    if control_points < 1 or not 0 < penalty < float("inf"):
        raise SettingsError(
            f"{control_points} control points with a penalty of {penalty!r} define no warping",
            remedy="give 1 or more and a number above 0",
        )
    share = np.linspace(0.0, 1.0, stations)
    scales = path_scales(paths)
    dense = np.linspace(0.0, 1.0, DENSER * stations)
    points = [points_by_arc_length(path, dense, scales) for path in paths]
    moves = np.zeros((len(paths), control_points))
    for _ in range(ROUNDS):
        before = moves.copy()
        for number in range(len(paths)):
            others = [other for other in range(len(paths)) if other != number]
            shapes = [_shape(points[other], _warped(moves[other], share)) for other in others]
            moves[number] = _best_warp(points[number], np.mean(shapes, axis=0), moves[number], penalty)
        moves = _without_common(moves)
        if np.abs(moves - before).max() < 1e-4:
            break
    own = np.stack([_warped(one, share) for one in moves])
    words = (
        "warping along the arc brings the same moments of the event together; points were moved by up to "
        f"{np.abs(own - share).max():.1%} of the arc"
    )
    return ArcRegistration(share=share, own=own, method=words)


def _knots(control_points: int) -> Floats:
    return np.linspace(0.0, 1.0, control_points + 2)


def _bound(control_points: int) -> float:
    """Return how far a control point may move: two neighbours never meet."""
    return 0.45 / (control_points + 1)


def _warped(moves: Floats, share: Floats) -> Floats:
    from scipy.interpolate import PchipInterpolator  # noqa: PLC0415 - slow to load

    knots = _knots(moves.size)
    own = knots.copy()
    own[1:-1] += moves
    return np.clip(np.asarray(PchipInterpolator(knots, own)(share)), 0.0, 1.0)


def _shape(points: Floats, own: Floats) -> Floats:
    """Return both axes at given shares of the arc, each with mean 0 and mean square 1."""
    dense = np.linspace(0.0, 1.0, points.shape[1])
    found = np.stack([np.interp(own, dense, axis) for axis in points])
    found -= found.mean(axis=1, keepdims=True)
    size = np.sqrt((found**2).mean(axis=1, keepdims=True))
    # An axis that stands still has no shape.
    return np.asarray(found / np.where(size > 0, size, 1.0))


def _best_warp(points: Floats, rest: Floats, now: Floats, penalty: float) -> Floats:
    """Return the moves of the control points of one repeat that bring its shape nearest to the rest."""
    from scipy.optimize import least_squares  # noqa: PLC0415 - slow to load

    share = np.linspace(0.0, 1.0, rest.shape[1])

    def errors(moves: Floats) -> Floats:
        own = _warped(moves, share)
        distance = (_shape(points, own) - rest).ravel() / np.sqrt(share.size)
        slope = (np.diff(own) / np.diff(share) - 1) * np.sqrt(penalty / (share.size - 1))
        return np.concatenate((distance, slope))

    bound = _bound(now.size)
    found = least_squares(errors, now, bounds=(-bound, bound), diff_step=[1e-4], max_nfev=30)
    return np.asarray(found.x)


def _without_common(moves: Floats) -> Floats:
    """Remove the common move of all repeats, as far as the bound allows: only differences matter."""
    bound = _bound(moves.shape[1])
    return np.asarray(np.clip(moves - moves.mean(axis=0), -bound, bound))
