"""The searches of the program itself: a design, then batches of proposals, each with its prediction."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.tuning.guards import needed_outcomes
from correlate.tuning.points import design
from correlate.tuning.proposals import propose
from correlate.tuning.runs import TRAIN
from correlate.tuning.surrogate import LEAST_Q2, fit_surrogates, untrusted

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from tests.benchmarks.tuning.problem import Problem

    Floats = NDArray[np.float64]

DESIGNED, BATCH, UNTIL = 20, 6, 72


@dataclass(frozen=True, slots=True, kw_only=True)
class PredictedRun:
    """The training rating that was predicted of a proposed run, and what came.

    Attributes
    ----------
    row
        Of the run, counted from 0.
    mean, low, high
        Prediction and the ends of its 95 % interval.
    rated
        What came; nan for a failed run.
    """

    row: int
    mean: float
    low: float
    high: float
    rated: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchRuns:
    """The runs of one search.

    Attributes
    ----------
    points
        Shape ``(n, d)``, in the units of the parameters, in the order in which they were tried.
    rounds
        Of each point; 0 is the design, or the whole of a search without batches.
    predictions
        Of the runs that were predicted.
    refused
        Numbers of the rounds that the program would have refused to propose, because a surrogate
        predicted too little; the search went on all the same.
    """

    points: Floats
    rounds: list[int]
    predictions: list[PredictedRun] = field(default_factory=list)
    refused: list[int] = field(default_factory=list)


def rating_surrogate_runs(problem: Problem, designed: int, batch: int, seed: int) -> SearchRuns:
    """Run the search with a surrogate of each rating, until ``UNTIL`` runs; see `emulator_runs`."""
    return _surrogate_runs(problem, designed, batch, UNTIL, seed)


def emulator_runs(problem: Problem, designed: int, batch: int, until: int, seed: int) -> SearchRuns:
    """Run a design and batches of proposals.

    Parameters
    ----------
    problem
        What is tuned.
    designed
        Runs of the design, a Latin hypercube with the start first.
    batch
        Runs of each batch; the last may be smaller.
    until
        Runs altogether.
    seed
        Of design and proposals.

    Returns
    -------
    SearchRuns
    """
    return _surrogate_runs(problem, designed, batch, until, seed)


def _surrogate_runs(problem: Problem, designed: int, batch: int, until: int, seed: int) -> SearchRuns:
    goal = problem.tuning.goal
    first = design(problem.space, kind="latin-hypercube", runs=designed, seed=seed)
    points = np.array([problem.space.as_point(one.values) for one in first])
    rounds = [0] * designed
    predictions: list[PredictedRun] = []
    refused: list[int] = []
    while len(points) < until:
        table = problem.table(points, rounds)
        surrogates = fit_surrogates(table, needed_outcomes(table, goal))
        number = rounds[-1] + 1
        if any(untrusted(surrogates[name], LEAST_Q2) for name in needed_outcomes(table, goal)):
            refused.append(number)
        count = min(batch, until - len(points))
        chosen = propose(table, surrogates, goal, count, seed, least_q2=-np.inf)
        for one in chosen:
            said = one.predicted[TRAIN]
            rated = problem(one.point).get(TRAIN, float("nan"))
            predictions.append(
                PredictedRun(row=len(points), mean=said.mean, low=said.low, high=said.high, rated=rated)
            )
            points = np.vstack([points, one.point])
            rounds.append(number)
    return SearchRuns(points=points, rounds=rounds, predictions=predictions, refused=refused)


PRODUCT: Final[dict[str, Callable[[Problem, int], SearchRuns]]] = {
    "rating-surrogate": lambda problem, seed: rating_surrogate_runs(problem, DESIGNED, BATCH, seed),
    "emulator": lambda problem, seed: emulator_runs(problem, DESIGNED, BATCH, UNTIL, seed),
}
"""By the name on the command line."""
