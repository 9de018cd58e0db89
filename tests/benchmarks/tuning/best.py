"""The best that a long search finds: ``python -m tests.benchmarks.tuning.best PROBLEM``."""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Final

os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np
from scipy.optimize import Bounds, differential_evolution, minimize

from correlate.tuning.runs import HELD_OUT, TRAIN
from tests.benchmarks.tuning.problem import Problem
from tests.benchmarks.tuning.problems import KINDS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

BEST: Final[dict[str, float]] = {"spill": 0.9391}
"""Training rating by problem, as this program printed it."""
GENERATIONS, SIZE, POLISHED, SEED = 60, 10, 800, 1


def long_search(problem: Problem) -> Iterator[str]:
    """Search with differential evolution, then with the simplex of Nelder and Mead."""
    made = 0

    def cost(cube: Floats) -> float:
        nonlocal made
        made += 1
        return -problem.rated(problem.space.from_unit(np.clip(cube, 0.0, 1.0))).get(TRAIN, 0.0)

    bounds = Bounds(np.zeros(problem.start.size), np.ones(problem.start.size))
    evolved = differential_evolution(
        cost, bounds, maxiter=GENERATIONS, popsize=SIZE, tol=1e-6, rng=SEED, polish=False, x0=problem.start
    )
    yield f"differential evolution: {-evolved.fun:.4f} after {made} runs"
    polished = minimize(
        cost, evolved.x, method="Nelder-Mead", bounds=bounds, options={"maxfev": POLISHED, "xatol": 1e-5}
    )
    point = problem.space.from_unit(polished.x)
    held_out = problem.rated(point)[HELD_OUT]
    yield f"polished: training {-polished.fun:.4f}, held-out {held_out:.4f} after {made} runs"
    yield str({name: float(f"{value:.5g}") for name, value in problem.space.as_values(point).items()})


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        for line in long_search(Problem(KINDS[sys.argv[1]], Path(folder))):
            print(line, flush=True)
