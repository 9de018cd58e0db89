"""Runs that no other run beats in everything."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from correlate.errors import SettingsError
from correlate.tuning.definition import TuningGoal
from correlate.tuning.search import hypervolume, not_beaten, pareto_front
from tests.tuning.functions import box, run_table


@settings(max_examples=40, deadline=None)
@given(arrays(np.float64, (8, 3), elements=st.integers(0, 3).map(float)))
def test_every_point_is_kept_or_beaten(values: np.ndarray[tuple[int, int], np.dtype[np.float64]]) -> None:
    """By the definition, pair by pair."""
    kept = not_beaten(values)
    for one in range(8):
        beaten = any(
            all(values[other] >= values[one]) and any(values[other] > values[one]) for other in range(8)
        )
        assert kept[one] == (not beaten)


def test_the_front_holds_finished_runs_within_limits() -> None:
    """A failed run and a run without one outcome are on no front; the rows fall by the first outcome."""
    table = run_table(
        box((0, 1)),
        np.linspace(0, 1, 5)[:, None],
        {"a": np.array([1, 2, 3, 9, 8.0]), "b": np.array([3, 1, 2, 9, np.nan])},
        status=["done", "done", "done", "failed", "done"],
    )
    front = pareto_front(table, TuningGoal(train=("t",), objective="several", outcomes=("a", "b")))
    assert front.rows.tolist() == [2, 0]
    assert front.values.tolist() == [[3, 2], [1, 3]]


def test_hypervolumes_of_boxes() -> None:
    """Closed forms: one box; two that overlap (a b + c d − overlap); three dimensions; nothing covered."""
    assert hypervolume([[2, 3]], [0, 1]) == pytest.approx(4)
    assert hypervolume([[1, 4], [3, 2], [1, 1]], [0, 0]) == pytest.approx(4 + 6 - 2)
    assert hypervolume([[2, 1, 1], [1, 2, 1], [1, 1, 2]], [0, 0, 0]) == pytest.approx(4)
    assert hypervolume([[0, 5]], [0, 0]) == 0
    with pytest.raises(SettingsError, match="2 outcomes do not fit a reference of 1"):
        hypervolume([[1, 2]], [0])
