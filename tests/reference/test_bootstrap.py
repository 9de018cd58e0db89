"""The interval of a mean over few repeats."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import norm, t

from correlate.errors import SettingsError
from correlate.reference.bootstrap import interval_of_mean
from tests.oracles.bootstrap_all import quantile_of_means

MEASURED_COVERAGE = {3: 0.75, 4: 0.87, 5: 0.92, 6: 0.93}
"""Share of 95 % intervals that hold the true mean of normal values, as documented; for three values the
closed form is 1 − 2 · (1/2)³ = 3/4, because the interval is that of the extremes."""


@pytest.mark.parametrize("values", [[0.7, 0.72, 0.8], [0.61, 0.64, 0.60, 0.66], [3.0, 1.0, 4.0, 1.0, 5.0]])
def test_every_resample_counts(values: list[float]) -> None:
    """Ends are the quantiles over all resamples, counted one by one at the widened tail."""
    count = len(values)
    tail = norm.cdf(-math.sqrt(count / (count - 1)) * t.ppf(0.975, count - 1))
    found = interval_of_mean(values)
    assert found.low == pytest.approx(quantile_of_means(values, float(tail)))
    turned = [-value for value in values]
    assert found.high == pytest.approx(-quantile_of_means(turned, float(tail)))


@given(
    st.lists(st.floats(0, 1), min_size=3, max_size=10),
    st.floats(-10, 10),
)
def test_invariants(values: list[float], move: float) -> None:
    """It lies within the values, holds their mean, and moves with them."""
    found = interval_of_mean(values)
    assert min(values) - 1e-12 <= found.low <= np.mean(values) + 1e-9
    assert np.mean(values) - 1e-9 <= found.high <= max(values) + 1e-12
    moved = interval_of_mean([value + move for value in values])
    assert moved.low == pytest.approx(found.low + move, abs=1e-9)


def test_a_higher_level_is_never_narrower() -> None:
    """80, 95 and 99 %."""
    widths = []
    for level in (0.8, 0.95, 0.99):
        found = interval_of_mean([0.61, 0.64, 0.60, 0.66, 0.7, 0.58], level=level)
        widths.append(found.high - found.low)
    assert widths == sorted(widths)


@pytest.mark.parametrize("count", MEASURED_COVERAGE)
def test_coverage_is_what_the_docs_say(count: int) -> None:
    """Of 1,500 intervals of normal values, so many hold the true mean (within 3 %)."""
    random = np.random.default_rng(count)
    held = 0
    for draws in random.normal(size=(1500, count)):
        found = interval_of_mean(draws.tolist())
        held += found.low <= 0.0 <= found.high
    assert held / 1500 == pytest.approx(MEASURED_COVERAGE[count], abs=0.03)


def test_many_values_are_drawn_with_a_fixed_seed() -> None:
    """Beyond eight values resamples are drawn; twice the same data give the same interval."""
    values = np.linspace(0.5, 0.7, 12).tolist()
    found = interval_of_mean(values)
    assert found == interval_of_mean(values)
    assert "seed" in found.method


def test_too_few_values_are_refused() -> None:
    """Two values give no interval, and a level of 1 neither."""
    with pytest.raises(SettingsError, match=r"2 values at level 0\.95"):
        interval_of_mean([0.1, 0.2])
    with pytest.raises(SettingsError, match="3 values at level 1"):
        interval_of_mean([0.1, 0.2, 0.3], level=1)
