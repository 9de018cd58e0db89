"""Means and paired differences of few values: published quantiles, a second library, wrong calls."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from correlate.errors import SettingsError
from correlate.statistics import (
    WIDENING,
    Estimate,
    mean_and_deviation,
    mean_estimate,
    paired_difference,
    student_quantile,
    weighted_sum,
)
from tests.benchmarks import decisions

VALUES = st.lists(st.floats(min_value=0.0, max_value=1.0), min_size=2, max_size=12)


@given(values=VALUES)
def test_mean_and_deviation_have_the_bits_of_numpy(values: list[float]) -> None:
    """Of few values, which are added without arrays, and of more."""
    array = np.asarray(values)
    assert mean_and_deviation(values) == (float(array.mean()), float(array.std(ddof=1)))


@pytest.mark.parametrize(
    ("share", "degrees", "quantile"),
    # From memory of the table that stands in any textbook of statistics.
    [(0.975, 2, 4.303), (0.975, 4, 2.776), (0.975, 9, 2.262), (0.95, 2, 2.920), (0.95, 4, 2.132)],
)
def test_quantiles_are_those_of_the_printed_table(share: float, degrees: int, quantile: float) -> None:
    """Three digits."""
    assert student_quantile(share, degrees) == pytest.approx(quantile, abs=5e-4)


@given(VALUES)
def test_a_mean_is_that_of_a_second_implementation(values: list[float]) -> None:
    """Standard error and, without the widening, the interval of scipy's one-sample test."""
    found = mean_estimate(values)
    assert found is not None
    assert found.standard_error == pytest.approx(float(stats.sem(values)), abs=1e-12)
    half = float(stats.t.ppf(0.975, len(values) - 1)) * found.standard_error
    assert found.half_width() == pytest.approx(half * (1 + WIDENING / (len(values) - 1)), abs=1e-9)
    assert found.lower() <= found.value <= found.upper()
    assert found.lower() <= found.least() <= found.most() <= found.upper()


def test_a_difference_is_paired_by_name() -> None:
    """Only repeats that both have count, whatever their order; the one-sided test is scipy's."""
    before = {"a": 0.80, "b": 0.70, "c": 0.75, "d": 0.9}
    after = {"c": 0.73, "a": 0.79, "b": 0.66, "e": 0.1}
    found = paired_difference(before, after)
    assert found is not None
    differences = [-0.01, -0.04, -0.02]
    assert found.value == pytest.approx(float(np.mean(differences)))
    assert found.count == 3
    margin = 0.03
    chance = stats.ttest_1samp(np.array(differences) + margin, 0.0, alternative="greater").pvalue
    assert found.is_no_worse_than(margin) == (chance <= 0.05)
    assert found.is_no_worse_than(0.06)
    assert paired_difference(before, {"a": 0.8}) is None


def test_equal_repeats_leave_no_doubt_and_no_difference() -> None:
    """A release rated twice is not distinguishable from itself, and no worse by any margin."""
    same = paired_difference({"a": 0.8, "b": 0.7}, {"a": 0.8, "b": 0.7})
    assert same is not None
    assert same.verdict() == "not distinguishable"
    assert same.is_no_worse_than(0.0)
    assert same.is_equivalent_within(0.0)
    rounding = Estimate(value=1e-16, standard_error=0.0, degrees=2.0, count=3)
    assert rounding.verdict() == "not distinguishable"


def test_independent_parts_add_up_after_welch_and_satterthwaite() -> None:
    """Two means of equal weight are Welch's test of scipy, but for the sign."""
    one, two = [0.70, 0.74, 0.71, 0.75], [0.60, 0.80, 0.66]
    parts = [mean_estimate(one), mean_estimate(two)]
    assert parts[0] is not None
    assert parts[1] is not None
    found = weighted_sum([(1.0, parts[0]), (-1.0, parts[1])])
    assert found is not None
    peer = stats.ttest_ind(one, two, equal_var=False)
    assert found.value / found.standard_error == pytest.approx(peer.statistic)
    assert found.degrees == pytest.approx(peer.df)
    assert weighted_sum([]) is None
    assert weighted_sum([(1.0, parts[0]), (1.0, None)]) is None


def test_a_margin_below_zero_is_refused() -> None:
    """There is no such thing as a negative loss to allow."""
    with pytest.raises(SettingsError, match=r"the margin is -0\.1"):
        Estimate(value=0.0, standard_error=0.1, degrees=2.0, count=3).is_no_worse_than(-0.1)


@pytest.mark.parametrize("count", [3, 5])
def test_calls_are_as_often_wrong_as_the_documentation_says(count: int) -> None:
    """A small part of the simulation, on another seed: equal models, and a true loss of 0.02."""
    equal = decisions.calls(decisions.pool_of("normal", size=0.9, repeats=1500, seed=3), count)
    # 300 to 500 laboratories: two standard errors of 5 % are 2.0 to 2.5 points.
    assert equal["better"] + equal["worse"] <= 0.09
    assert equal["covered"] >= 0.91
    worse = decisions.calls(decisions.pool_of("normal", size=0.9, wanted=-0.02, repeats=1500, seed=3), count)
    assert worse["no worse"] <= 0.07
