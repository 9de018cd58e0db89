"""The exponent of a growth and its interval."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from tests.benchmarks.growth import LAST, SIZES, exponent

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LARGEST = np.array(SIZES[-LAST:], dtype=np.float64)


def noisy_rounds(random: np.random.Generator, power: float, disturbed: float) -> Floats:
    """Return times with skewed noise of 5 %, rounds slower as a whole, and a share of disturbed times."""
    shape = (7, LAST)
    noise = np.exp(np.abs(random.normal(0.0, 0.05, shape)))
    longer = np.where(random.random(shape) < disturbed, 1.5, 1.0)
    slower = np.exp(random.normal(0.0, 0.1, (7, 1)))
    return 1e-9 * LARGEST**power * noise * longer * slower


def coverage(measurements: int, disturbed: float) -> float:
    """Return the share of intervals that hold the true exponent."""
    random = np.random.default_rng(1)
    inside = 0
    for number in range(measurements):
        power = (0.0, 1.0, 1.9, 2.0)[number % 4]
        _, low, high = exponent(LARGEST, noisy_rounds(random, power, disturbed))
        inside += low <= power <= high
    return inside / measurements


@pytest.mark.parametrize("power", [0.0, 1.0, 2.0])
def test_a_power_law_has_its_exponent(power: float) -> None:
    """Without noise, exponent and both ends of the interval are the true one."""
    rounds = np.tile(3e-9 * LARGEST**power, (5, 1))
    assert exponent(LARGEST, rounds) == pytest.approx((power, power, power), abs=1e-9)


def test_a_slow_round_as_a_whole_changes_nothing() -> None:
    """A round in which everything takes three times as long has the same slope."""
    rounds = np.tile(LARGEST**1.5, (5, 1))
    rounds[2] *= 3.0
    assert exponent(LARGEST, rounds) == pytest.approx((1.5, 1.5, 1.5), abs=1e-9)


@pytest.mark.parametrize("disturbed", [0.0, 0.05])
def test_the_interval_holds_the_exponent_at_least_as_often_as_it_says(disturbed: float) -> None:
    """At least about 95 of 100 intervals hold the true exponent, with noise that is not normal."""
    assert 0.93 <= coverage(1000, disturbed) <= 0.99
