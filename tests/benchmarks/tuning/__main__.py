"""Tuning on three problems, beside general-purpose searches with the same number of runs.

``python -m tests.benchmarks.tuning --kept FOLDER --seeds 0 10`` runs every search on every problem, keeps in
FOLDER what was rated and what each search tried, and prints the report. Several processes may share FOLDER,
each with its ``--problem``, ``--search`` and ``--seeds``; what is there is not run again, and ``--report``
prints from it alone. A rating is found again as long as deck, tests and solver are the same; take a new
FOLDER when the rating itself has changed.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

# One core a process, so that two processes share the machine fairly.
os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np

from tests.benchmarks.tuning.kept import SEARCHES, run_search, search_kept
from tests.benchmarks.tuning.problem import Problem
from tests.benchmarks.tuning.problems import KINDS
from tests.benchmarks.tuning.report import report

if TYPE_CHECKING:
    from collections.abc import Sequence

TIMED = 10


def timings(problem: Problem) -> str:
    """Return how long a run and its rating take, on random decks, after one that compiles."""
    problem.rated(problem.space.start_point)
    cubes = np.random.default_rng(0).random((TIMED, problem.start.size))
    solved, rated = [], []
    for point in problem.space.from_unit(cubes):
        with tempfile.TemporaryDirectory() as folder:
            began = time.process_time()
            problem.solve(point, Path(folder))
            solved.append(time.process_time() - began)
            began = time.process_time()
            problem.rate(Path(folder))
            rated.append(time.process_time() - began)
    solver, rating = (1e3 * float(np.median(took)) for took in (solved, rated))
    return f"{problem.kind.name}: solver {solver:.0f} ms, rating {rating:.0f} ms"


def main() -> None:
    """Run what is asked for and print the report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kept", type=Path, required=True, help="folder of what was rated")
    parser.add_argument("--problem", choices=KINDS, action="append", help="this problem; may be repeated")
    parser.add_argument("--search", choices=SEARCHES, action="append", help="this search; may be repeated")
    parser.add_argument("--seeds", type=int, nargs=2, default=(0, 10), help="first, and one after the last")
    parser.add_argument("--report", action="store_true", help="print the report of what is there")
    parser.add_argument("--timings", action="store_true", help="measure a run and its rating")
    given = parser.parse_args()
    seeds = range(*given.seeds)
    for name in given.problem or KINDS:
        problem = Problem(KINDS[name], given.kept)
        if given.timings:
            print(timings(problem), flush=True)
            continue
        if not given.report:
            _run(problem, given.search or SEARCHES, seeds)
        print("\n".join(report(problem, seeds)), flush=True)


def _run(problem: Problem, searches: Sequence[str], seeds: range) -> None:
    for seed in seeds:
        for search in searches:
            if search_kept(problem, search, seed) is None:
                began = time.perf_counter()
                run_search(problem, search, seed)
                took = time.perf_counter() - began
                print(f"{problem.kind.name}, {search}, seed {seed}: {took:.0f} s", flush=True)


if __name__ == "__main__":
    main()
