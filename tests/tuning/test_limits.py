"""What a proposal must keep."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from correlate.errors import SettingsError
from correlate.tuning.definition import TuningGoal
from correlate.tuning.guards import (
    best_row,
    broken_limits,
    limits_of,
    needed_outcomes,
    over_limits_words,
    start_row,
    within_limits,
)
from tests.tuning.functions import box, run_table

GOAL = TuningGoal(train=("a",), held_out=("h",))
SPACE = box((0, 1))
POINTS = np.array([[0.1], [0.5], [0.8], [0.9]])
TABLE = run_table(
    SPACE,
    POINTS,
    {
        "train": np.array([0.6, 0.5, 0.8, 0.9]),
        "load case/h": np.array([0.7, 0.7, 0.685, 0.6]),
        "window/a/peak": np.array([0.2, 0.1, 0.0, 0.3]),
        "window/a/late": np.array([0.2, -0.1, -0.3, 0.1]),
    },
)


def test_limits_stand_against_the_start() -> None:
    """The start is the second run: held-out 0.70 − 0.02; the window it meets stays met; the other is none."""
    assert start_row(TABLE) == 1
    found = {one.outcome: one.least for one in limits_of(TABLE, GOAL)}
    assert found == pytest.approx({"load case/h": 0.68, "window/a/peak": 0.0})
    assert needed_outcomes(TABLE, GOAL) == ("train", "load case/h", "window/a/peak")


def test_the_best_run_keeps_the_limits() -> None:
    """The best of all loses too much of the held-out load case; the second best does not."""
    assert within_limits(TABLE, GOAL).tolist() == [True, True, True, False]
    assert best_row(TABLE, GOAL) == 2
    free = replace(GOAL, largest_held_out_loss=None, windows_stay_met=False)
    assert limits_of(TABLE, free) == ()
    assert best_row(TABLE, free) == 3


def test_a_broken_limit_is_told_with_the_runs_that_break_it() -> None:
    """The last run loses 0.10 of the held-out load case; the window that is exactly met is kept."""
    ((limit, rows),) = broken_limits(TABLE, GOAL)
    assert (limit.outcome, rows) == ("load case/h", (3,))


def test_a_run_that_looks_better_and_breaks_a_limit_is_told() -> None:
    """Its rating, the limit that it misses by most, and how many more there are; nothing without limits."""
    named = replace(TABLE, identities=("p001", "p000", "p002", "p003"))
    words = over_limits_words(named, GOAL)
    assert words == "p003 has 0.900 but violates the limit 'load case/h' (−0.08)"
    worse = {**named.outcomes, "window/a/peak": np.array([0.2, 0.1, -0.5, -0.3])}
    words = over_limits_words(replace(named, outcomes=worse), GOAL)
    assert words == (
        "p003 has 0.900 but violates the limit 'window/a/peak' (−0.3) and 1 other; "
        "1 further run is rated higher than the best"
    )
    free = replace(GOAL, largest_held_out_loss=None, windows_stay_met=False)
    assert over_limits_words(named, free) == ""


def test_a_failed_start_is_no_start() -> None:
    """Nothing can be compared with a start that was not run to its end."""
    failed = run_table(SPACE, POINTS, TABLE.outcomes, status=["done", "failed", "done", "done"])
    with pytest.raises(SettingsError, match="the start point has no finished run"):
        limits_of(failed, GOAL)


def test_a_start_without_the_held_out_load_case_is_refused() -> None:
    """The limit has no number then."""
    held_out = np.array([0.7, np.nan, 0.7, 0.7])
    table = run_table(SPACE, POINTS, {**TABLE.outcomes, "load case/h": held_out})
    with pytest.raises(SettingsError, match="the start point has no outcome 'load case/h'"):
        limits_of(table, GOAL)


def test_no_run_may_keep_the_limits() -> None:
    """Without a finished run that keeps them there is no best."""
    table = run_table(SPACE, POINTS, {**TABLE.outcomes, "train": np.full(4, np.nan)})
    with pytest.raises(SettingsError, match="no finished run keeps the limits"):
        best_row(table, GOAL)
