"""Scatter of the repeats: known shifts and sizes come out as such."""

from __future__ import annotations

import numpy as np
import pytest

from correlate import Recipe, Signal, ceiling_of
from correlate.campaign.hardware import HardwareScatter, hardware_scatter
from correlate.errors import SignalError

RECIPE = Recipe(start_s=0.0, end_s=0.06)


def repeat(late_s: float, height: float = 1.0) -> Signal:
    """Return a squared half sine of 20 ms, zero elsewhere, 10 kHz, -5 to 65 ms."""
    time = np.arange(-50, 651) * 1e-4
    pulse = height * np.sin(np.pi * np.clip((time - 0.02 - late_s) / 0.02, 0, 1)) ** 2
    return Signal(samples=pulse, start_s=time[0], step_s=1e-4, unit="kN", channel="force")


def scatter(*repeats: Signal) -> HardwareScatter:
    """Return the scatter of three repeats or more."""
    found = hardware_scatter(repeats, RECIPE)
    assert found is not None
    return found


def test_the_largest_shift_between_two_repeats_is_found() -> None:
    """0, 0.4 and -0.2 ms: 0.6 ms between the two furthest; sizes and slopes agree."""
    found = scatter(repeat(0.0), repeat(0.0004), repeat(-0.0002))
    assert found.errors["phase"] == pytest.approx(0.0006, abs=1e-9)
    assert found.errors["magnitude"] == pytest.approx(0.0, abs=1e-6)
    assert found.holds("phase", -0.0006 + 1e-9)
    assert found.holds("phase", 0.004) is False
    assert found.holds("unheard of", 1.0) is None


def test_the_largest_difference_of_size_is_found() -> None:
    """Heights 1, 1.1 and 0.9: slopes differ at most by 0.2 of the smallest."""
    found = scatter(repeat(0.0), repeat(0.0, 1.1), repeat(0.0, 0.9))
    assert found.errors["phase"] == 0.0
    assert found.errors["slope"] == pytest.approx(0.2 / 0.9, abs=1e-9)


def test_the_rating_is_the_median_of_the_ceiling() -> None:
    """The same number as the ceiling of the repeats has."""
    repeats = [repeat(0.0), repeat(0.0008, 1.1), repeat(-0.0003, 0.95), repeat(0.0001)]
    assert scatter(*repeats).rating == pytest.approx(ceiling_of(repeats, RECIPE).median, abs=1e-12)


def test_two_repeats_say_nothing() -> None:
    """There is no scatter with fewer than three."""
    assert hardware_scatter([repeat(0.0), repeat(0.0004)], RECIPE) is None


def test_a_repeat_that_is_too_short_is_refused() -> None:
    """The interval reaches beyond the data."""
    short = Signal(samples=np.ones(100), start_s=0.0, step_s=1e-4, unit="kN", channel="force")
    with pytest.raises(SignalError, match="reaches beyond the data"):
        hardware_scatter([repeat(0.0), repeat(0.0), short], RECIPE)
