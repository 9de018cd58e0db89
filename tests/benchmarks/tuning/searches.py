"""The searches that tuning is compared with, on the same budget of runs; all begin at the start.

optuna's Gaussian-process sampler is not among them: it needs a library for deep learning, which is not
installed.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Worth = Callable[[Floats], float]
    Search = Callable[[Worth, Floats, int, int], Floats]

POPULATION: Final = 16
"""Of differential evolution; the usual 15 points a parameter would spend all runs on the first draw."""


def random_search(worth: Worth, start: Floats, runs: int, seed: int) -> Floats:
    """Draw points evenly from the unit cube, the start first.

    Parameters
    ----------
    worth
        Of a point of the unit cube; nan for a failed run.
    start
        Shape ``(d,)``, tried first.
    runs
        How many points, start included.
    seed
        Of the draw.

    Returns
    -------
    numpy.ndarray
        Shape ``(runs, d)``, in the order in which they were tried.
    """
    points = np.vstack([start, np.random.default_rng(seed).random((runs - 1, start.size))])
    for point in points:
        worth(point)
    return points


class _SpentError(Exception):
    """All runs are made."""


def evolution_search(worth: Worth, start: Floats, runs: int, seed: int) -> Floats:
    """Search with the differential evolution of scipy until the runs are made; see `random_search`."""
    from scipy.optimize import Bounds, differential_evolution  # noqa: PLC0415 - slow to import
    from scipy.stats import qmc  # noqa: PLC0415

    points: list[Floats] = []

    def cost(point: Floats) -> float:
        if len(points) == runs:
            raise _SpentError
        points.append(np.array(point))
        value = worth(points[-1])
        return 0.0 if np.isnan(value) else -value

    random = np.random.default_rng(seed)
    drawn = qmc.LatinHypercube(start.size, rng=random).random(POPULATION - 1)
    while True:
        try:
            # It may end before the runs are made, when the population has become one point; it is begun anew.
            differential_evolution(
                cost,
                Bounds(np.zeros(start.size), np.ones(start.size)),
                init=np.vstack([start, drawn]),
                rng=random,
                polish=False,
            )
        except _SpentError:
            return np.array(points)
        drawn = random.random(drawn.shape)


def tree_search(worth: Worth, start: Floats, runs: int, seed: int) -> Floats:
    """Search with the tree-structured Parzen estimator of optuna; see `random_search`."""
    import optuna  # noqa: PLC0415 - slow to import

    optuna.logging.set_verbosity(optuna.logging.WARNING)
    study = optuna.create_study(direction="maximize", sampler=optuna.samplers.TPESampler(seed=seed))
    names = [f"x{number}" for number in range(start.size)]
    study.enqueue_trial(dict(zip(names, start.tolist(), strict=True)))
    points = []
    for _ in range(runs):
        trial = study.ask({name: optuna.distributions.FloatDistribution(0.0, 1.0) for name in names})
        points.append(np.array([trial.params[name] for name in names]))
        value = worth(points[-1])
        if np.isnan(value):
            study.tell(trial, state=optuna.trial.TrialState.FAIL)
        else:
            study.tell(trial, value)
    return np.array(points)


def covariance_search(worth: Worth, start: Floats, runs: int, seed: int) -> Floats:
    """Search with the evolution strategy CMA-ES around the start; see `random_search`.

    The library is the one behind optuna's sampler, which takes no start of its own any more; the first
    standard deviation is that of the sampler, a sixth of the range.
    """
    from cmaes import CMA  # noqa: PLC0415

    bounds = np.array([[0.0, 1.0]] * start.size)
    strategy = CMA(mean=start.copy(), sigma=1 / 6, bounds=bounds, seed=seed)
    points: list[Floats] = []
    told: list[tuple[Floats, float]] = []
    while len(points) < runs:
        points.append(strategy.ask() if points else start)
        value = worth(points[-1])
        told.append((points[-1], 0.0 if np.isnan(value) else -value))
        if len(told) == strategy.population_size:
            strategy.tell(told)
            told = []
    return np.array(points)


RIVALS: Final[dict[str, Search]] = {
    "random": random_search,
    "evolution": evolution_search,
    "tree": tree_search,
    "covariance": covariance_search,
}
"""By the name on the command line."""
