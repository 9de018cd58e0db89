"""The searches of the program itself: a design, then batches of proposals, each with its prediction."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.tuning.calibration import KeptPrediction, calibrations
from correlate.tuning.curve_rating import CurveRater
from correlate.tuning.emulator import fit_emulator
from correlate.tuning.guards import needed_outcomes
from correlate.tuning.points import design
from correlate.tuning.prediction import fit_predictor
from correlate.tuning.proposals import propose
from correlate.tuning.runs import TRAIN
from correlate.tuning.surrogate import LEAST_Q2

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from correlate.tuning.emulator import CurveEmulator
    from correlate.tuning.runs import RunTable
    from tests.benchmarks.tuning.problem import Problem

    Floats = NDArray[np.float64]
    Curves = Callable[[RunTable], tuple[CurveEmulator | None, CurveRater | None]]

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
    round
        Number of the batch.
    deviation, correction
        As in :class:`~correlate.tuning.predicted.Predicted`.
    """

    row: int
    mean: float
    low: float
    high: float
    rated: float
    round: int = 0
    deviation: float | None = None
    correction: float = 0.0


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
    return _runs(problem, designed, batch, UNTIL, seed, curves=lambda _table: (None, None))


def emulator_runs(problem: Problem, designed: int, batch: int, until: int, seed: int) -> SearchRuns:
    """Run a design and batches of proposals from emulated curves.

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

    def curves(table: RunTable) -> tuple[CurveEmulator, CurveRater]:
        traces = problem.traces(table)
        return fit_emulator(traces), CurveRater(problem.rater, traces.channels)

    return _runs(problem, designed, batch, until, seed, curves=curves)


def _runs(
    problem: Problem, designed: int, batch: int, until: int, seed: int, *, curves: Curves
) -> SearchRuns:
    goal = problem.tuning.goal
    first = design(problem.space, kind="latin-hypercube", runs=designed, seed=seed)
    points = np.array([problem.space.as_point(one.values) for one in first])
    rounds = [0] * designed
    predictions: list[PredictedRun] = []
    refused: list[int] = []
    kept: list[KeptPrediction] = []
    while len(points) < until:
        table = problem.table(points, rounds)
        predictor = fit_predictor(table, needed_outcomes(table, goal), *curves(table))
        number = rounds[-1] + 1
        if any(predictor.trust(name) < LEAST_Q2 for name in predictor.outcomes if not predictor.flat(name)):
            refused.append(number)
        chosen = propose(
            table,
            predictor,
            goal,
            min(batch, until - len(points)),
            seed,
            least_q2=-np.inf,
            calibration=calibrations(kept),
        )
        for one in chosen:
            said, found = one.predicted[TRAIN], problem(one.point)
            rated = found.get(TRAIN, float("nan"))
            predictions.append(PredictedRun(row=len(points), rated=rated, round=number, **asdict(said)))
            kept += [
                KeptPrediction(
                    round=number,
                    identity=str(len(points)),
                    outcome=name,
                    predicted=expected,
                    rated=found[name],
                )
                for name, expected in one.predicted.items()
                if name in found
            ]
            points = np.vstack([points, one.point])
            rounds.append(number)
    return SearchRuns(points=points, rounds=rounds, predictions=predictions, refused=refused)


PRODUCT: Final[dict[str, Callable[[Problem, int], SearchRuns]]] = {
    "rating-surrogate": lambda problem, seed: rating_surrogate_runs(problem, DESIGNED, BATCH, seed),
    "emulator": lambda problem, seed: emulator_runs(problem, DESIGNED, BATCH, UNTIL, seed),
}
"""By the name on the command line."""
