"""Searching the surrogate: the cube of parameters, the chance of a good run, the Pareto front."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import SettingsError
from correlate.tuning.gaussian_process import fit_process
from correlate.tuning.guards import within_limits

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

    from correlate.tuning.definition import TuningGoal
    from correlate.tuning.gaussian_process import GaussianProcess
    from correlate.tuning.runs import RunTable

    Floats = NDArray[np.float64]

    Score = Callable[[Floats], Floats]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SuccessModel:
    """Guess of the chance that a run ends well.

    Attributes
    ----------
    process
        Of 1 for a run that ended well and 0 for one that did not; None when all ended alike.
    share
        Of the runs that ended well.
    """

    process: GaussianProcess | None
    share: float

    def chance(self, cube: Floats) -> Floats:
        """Return the chance at points of the unit cube, shape ``(m, d)``; between 0 and 1."""
        if self.process is None:
            return np.full(len(cube), self.share)
        return np.clip(self.process.mean(cube), 0.0, 1.0)


def fit_success(table: RunTable) -> SuccessModel:
    """Fit the chance of success to all runs that ended."""
    ended = np.flatnonzero(table.ended)
    good = table.done[ended].astype(np.float64)
    if good.size == 0 or np.ptp(good) == 0:
        return SuccessModel(process=None, share=float(good.mean()) if good.size else 1.0)
    cube = table.space.to_unit(table.points[ended])
    return SuccessModel(process=fit_process(cube, good), share=float(good.mean()))


_POWER: Final = 9
_NEIGHBOURS: Final = 64
_WIDTHS: Final = (0.2, 0.05)
CLIMBS: Final = 4
"""Points that climb."""
STEPS: Final = 40
"""Steps that each of them may take."""
_DIFFERENCE: Final = 1e-5
"""Step of the difference quotients: a root of the rounding error, in sides of the cube."""


def candidates(
    score: Score, dimension: int, near: Floats, seed: int, *, steps: int = STEPS
) -> tuple[Floats, Floats]:
    """Gather points of the cube worth choosing from, highest first.

    A Sobol' sequence over the cube and clouds about known points are scored; the best of them climb by
    L-BFGS-B inside the bounds.

    Parameters
    ----------
    score
        Maps points of shape ``(n, d)`` to shape ``(n,)``; finite.
    dimension
        Of the cube.
    near
        Points about which to look closely, shape ``(m, d)``.
    seed
        Of the points.
    steps
        That each of the best points may climb.

    Returns
    -------
    tuple of numpy.ndarray
        Points of shape ``(n, d)`` and their scores of shape ``(n,)``.
    """
    points = np.vstack([_over_the_cube(dimension, seed), _about(near, seed)])
    scores = score(points)
    order = np.argsort(-scores, kind="stable")
    climbed = np.array([_climb(score, points[row], steps) for row in order[:CLIMBS]])
    points, scores = np.vstack([climbed, points]), np.concatenate([score(climbed), scores])
    order = np.argsort(-scores, kind="stable")
    return points[order], scores[order]


def _over_the_cube(dimension: int, seed: int) -> Floats:
    from scipy.stats import qmc  # noqa: PLC0415 - slow to import

    sampler = qmc.Sobol(dimension, scramble=True, rng=np.random.default_rng(seed))
    return np.asarray(sampler.random_base2(_POWER), dtype=np.float64)


def _about(near: Floats, seed: int) -> Floats:
    """Scatter clouds about points, most of them along a few axes, as good steps often are."""
    random = np.random.default_rng([seed, 1])
    clouds = [near]
    for width in _WIDTHS:
        moves = random.normal(0.0, width, (len(near), _NEIGHBOURS, near.shape[1]))
        moves *= random.random(moves.shape) < random.choice([0.25, 1.0], (len(near), _NEIGHBOURS, 1))
        clouds.append(np.clip(near[:, None, :] + moves, 0.0, 1.0).reshape(-1, near.shape[1]))
    return np.vstack(clouds)


def _climb(score: Score, start: Floats, steps: int) -> Floats:
    from scipy.optimize import minimize  # noqa: PLC0415 - slow to import

    moves = _DIFFERENCE * np.vstack([np.zeros(start.size), np.eye(start.size)])

    def cost(point: Floats) -> tuple[float, Floats]:
        # A step past the upper bound would leave the cube: there it is taken backwards.
        signs = np.where(point + _DIFFERENCE > 1.0, -1.0, 1.0)
        values = score(point + moves * signs)
        return -float(values[0]), -(values[1:] - values[0]) / (_DIFFERENCE * signs)

    bounds = [(0.0, 1.0)] * start.size
    end = minimize(
        cost,
        start,
        jac=True,
        method="L-BFGS-B",
        bounds=bounds,
        options={"maxiter": steps, "maxfun": 2 * steps},
    )
    return np.clip(np.asarray(end.x, dtype=np.float64), 0.0, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ParetoFront:
    """Runs that no other run beats in everything.

    Attributes
    ----------
    outcomes
        What is raised, ``k`` names.
    rows
        Rows of the table, by falling first outcome.
    values
        Shape ``(n, k)``.
    """

    outcomes: tuple[str, ...]
    rows: NDArray[np.int64]
    values: Floats


def not_beaten(values: ArrayLike) -> NDArray[np.bool_]:
    """Return which points no other point beats: at least as good in everything and better in something.

    Examples
    --------
    >>> not_beaten([[1, 3], [2, 2], [1, 2], [3, 1]]).tolist()
    [True, True, False, True]
    """
    known = np.asarray(values, dtype=np.float64)
    no_less = (known[:, None, :] >= known[None, :, :]).all(axis=2)
    more = (known[:, None, :] > known[None, :, :]).any(axis=2)
    return np.asarray(~(no_less & more).any(axis=0) & np.isfinite(known).all(axis=1))


def pareto_front(table: RunTable, goal: TuningGoal) -> ParetoFront:
    """Return the front of the finished runs that keep the limits."""
    values = np.array([table.outcome(name) for name in goal.outcomes]).T
    allowed = np.where(within_limits(table, goal)[:, None], values, np.nan)
    rows = np.flatnonzero(not_beaten(allowed))
    rows = rows[np.argsort(-values[rows, 0], kind="stable")]
    return ParetoFront(outcomes=goal.outcomes, rows=rows, values=values[rows])


def hypervolume(values: ArrayLike, reference: ArrayLike) -> float:
    """Return how much of the space above a reference point a front covers.

    Examples
    --------
    >>> hypervolume([[1, 2], [2, 1]], [0, 0])
    3.0
    """
    points, corner = (
        np.atleast_2d(np.asarray(values, dtype=np.float64)),
        np.asarray(reference, dtype=np.float64),
    )
    if points.shape[1] != corner.size:
        raise SettingsError(f"{points.shape[1]} outcomes do not fit a reference of {corner.size}")
    points = points[(points > corner).all(axis=1)]
    if points.size == 0:
        return 0.0
    if corner.size == 1:
        return float(points.max() - corner[0])
    levels = np.unique(points[:, -1])
    bottoms = np.concatenate([corner[-1:], levels[:-1]])
    return float(
        sum(
            (top - bottom) * hypervolume(points[points[:, -1] >= top, :-1], corner[:-1])
            for top, bottom in zip(levels, bottoms, strict=True)
        )
    )
