"""Drift, steps and exchanges against sums written by hand, and how often they are false alarms."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.laboratory import changes
from tests.benchmarks.qualification_history import rates
from tests.oracles.series_by_hand import half_width, largest_ratio, line_with_levels

if TYPE_CHECKING:
    from correlate.laboratory import Effect


def series(seed: int, count: int) -> tuple[list[float], list[float]]:
    """Return days at random distances, in years, and normal values."""
    random = np.random.default_rng(seed)
    years = np.cumsum(random.uniform(0.05, 0.3, count)).tolist()
    return years, random.standard_normal(count).tolist()


def check_interval(found: Effect | None, value: float, half: float) -> None:
    """Compare an effect with a value and half its interval."""
    assert found is not None
    assert found.value == pytest.approx(value, abs=1e-9)
    assert found.upper - found.value == pytest.approx(half, abs=1e-9)
    assert found.value - found.lower == pytest.approx(half, abs=1e-9)


@pytest.mark.parametrize("starts", [[], [5], [4, 9]])
def test_drift_and_exchanges_agree_with_sums_by_hand(starts: list[int]) -> None:
    """Slope, jumps and their intervals, with and without exchanges, for several comparisons."""
    years, values = series(7, 13)
    ends = [0, *starts, 13]
    parts = [list(range(first, last)) for first, last in pairwise(ends)]
    slope, error, jumps, errors, degrees = line_with_levels(years, values, parts)
    found = changes(years, values, starts=starts, comparisons=4, exchange_comparisons=6)
    check_interval(found.drift, slope, half_width(error, degrees, 4))
    assert len(found.exchanges) == len(starts)
    for one, jump, jump_error in zip(found.exchanges, jumps, errors, strict=True):
        check_interval(one, jump, half_width(jump_error, degrees, 6))


def test_the_step_is_where_the_student_ratio_is_largest() -> None:
    """Its place and size are those of a loop over all places."""
    for seed in range(20):
        years, values = series(seed, 12)
        found = changes(years, values).step
        assert found is not None
        at, _ = largest_ratio(values)
        assert found.at == at
        assert found.size == pytest.approx(np.mean(values[at:]) - np.mean(values[:at]))


def test_the_probability_of_a_step_is_that_of_other_random_series() -> None:
    """Of series drawn by another generator, as many have as large a ratio as the probability says."""
    years, values = series(3, 9)
    values[5:] = [value + 1.5 for value in values[5:]]
    found = changes(years, values).step
    assert found is not None
    _, ratio = largest_ratio(values)
    random = np.random.default_rng(99)
    drawn = [largest_ratio(random.standard_normal(9).tolist())[1] for _ in range(1000)]
    share = float(np.mean([one >= ratio for one in drawn]))
    assert found.probability == pytest.approx(share, abs=4 * np.sqrt(share * (1 - share) / 1000) + 0.004)


def test_a_jump_is_a_step_and_a_slope_is_a_drift() -> None:
    """Either is found alone where both describe the series to a degree."""
    years = [0.2 * at for at in range(12)]
    scatter = [0.1, -0.1, 0.05, -0.12, 0.08, -0.06, 0.11, -0.07, 0.02, 0.09, -0.1, 0.04]
    jump = changes(years, [one + (3.0 if at >= 7 else 0.0) for at, one in enumerate(scatter)])
    assert (jump.is_step, jump.is_drift) == (True, False)
    assert jump.step is not None
    assert jump.step.at == 7
    slope = changes(years, [one + 1.5 * year for year, one in zip(years, scatter, strict=True)])
    assert (slope.is_step, slope.is_drift) == (False, True)
    quiet = changes(years, scatter)
    assert (quiet.is_step, quiet.is_drift) == (False, False)


def test_an_exchange_is_no_step_and_does_not_hide_a_drift() -> None:
    """A saw tooth: the part wears, is exchanged, and wears again."""
    years = [0.1 * at for at in range(16)]
    scatter = np.random.default_rng(5).normal(0, 0.05, 16)
    values = [-2.0 * year + (1.6 if at >= 8 else 0.0) + scatter[at] for at, year in enumerate(years)]
    found = changes(years, values, starts=[8])
    assert found.is_drift
    assert found.drift is not None
    assert found.drift.lower < -2.0 < found.drift.upper
    (effect,) = found.exchanges
    assert effect is not None
    assert effect.is_distinguishable
    assert effect.lower < 1.6 < effect.upper


@pytest.mark.parametrize(
    ("years", "values"),
    [
        ([0.0, 1.0], [1.0, 2.0]),
        ([0.0, 1.0, 2.0], [1.0, 2.0, 3.0]),
        ([1.0] * 6, [1.0, 2.0, 3.0, 1.0, 2.0, 3.0]),
    ],
)
def test_too_few_tests_or_one_day_give_no_drift(years: list[float], values: list[float]) -> None:
    """No interval without degrees of freedom, no slope within one day."""
    found = changes(years, values)
    assert found.drift is None
    assert not found.is_drift


def test_equal_values_show_no_change() -> None:
    """A quantity that never changes is no step and no drift."""
    found = changes([0.0, 0.1, 0.2, 0.3, 0.4, 0.5], [4.0] * 6, starts=[3])
    assert found.step is None
    assert not found.is_drift
    assert not found.is_step


@pytest.mark.parametrize("count", [5, 10, 30])
def test_false_alarms_are_as_rare_as_promised(count: int) -> None:
    """Of series without a change, at most 5 % show a drift or a step; the bound allows for 800 draws."""
    found = rates(count, series=800, seed=count)
    assert found.drift_or_step <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 800)
    assert found.drift_or_step >= 0.02
