"""Ranges of the measures, and the common grid of repeats and runs."""

from __future__ import annotations

import math

import numpy as np
import pytest

from correlate import Recipe, Signal
from correlate.metrics import METRICS
from correlate.metrics.classic import SpragueGeers
from correlate.metrics.repeats import align_repeats

RANGES = {
    "iso18571": (0.0, 1.0),
    "sprague-geers": (0.0, math.inf),
    "russell": (0.0, math.inf),
    "knowles-gear": (0.0, math.inf),
    "theil": (0.0, 1.0),
    "weighted-integrated-factor": (0.0, 1.0),
    "normalised-rms": (0.0, math.inf),
    "pearson": (-1.0, 1.0),
    "cross-correlation": (-1.0, 1.0),
    "residual": (0.0, math.inf),
    "confidence-interval": (0.0, math.inf),
    "area": (0.0, math.inf),
}
"""By their formulas."""


def test_the_range_of_every_measure() -> None:
    """Shares from 0 to 1, correlations from -1 to 1, distances without an end."""
    assert {name: (one.lowest, one.highest) for name, one in METRICS.items()} == RANGES


def line(start_ms: int, end_ms: int, slope: float) -> Signal:
    """Return a line through the origin from one time to another."""
    time = np.arange(start_ms * 10, end_ms * 10 + 1) * 1e-4
    return Signal(samples=slope * time, start_s=start_ms * 1e-3, step_s=1e-4, unit="g", channel="head ax")


@pytest.mark.parametrize(
    ("first", "second", "run", "shared"),
    [
        ((0, 50), (0, 50), (0, 50), (0, 50)),
        # Equally many samples, but not at the same times.
        ((0, 40), (10, 50), (0, 50), (10, 40)),
        ((0, 50), (5, 50), (0, 50), (5, 50)),
        ((0, 50), (0, 45), (0, 50), (0, 45)),
        ((0, 50), (0, 50), (3, 44), (3, 44)),
    ],
)
def test_repeats_and_runs_are_cut_to_the_time_they_share(
    first: tuple[int, int], second: tuple[int, int], run: tuple[int, int], shared: tuple[int, int]
) -> None:
    """Each curve keeps its own values on it, two repeats and two runs in their order."""
    found = align_repeats(
        [line(*first, 1.0), line(*second, 2.0)], [line(*run, 3.0), line(*run, 4.0)], Recipe()
    )
    time = np.arange(shared[0] * 10, shared[1] * 10 + 1) * 1e-4
    np.testing.assert_allclose(found.time, time, atol=1e-12)
    np.testing.assert_allclose(found.references, [time, 2 * time], atol=1e-12)
    np.testing.assert_allclose(found.candidates, [3 * time, 4 * time], atol=1e-12)


def test_a_single_repeat_and_a_single_run() -> None:
    """One pair is enough."""
    found = align_repeats([line(0, 10, 1.0)], [line(0, 10, 3.0)], Recipe())
    assert found.time.size == 101
    assert (len(found.references), len(found.candidates)) == (1, 1)


@pytest.mark.parametrize(
    ("figures", "accepted"),
    [
        ((0.4, 0.0, 0.4), True),
        ((-0.4, 0.0, 0.4), True),
        ((0.0, 0.4, 0.4), True),
        ((0.401, 0.0, 0.4), False),
        ((-0.401, 0.0, 0.4), False),
        ((0.0, 0.401, 0.4), False),
        ((0.0, 0.0, 0.401), False),
    ],
)
def test_all_three_figures_are_within_the_limit(
    figures: tuple[float, float, float], *, accepted: bool
) -> None:
    """Magnitude of either sign, phase and the comprehensive error; the limit itself, 0.4, is accepted."""
    magnitude, phase, comprehensive = figures
    found = SpragueGeers(magnitude=magnitude, phase=phase, comprehensive=comprehensive)
    assert found.accepted is accepted
