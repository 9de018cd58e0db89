"""The next runs."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.errors import SettingsError
from correlate.tuning.acquisition import weighted
from correlate.tuning.definition import TuningGoal
from correlate.tuning.guards import needed_outcomes
from correlate.tuning.prediction import fit_predictor
from correlate.tuning.proposals import APART, propose
from correlate.tuning.search import not_beaten
from tests.benchmarks.tuning.optimiser import least_found
from tests.tuning.functions import BRANIN_LEAST, box, branin, run_table

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.tuning.runs import RunTable

    Floats = NDArray[np.float64]

SPACE = box((0, 2), (0, 1))
GOAL = TuningGoal(train=("a",))
TOP = np.array([0.6, 0.5])


def runs(count: int = 16, seed: int = 0) -> RunTable:
    """Return the start point and random runs of a round hill with its top at (1.2, 0.5)."""
    points = SPACE.from_unit(np.vstack([[0.5, 0.5], np.random.default_rng(seed).random((count - 1, 2))]))
    away = np.sum((SPACE.to_unit(points) - TOP) ** 2, axis=1)
    held_out = 1 - points[:, 0] / 2
    return run_table(SPACE, points, {"train": 1 - away, "load case/h": held_out})


def fitted_and_proposed(table: RunTable, goal: TuningGoal, count: int, seed: int = 1) -> Floats:
    """Return the proposed points in the unit cube."""
    predictor = fit_predictor(table, needed_outcomes(table, goal))
    return np.array([SPACE.to_unit(one.point) for one in propose(table, predictor, goal, count, seed)])


def test_the_first_proposal_is_near_the_top() -> None:
    """After 16 runs the hill is known: the first proposal climbs it, and its prediction is true."""
    table = runs()
    first = propose(table, fit_predictor(table, ["train"]), GOAL, 1, seed=1)[0]
    assert SPACE.to_unit(first.point) == pytest.approx(TOP, abs=0.05)
    true = 1 - np.sum((SPACE.to_unit(first.point) - TOP) ** 2)
    assert first.predicted["train"].mean == pytest.approx(true, abs=0.01)
    assert first.predicted["train"].low <= true <= first.predicted["train"].high
    assert first.best["train"] == table.outcomes["train"].max()
    assert first.chance_of_success == 1
    assert re.match(r"'train' is expected 0\.\d+ above the best run so far", first.reason)


def test_no_two_are_alike_and_equal_seeds_propose_alike() -> None:
    """Eight points inside the bounds, apart from each other, from finished runs and from waiting ones."""
    table = runs()
    taken = SPACE.to_unit(table.points)
    batch = fitted_and_proposed(table, GOAL, 8)
    everything = np.vstack([taken, batch])
    away = np.abs(everything[:, None] - everything[None]).max(axis=2) + np.eye(len(everything))
    assert away[len(taken) :].min() >= APART - 1e-9
    assert batch.min() >= 0
    assert batch.max() <= 1
    assert np.array_equal(batch[:2], fitted_and_proposed(table, GOAL, 2))
    waiting = run_table(
        SPACE,
        np.vstack([table.points, SPACE.from_unit(batch[:1])]),
        {name: np.append(values, np.nan) for name, values in table.outcomes.items()},
        status=[*table.status, "waiting"],
    )
    assert np.abs(fitted_and_proposed(waiting, GOAL, 1) - batch[0]).max() >= APART


def test_limits_hold_proposals_back() -> None:
    """The held-out load case falls with x0: no proposal goes where it would lose more than the limit."""
    goal = replace(GOAL, held_out=("h",), largest_held_out_loss=0.02)
    free = fitted_and_proposed(runs(), GOAL, 2)
    kept = fitted_and_proposed(runs(), goal, 3)
    assert free[0, 0] > 0.55
    assert (kept[:, 0] < 0.5 + 0.02 + 0.01).all()
    table = runs()
    said = propose(table, fit_predictor(table, needed_outcomes(table, goal)), goal, 1, seed=1)[0]
    assert said.chance_of_limits > 0.3
    assert "probability that the limits are met:" in said.reason


def test_failed_runs_keep_proposals_away() -> None:
    """All runs at and beyond the top fail: the proposals stay on the side where runs end well."""
    table = runs(40)
    failed = SPACE.to_unit(table.points)[:, 0] > 0.55
    status = np.where(failed, "failed", "done").tolist()
    worth = np.where(failed, np.nan, table.outcomes["train"])
    some = run_table(SPACE, table.points, {"train": worth}, status=status)
    batch = propose(some, fit_predictor(some, ["train"]), GOAL, 3, seed=1)
    assert max(SPACE.to_unit(one.point)[0] for one in batch) < 0.66
    assert any("probability that the run succeeds:" in one.reason for one in batch)


def test_several_outcomes_spread_the_batch_along_the_front() -> None:
    """One outcome rises and one falls with x0, both want x1 in the middle: the batch spreads over x0."""
    random = np.random.default_rng(3)
    points = SPACE.from_unit(np.vstack([[0.5, 0.5], random.random((19, 2))]))
    cube = SPACE.to_unit(points)
    bent = (cube[:, 1] - 0.5) ** 2
    table = run_table(SPACE, points, {"a": cube[:, 0] - bent, "b": 1 - cube[:, 0] ** 2 - bent})
    goal = TuningGoal(train=("t",), objective="several", outcomes=("a", "b"))
    batch = fitted_and_proposed(table, goal, 6)
    assert np.abs(batch[:, 1] - 0.5).mean() < 0.15
    assert np.ptp(batch[:, 0]) > 0.4
    worth = np.array([batch[:, 0], 1 - batch[:, 0] ** 2]).T - ((batch[:, 1] - 0.5) ** 2)[:, None]
    assert (
        not_beaten(np.vstack([worth, np.array([table.outcomes["a"], table.outcomes["b"]]).T]))[:6].sum() >= 3
    )


def test_weighted_outcomes() -> None:
    """The worst weighted outcome and a twentieth of the sum: min(0.5, 1) + 0.05 · 1.5."""
    assert weighted(np.array([1.0, 2.0]), np.array([0.5, 0.5])) == pytest.approx(0.5 + 0.05 * 1.5)


def test_branin_is_found() -> None:
    """The published least value, 0.397887, within 0.1 after 10 designed runs and 4 batches of 4."""
    found = least_found(branin, [(-5.0, 10.0), (0.0, 15.0)], designed=10, batches=4, batch=4, seed=1)
    assert BRANIN_LEAST - 1e-6 <= found <= BRANIN_LEAST + 0.1


def test_a_surrogate_that_predicts_nothing_is_refused_unless_told() -> None:
    """Noise is not recommended from; a lower demand lets it through."""
    random = np.random.default_rng(5)
    noise = run_table(SPACE, random.random((12, 2)), {"train": random.standard_normal(12)})
    predictor = fit_predictor(noise, ["train"])
    with pytest.raises(
        SettingsError,
        match=r"'train' is predicted too poorly \(Q² .*at least 0.5 is required\).*--add N.*--least-q2",
    ):
        propose(noise, predictor, GOAL, 1, seed=0)
    assert len(propose(noise, predictor, GOAL, 1, seed=0, least_q2=-100.0)) == 1


def test_what_cannot_be_proposed_is_refused() -> None:
    """No runs asked for, a surrogate missing, an outcome that never moves."""
    table = runs()
    predictor = fit_predictor(table, ["train"])
    with pytest.raises(SettingsError, match="0 runs cannot be proposed"):
        propose(table, predictor, GOAL, 0, seed=0)
    with pytest.raises(SettingsError, match="outcome 'load case/h' is not predicted"):
        propose(table, predictor, replace(GOAL, held_out=("h",)), 1, seed=0)
    still = run_table(SPACE, table.points, {"train": np.full(16, 0.5)})
    with pytest.raises(SettingsError, match="'train' is the same in every run"):
        propose(still, fit_predictor(still, ["train"]), GOAL, 1, seed=0)
