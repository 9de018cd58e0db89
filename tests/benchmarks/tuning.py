"""Tuning the demo from release A1, beside random search and a general-purpose optimisation library.

``python -m tests.benchmarks.tuning --kept FOLDER --seeds 10`` runs and rates 216 decks a seed, each once:
what is in FOLDER is found again. With ``--search`` one search of the three is run alone, so that two can
share the cores; the report needs all. FOLDER is believed: take a new one when solver, laboratory or rating
have changed.
"""

from __future__ import annotations

import argparse
import os
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

# One core a process, so that two processes share the machine fairly.
os.environ.setdefault("OMP_NUM_THREADS", "1")

import numpy as np

from correlate.tuning.gaussian_process import LeaveOneOut
from correlate.tuning.guards import best_row, needed_outcomes, start_row
from correlate.tuning.points import design
from correlate.tuning.proposals import propose
from correlate.tuning.release import confirm
from correlate.tuning.runs import HELD_OUT, TRAIN
from correlate.tuning.surrogate import fit_surrogates
from demo_pairs.build import BuildSelection, build
from tests.benchmarks.tuning_optimiser import optimiser_report
from tests.benchmarks.tuning_ratings import TrueRatings
from tests.benchmarks.tuning_searches import random_search, tree_search

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.tuning.runs import RunTable
    from correlate.tuning.surrogate import Surrogate

    Floats = NDArray[np.float64]

DESIGNED, BATCHES, BATCH = 40, 4, 8
RUNS = DESIGNED + BATCHES * BATCH
SEARCHES = ("proposals", "random", "tree")
SENSITIVE = 3
INSIDE = "share of a batch inside the 95 % intervals of the training rating"
LEFT_OUT = "Q² of the three most sensitive channels after the design, runs left out"
FRESH = "the same on the runs of the random search, which the surrogates never saw"


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What one search of one seed came to.

    Attributes
    ----------
    start, best
        Training rating of release A1, and of the best run.
    held_out_start, held_out
        Rating of the held-out load cases there.
    designed
        Best training rating of the first 40 runs.
    """

    start: float
    best: float
    held_out_start: float
    held_out: float
    designed: float


def proposed_runs(ratings: TrueRatings, seed: int) -> tuple[RunTable, list[float]]:
    """Run a Latin hypercube and four batches of proposals.

    Parameters
    ----------
    ratings
        Of the decks.
    seed
        Of design and proposals.

    Returns
    -------
    tuple of RunTable and list of float
        The runs, and of each batch the share whose training rating came inside the predicted interval.
    """
    goal = ratings.tuning.goal
    inside = []
    first = design(ratings.space, kind="latin-hypercube", runs=DESIGNED, seed=seed)
    points = np.array([ratings.space.as_point(one.values) for one in first])
    rounds = [0] * DESIGNED
    for number in range(1, BATCHES + 1):
        table = ratings.table(points, rounds)
        surrogates = fit_surrogates(table, needed_outcomes(table, goal))
        batch = propose(table, surrogates, goal, BATCH, seed)
        points = np.vstack([points, [one.point for one in batch]])
        rounds += [number] * BATCH
        inside.append(confirm(table, ratings.table(points, rounds), batch, goal).share_inside(TRAIN))
    return ratings.table(points, rounds), inside


def searched_runs(ratings: TrueRatings, search: str, seed: int) -> RunTable:
    """Run one of the other searches.

    Parameters
    ----------
    ratings
        Of the decks.
    search
        ``random`` or ``tree``.
    seed
        Of the search.

    Returns
    -------
    RunTable
    """
    start = ratings.space.to_unit(ratings.space.start_point)

    def worth(cube: Floats) -> float:
        return ratings(ratings.space.from_unit(cube)).get(TRAIN, float("nan"))

    cube = {
        "tree": lambda: tree_search(worth, start, RUNS, seed),
        "random": lambda: random_search(start, RUNS, seed),
    }[search]()
    return ratings.table(ratings.space.from_unit(cube), [0] * RUNS)


def outcome_of(ratings: TrueRatings, table: RunTable, *, limited: bool) -> Outcome:
    """Sum up a search.

    Parameters
    ----------
    ratings
        Of the decks.
    table
        Of its runs.
    limited
        Whether the best run must keep the limits; the other searches know of none, which favours them.

    Returns
    -------
    Outcome
    """
    train, held_out = table.outcome(TRAIN), table.outcome(HELD_OUT)
    start = start_row(table)
    best = best_row(table, ratings.tuning.goal) if limited else int(np.nanargmax(train))
    return Outcome(
        start=float(train[start]),
        best=float(train[best]),
        held_out_start=float(held_out[start]),
        held_out=float(held_out[best]),
        designed=float(np.nanmax(train[:DESIGNED])),
    )


def channel_surrogates(table: RunTable) -> dict[str, Surrogate]:
    """Fit the three channels that the designed runs move most, to the designed runs alone."""
    designed = table.select(table.rounds == 0)
    names = [name for name in designed.outcomes if name.startswith("channel/")]
    moved = sorted(names, key=lambda name: -float(np.nanstd(designed.outcomes[name])))[:SENSITIVE]
    return fit_surrogates(designed, moved)


def fresh_q2(surrogate: Surrogate, table: RunTable) -> float:
    """Return the share of the variance of runs that a surrogate never saw and that it predicts."""
    rows = table.done & (np.abs(table.points - table.space.start_point).max(axis=1) > 0)
    rated = table.outcome(surrogate.outcome)[rows]
    said = LeaveOneOut(
        rated=rated, predicted=surrogate.predict(table.points[rows]).mean, deviation=np.ones(rated.size)
    )
    return said.q2


def report(found: dict[str, list[Outcome]], checks: dict[str, list[float]]) -> str:
    """Put what was found into words.

    Parameters
    ----------
    found
        By search, one a seed.
    checks
        Further numbers by their words, one a seed or batch.

    Returns
    -------
    str
    """
    first = found["proposals"][0]
    lines = [f"Start: training {first.start:.4f}, held out {first.held_out_start:.4f}.", ""]
    for search, ends in found.items():
        lines.append(
            f"{search:10} {len(ends)} seeds: training {_range([one.best for one in ends])}, "
            f"held out {_range([one.held_out for one in ends])}, "
            f"best of the first {DESIGNED} {_range([one.designed for one in ends])}"
        )
    lines += [f"{words}: {_range(values)}" for words, values in checks.items()]
    return "\n".join(lines)


def _range(values: list[float]) -> str:
    return f"{np.median(values):.4f} ({min(values):.4f} to {max(values):.4f})"


def _project(kept: Path) -> Path:
    folder = kept / "demo"
    if not build(folder, BuildSelection.of()):
        print("The demo is built already.")
    return folder


def main() -> None:
    """Run what is asked for and print the report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kept", type=Path, required=True, help="folder of the demo and of what was rated")
    parser.add_argument("--seeds", type=int, default=10, help="how many seeds")
    parser.add_argument("--search", choices=SEARCHES, help="run this search alone, without the report")
    given = parser.parse_args()
    given.kept.mkdir(parents=True, exist_ok=True)
    project = _project(given.kept)
    asked = (given.search,) if given.search else SEARCHES
    ratings = {search: TrueRatings(project, given.kept / f"{search}.jsonl") for search in asked}
    found: dict[str, list[Outcome]] = {search: [] for search in asked}
    checks: dict[str, list[float]] = {}
    for seed in range(given.seeds):
        tables = {}
        for search in asked:
            began = time.perf_counter()
            if search == "proposals":
                tables[search], inside = proposed_runs(ratings[search], seed)
                checks.setdefault(INSIDE, []).extend(inside)
            else:
                tables[search] = searched_runs(ratings[search], search, seed)
            limited = search == "proposals"
            found[search].append(outcome_of(ratings[search], tables[search], limited=limited))
            took = time.perf_counter() - began
            print(f"{search} {seed}: {found[search][-1]} in {took:.0f} s", flush=True)
        if not given.search:
            for channel, one in channel_surrogates(tables["proposals"]).items():
                fresh = fresh_q2(one, tables["random"])
                print(f"  {channel}: Q² {one.q2:.3f}, on fresh runs {fresh:.3f}", flush=True)
                checks.setdefault(LEFT_OUT, []).append(one.q2)
                checks.setdefault(FRESH, []).append(fresh)
    if not given.search:
        print("\n" + report(found, checks))
        print("\n" + optimiser_report(given.seeds))


if __name__ == "__main__":
    main()
