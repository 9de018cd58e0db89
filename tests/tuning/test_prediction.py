"""Predicting outcomes from curves and from ratings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.tuning.curve_rating import CurveRater
from correlate.tuning.emulator import fit_emulator
from correlate.tuning.guards import needed_outcomes
from correlate.tuning.points import design
from correlate.tuning.prediction import draws_of, fit_predictor
from correlate.tuning.proposals import propose
from correlate.tuning.runs import TRAIN
from tests.benchmarks.tuning import spill
from tests.benchmarks.tuning.problem import Problem

if TYPE_CHECKING:
    from correlate.tuning.prediction import OutcomePredictor
    from correlate.tuning.runs import RunTable


@pytest.fixture(scope="module")
def problem(tmp_path_factory: pytest.TempPathFactory) -> Problem:
    """Build a problem whose solver is a formula."""
    return Problem(spill.KIND, tmp_path_factory.mktemp("predicted"))


@pytest.fixture(scope="module")
def table(problem: Problem) -> RunTable:
    """Run a design of 24."""
    points = design(problem.space, kind="latin-hypercube", runs=24, seed=1)
    return problem.table(np.array([problem.space.as_point(one.values) for one in points]), [0] * 24)


@pytest.fixture(scope="module")
def predictor(problem: Problem, table: RunTable) -> OutcomePredictor:
    """Fit curves and outcomes."""
    traces = problem.traces(table)
    rater = CurveRater(problem.rater, traces.channels)
    return fit_predictor(table, needed_outcomes(table, problem.tuning.goal), fit_emulator(traces), rater)


def test_at_the_runs_the_runs_are_predicted(predictor: OutcomePredictor, table: RunTable) -> None:
    """A solver without noise: the mean prediction of whole curves at a run is nearly what it was rated."""
    cube = table.space.to_unit(table.points)
    assert predictor.source(TRAIN) == "curves"
    assert predictor.means(cube, [TRAIN], thin=False)[TRAIN] == pytest.approx(table.outcomes[TRAIN], abs=0.02)


def test_a_rating_of_load_cases_is_the_mean_of_its_parts(predictor: OutcomePredictor) -> None:
    """Training is the weighted mean of its load cases, in the mean and in every draw."""
    parts = predictor.parts[TRAIN]
    assert sum(parts.values()) == pytest.approx(1)
    cube = np.random.default_rng(5).random((3, 4))
    draws = draws_of(len(predictor.rows), 8)
    drawn = predictor.draw(cube, [TRAIN], draws)[TRAIN]
    assert drawn.shape == (3, 8)
    assert predictor.emulator
    assert predictor.rater
    channels = enumerate(predictor.emulator.channels)
    curves = {place: one.draw(cube, draws.runs, draws.signs).reshape(24, -1) for place, one in channels}
    rated = predictor.rater.outcomes(curves, [TRAIN])[TRAIN].reshape(3, 8)
    assert predictor.draw(cube, [TRAIN], draws, thin=False)[TRAIN] == pytest.approx(rated, abs=1e-9)


def test_what_is_printed_is_the_rating_of_the_mean_curves(predictor: OutcomePredictor) -> None:
    """The draws give the scatter, not the middle."""
    cube = np.random.default_rng(6).random((2, 4))
    whole = predictor.means(cube, [TRAIN], thin=False)[TRAIN]
    assert predictor.printed(cube)[TRAIN].mean(axis=1) == pytest.approx(whole)


def test_draws_come_in_pairs_of_both_signs() -> None:
    """Every error is drawn both ways, and every run before one is drawn again."""
    draws = draws_of(5, 20, seed=2)
    assert draws.signs.reshape(-1, 2).sum() == 0
    assert sorted(draws.runs[::2].tolist()) == sorted([0, 1, 2, 3, 4] * 2)


def test_curves_lead_to_the_best_sooner_than_ratings(
    problem: Problem, predictor: OutcomePredictor, table: RunTable
) -> None:
    """The best of three proposals by curves beats the best of the design, and is predicted within 0.05."""
    chosen = propose(table, predictor, problem.tuning.goal, 3, 0, least_q2=-np.inf)
    rated = [problem(one.point)[TRAIN] for one in chosen]
    assert max(rated) > float(table.outcomes[TRAIN].max())
    best = int(np.argmax(rated))
    assert chosen[best].predicted[TRAIN].mean == pytest.approx(rated[best], abs=0.05)


def test_without_curves_outcomes_come_from_their_surrogates(table: RunTable) -> None:
    """The same predictor without an emulator."""
    found = fit_predictor(table, [TRAIN])
    assert found.source(TRAIN) == "ratings"
    assert found.trust(TRAIN) == found.left_out(TRAIN).q2
