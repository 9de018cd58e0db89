"""Guards against fitting noise."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.errors import SettingsError
from correlate.tuning.definition import TuningGoal
from correlate.tuning.guards import Gain, bound_words, repeat_interval, rounds_of
from correlate.tuning.parameters import Parameter, ParameterSpace
from tests.tuning.functions import box, run_table


def test_the_repeat_interval_adds_up_independent_scatter() -> None:
    """Weights 3 and 1, spreads 0.02 and 0.08: 1.959964 · √((3/4 · 0.02)² + (1/4 · 0.08)²) = 0.049."""
    spreads = {"a": 0.02, "b": 0.08, "c": None, "d": 0.5}
    weights = {"a": 3.0, "b": 1.0, "c": 2.0}
    assert repeat_interval(spreads, weights) == pytest.approx(1.959964 * 0.025, abs=1e-6)
    with pytest.raises(SettingsError, match="no load case has two rated repeats"):
        repeat_interval({"c": None}, weights)


def test_a_gain_within_the_scatter_is_called_that() -> None:
    """Larger than the interval, smaller, and a loss."""
    real = Gain(before=0.70, after=0.80, repeat_interval=0.03)
    chance = Gain(before=0.70, after=0.72, repeat_interval=0.03)
    loss = Gain(before=0.70, after=0.65, repeat_interval=0.03)
    assert real.real
    assert "rose by 0.100, more than the 0.030" in real.words
    assert not chance.real
    assert chance.words.endswith("it may be chance")
    assert "did not rise (−0.050)" in loss.words


def test_each_round_shows_the_held_out_load_cases_of_its_best_run() -> None:
    """The start in a later row, a failed run, and a run that is best but over the limit."""
    table = run_table(
        box((0, 1)),
        np.array([[0.1], [0.5], [0.2], [0.3], [0.9]]),
        {
            "train": np.array([0.5, 0.6, 0.7, np.nan, 0.9]),
            "load case/h": np.array([0.8, 0.8, 0.79, np.nan, 0.5]),
        },
        status=["done", "done", "done", "failed", "done"],
        rounds=[0, 0, 1, 1, 2],
    )
    found = rounds_of(table, TuningGoal(train=("a",), held_out=("h",)))
    assert [(one.number, one.row, one.raised["train"]) for one in found] == [
        (0, 1, 0.6),
        (1, 2, 0.7),
        (2, 2, 0.7),
    ]
    assert [one.held_out["h"] for one in found] == [0.8, 0.79, 0.79]
    assert {one.held_out_start["h"] for one in found} == {0.8}
    assert [(one.runs, one.not_done, one.over_limits) for one in found] == [(2, 0, 0), (4, 1, 0), (5, 1, 1)]


def test_parameters_at_a_bound_are_named() -> None:
    """At the lower one, inside, and at the upper one, with value and unit."""
    space = ParameterSpace(
        (
            Parameter(name="a", unit="MPa", lower=1, upper=100, scale="log", start=10),
            Parameter(name="b", unit="1", lower=0, upper=1, start=0.5),
            Parameter(name="d", unit="1", lower=0, upper=2, start=0.5),
            Parameter(name="c", unit="N/mm", lower=0, upper=40, start=20),
        )
    )
    assert bound_words(space, np.array([1.001, 0.5, 2.0, 40.0])) == (
        "'a' is at its lower bound (1 MPa): the best value may lie outside",
        "'d' is at its upper bound (2): the best value may lie outside",
        "'c' is at its upper bound (40 N/mm): the best value may lie outside",
    )
    assert bound_words(space, space.start_point) == ()
