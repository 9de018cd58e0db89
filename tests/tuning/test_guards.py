"""Guards against fitting noise."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.tuning.definition import TuningGoal
from correlate.tuning.guards import Gain, bound_words, gain_over_repeats, rounds_of
from correlate.tuning.parameters import Parameter, ParameterSpace
from tests.tuning.functions import box, run_table

BEFORE = {"a": {"T1": 0.70, "T2": 0.80, "T3": 0.60}, "b": {"U1": 0.5, "U2": 0.9}}
WEIGHTS = {"a": 3.0, "b": 1.0}


def after(*changes: float) -> dict[str, dict[str, float]]:
    """Return the ratings after each repeat changed by so much."""
    left = iter(changes)
    return {case: {name: value + next(left) for name, value in one.items()} for case, one in BEFORE.items()}


def test_a_gain_is_paired_by_repeat_and_added_up_over_load_cases() -> None:
    """Differences 0.02, 0.03, 0.04 with weight 3/4 and 0.01, 0.03 with weight 1/4, worked by hand."""
    found = gain_over_repeats(BEFORE, after(0.02, 0.03, 0.04, 0.01, 0.03), WEIGHTS)
    assert found is not None
    assert found.value == pytest.approx(0.75 * 0.03 + 0.25 * 0.02)
    first, second = 0.75**2 * 0.01**2 / 3, 0.25**2 * 0.01**2
    assert found.standard_error == pytest.approx((first + second) ** 0.5)
    assert found.degrees == pytest.approx((first + second) ** 2 / (first**2 / 2 + second**2 / 1))


def test_a_steady_gain_is_real_although_the_repeats_scatter() -> None:
    """The repeats lie 0.1 apart and each gains 0.02; as much in the mean, up and down, is chance."""
    steady = Gain(before=0.70, after=0.72, estimate=gain_over_repeats(BEFORE, after(*[0.02] * 5), WEIGHTS))
    wild = gain_over_repeats(BEFORE, after(0.10, -0.06, 0.02, 0.2, -0.16), WEIGHTS)
    chance = Gain(before=0.70, after=0.72, estimate=wild)
    assert steady.real
    assert (
        steady.words == "the rating rose by 0.020, better (95 % interval +0.020 to +0.020, paired by repeat)"
    )
    assert not chance.real
    assert "not distinguishable (95 % interval −" in chance.words
    assert "did not rise (−0.050)" in Gain(before=0.70, after=0.65, estimate=wild).words


def test_one_repeat_is_no_evidence_of_a_gain() -> None:
    """A load case with a single repeat leaves chance open, however large the rise."""
    single = {"a": {"T1": 0.7}, "b": BEFORE["b"]}
    assert gain_over_repeats(single, {"a": {"T1": 0.9}, "b": BEFORE["b"]}, WEIGHTS) is None
    gain = Gain(before=0.7, after=0.9, estimate=None)
    assert not gain.real
    assert gain.words.endswith("chance cannot be distinguished from gain")


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
