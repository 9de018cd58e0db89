"""Search for the highest point of a smooth function on the unit cube."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Score = Callable[[Floats], Floats]

_POWER: Final = 10
_NEIGHBOURS: Final = 128
_WIDTHS: Final = (0.2, 0.05)
_CLIMBS: Final = 4
_STEPS: Final = 40
_DIFFERENCE: Final = 1e-5
"""Step of the difference quotients: a root of the rounding error, in sides of the cube."""


def candidates(score: Score, dimension: int, near: Floats, seed: int) -> tuple[Floats, Floats]:
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

    Returns
    -------
    tuple of numpy.ndarray
        Points of shape ``(n, d)`` and their scores of shape ``(n,)``.
    """
    points = np.vstack([_over_the_cube(dimension, seed), _about(near, seed)])
    scores = score(points)
    order = np.argsort(-scores, kind="stable")
    climbed = np.array([_climb(score, points[row]) for row in order[:_CLIMBS]])
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


def _climb(score: Score, start: Floats) -> Floats:
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
        options={"maxiter": _STEPS, "maxfun": 2 * _STEPS},
    )
    return np.clip(np.asarray(end.x, dtype=np.float64), 0.0, 1.0)
