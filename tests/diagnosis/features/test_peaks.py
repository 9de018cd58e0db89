"""Peaks of a curve: number, times, values."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.diagnosis.features import CurvePeak, features

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

TIME: Floats = np.arange(1001, dtype=np.float64) * 1e-4


def bumps(*tops: tuple[float, float]) -> Floats:
    """Return a curve of narrow haversines with given times and heights."""
    curve: Floats = np.sum(
        [height * np.cos(np.pi * np.clip((TIME - at) / 0.01, -0.5, 0.5)) ** 2 for at, height in tops], axis=0
    )
    return curve


def test_every_clear_peak_is_listed_in_time() -> None:
    """Three separate bumps give three peaks with their times and signed values."""
    found = features(TIME, -bumps((0.02, 4.0), (0.05, 10.0), (0.08, 6.0)))
    assert found.peak_count == 3
    assert [peak.time for peak in found.peaks] == pytest.approx([0.02, 0.05, 0.08])
    assert [peak.value for peak in found.peaks] == pytest.approx([-4.0, -10.0, -6.0])


def test_ripples_and_the_other_side_are_no_peaks() -> None:
    """A bump of 8 % and a swing to the other side do not count."""
    found = features(TIME, bumps((0.02, 0.8), (0.05, 10.0), (0.08, -6.0)))
    assert [peak.time for peak in found.peaks] == pytest.approx([0.05])


def test_a_peak_at_the_end_of_the_curve_counts() -> None:
    """A curve that still rises at its end has its peak there."""
    assert features(TIME, TIME * 50.0).peaks == (CurvePeak(0.1, 5.0),)
