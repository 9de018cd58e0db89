"""The searches that the proposals are compared with, on the same budget of runs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Worth = Callable[[Floats], float]


def random_search(start: Floats, runs: int, seed: int) -> Floats:
    """Draw points evenly from the unit cube, the start first.

    Parameters
    ----------
    start
        Shape ``(d,)``, in the unit cube.
    runs
        How many points, start included.
    seed
        Of the draw.

    Returns
    -------
    numpy.ndarray
        Shape ``(runs, d)``.
    """
    drawn = np.random.default_rng(seed).random((runs - 1, start.size))
    return np.vstack([start, drawn])


def tree_search(worth: Worth, start: Floats, runs: int, seed: int) -> Floats:
    """Search with the tree-structured Parzen estimator of optuna, one run after the other.

    Parameters
    ----------
    worth
        Of a point of the unit cube; nan for a failed run.
    start
        Shape ``(d,)``, tried first.
    runs
        How many points, start included.
    seed
        Of the sampler.

    Returns
    -------
    numpy.ndarray
        Shape ``(runs, d)``.
    """
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
