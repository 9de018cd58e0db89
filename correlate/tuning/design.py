"""Designs: where to run first."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final, Literal, get_args

import numpy as np

from correlate.errors import SettingsError
from correlate.extras import need_extra
from correlate.tuning.points import next_number, points_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from correlate.tuning.parameters import ParameterSpace
    from correlate.tuning.points import DesignPoint

DesignKind = Literal["sobol", "latin-hypercube", "morris"]
KINDS: Final[tuple[str, ...]] = get_args(DesignKind)
MORRIS_LEVELS: Final = 4
"""Levels of the grid that the trajectories walk on, the usual choice of Morris (1991)."""


def design(space: ParameterSpace, *, kind: DesignKind, runs: int, seed: int) -> list[DesignPoint]:
    """Spread design points over the box, the start point first.

    Parameters
    ----------
    space
        Of the parameters.
    kind
        ``sobol``: scrambled Sobol' sequence; ``latin-hypercube``: one point in each slice of every parameter;
        ``morris``: trajectories that change one parameter at a time, for screening.
    runs
        How many points there are to be, start point included. Morris makes whole trajectories of one point
        more than there are parameters, as many as fit.
    seed
        Equal seeds give equal designs.

    Returns
    -------
    list of DesignPoint

    Raises
    ------
    SettingsError
        Too few runs for the kind.

    References
    ----------
    .. [1] Sobol' sequence: I. M. Sobol', USSR Comp. Math. Math. Phys. 7 (1967) 86-112; scrambling after
       A. B. Owen, J. Complexity 14 (1998) 466-489; both as in ``scipy.stats.qmc``.
    .. [2] McKay, Beckman, Conover, Technometrics 21 (1979) 239-245, as in ``scipy.stats.qmc``.
    .. [3] M. D. Morris, Technometrics 33 (1991) 161-174, as in SALib.
    """
    if runs < 2:
        raise SettingsError(f"a design of {runs} run has no spread", remedy="ask for two or more")
    makers = {"sobol": _sobol, "latin-hypercube": _latin_hypercube, "morris": _morris}
    spread = makers[kind](len(space.parameters), runs - 1, seed)
    points = np.vstack([space.start_point, space.from_unit(spread)])
    return points_of(space, points)


def further_points(
    space: ParameterSpace, points: Sequence[DesignPoint], *, runs: int, seed: int
) -> list[DesignPoint]:
    """Choose further points of a scrambled Sobol' sequence, for a design that told too little.

    Parameters
    ----------
    space
        Of the parameters.
    points
        That there are.
    runs
        How many more.
    seed
        That of a Sobol' design makes its sequence go on.

    Returns
    -------
    list of DesignPoint
        Of round 0, as they belong to the design. The point named ``p`` and n is the n-th of the sequence, so
        that none comes twice.

    Raises
    ------
    SettingsError
        Fewer than one is asked for.
    """
    if runs < 1:
        raise SettingsError(f"{runs} points cannot be added", remedy="ask for one or more")
    first = max(1, next_number(points))
    spread = _sobol(len(space.parameters), first - 1 + runs, seed)[first - 1 :]
    return points_of(space, space.from_unit(spread), first=first)


def _sobol(dimension: int, count: int, seed: int) -> NDArray[np.float64]:
    """Return the first points of the sequence; it is balanced at powers of two, and dense at any length."""
    from scipy.stats import qmc  # noqa: PLC0415 - slow to import

    power = max(1, math.ceil(math.log2(count))) if count > 1 else 0
    sampler = qmc.Sobol(dimension, scramble=True, rng=np.random.default_rng(seed))
    return np.asarray(sampler.random_base2(power)[:count], dtype=np.float64)


def _latin_hypercube(dimension: int, count: int, seed: int) -> NDArray[np.float64]:
    from scipy.stats import qmc  # noqa: PLC0415

    sampler = qmc.LatinHypercube(dimension, optimization="random-cd", rng=np.random.default_rng(seed))
    return np.asarray(sampler.random(count), dtype=np.float64)


def _morris(dimension: int, count: int, seed: int) -> NDArray[np.float64]:
    trajectories = count // (dimension + 1)
    if trajectories < 2:
        raise SettingsError(
            f"{count + 1} runs are too few for two trajectories of {dimension + 1} points",
            remedy=f"ask for {2 * (dimension + 1) + 1} or more",
        )
    need_extra("tuning", what="a design of the kind 'morris'")
    from SALib.sample import morris  # noqa: PLC0415 - slow to import

    problem = {
        "num_vars": dimension,
        "names": [str(number) for number in range(dimension)],
        "bounds": [[0.0, 1.0]] * dimension,
    }
    return np.asarray(
        morris.sample(problem, trajectories, num_levels=MORRIS_LEVELS, seed=seed), dtype=np.float64
    )
