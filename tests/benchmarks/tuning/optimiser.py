"""The optimiser alone, on functions with published least values."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from correlate.tuning.definition import TuningGoal
from correlate.tuning.points import design
from correlate.tuning.prediction import fit_predictor
from correlate.tuning.proposals import propose
from tests.tuning.functions import BRANIN_LEAST, HARTMANN_LEAST, box, branin, hartmann, run_table

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

GOAL = TuningGoal(train=("any",), outcomes=("worth",))


def least_found(
    function: Callable[[Floats], Floats],
    ranges: Sequence[tuple[float, float]],
    *,
    designed: int,
    batches: int,
    batch: int,
    seed: int,
) -> float:
    """Return the least value that a design and batches of proposals find.

    Parameters
    ----------
    function
        Maps points of shape ``(n, d)`` to shape ``(n,)``.
    ranges
        Of the parameters.
    designed, batches, batch
        Runs of the design, batches after it, and runs of each.
    seed
        Of design and proposals.

    Returns
    -------
    float
    """
    space = box(*ranges)
    first = design(space, kind="latin-hypercube", runs=designed, seed=seed)
    points = np.array([space.as_point(one.values) for one in first])
    for _ in range(batches):
        table = run_table(space, points, {"worth": -function(points)})
        # These functions are meant to be hard to predict from few runs; no Q² is asked for.
        chosen = propose(table, fit_predictor(table, ["worth"]), GOAL, batch, seed, least_q2=-np.inf)
        points = np.vstack([points, [one.point for one in chosen]])
    return float(function(points).min())


def optimiser_report(seeds: int) -> str:
    """Return what the optimiser finds on both functions, as a median with its range.

    Parameters
    ----------
    seeds
        How many.

    Returns
    -------
    str
    """
    plans = (
        ("Branin, 10 runs and 5 batches of 4", branin, [(-5.0, 10.0), (0.0, 15.0)], (10, 5, 4), BRANIN_LEAST),
        ("Hartmann-6, 30 runs and 8 batches of 8", hartmann, [(0.0, 1.0)] * 6, (30, 8, 8), HARTMANN_LEAST),
    )
    lines = []
    for words, function, ranges, (designed, batches, batch), least in plans:
        found = [
            least_found(function, ranges, designed=designed, batches=batches, batch=batch, seed=seed)
            for seed in range(seeds)
        ]
        lines.append(
            f"{words}: {np.median(found):.4f} ({min(found):.4f} to {max(found):.4f}), published {least}"
        )
    return "\n".join(lines)


if __name__ == "__main__":
    print(optimiser_report(10))
