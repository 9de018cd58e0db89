"""Curves on few times are those of the emulator, averaged."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.errors import SettingsError
from correlate.tuning.coarse_curves import MOST_TIMES, coarse_curves
from correlate.tuning.emulator import CurveEmulator, fit_channel
from correlate.tuning.traces import TraceChannel

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

TIME = np.arange(230, dtype=np.float64) * np.float64(1e-4)
RANDOM = np.random.default_rng(4)
CUBE = RANDOM.random((14, 2))


def emulator(*, late: float) -> tuple[CurveEmulator, tuple[Floats, ...]]:
    """Emulate pulses whose height and delay, up to ``late`` samples, are the two parameters."""
    centres = 0.006 + late * 1e-4 * CUBE[:, 1]
    curves = (40 + 60 * CUBE[:, :1]) * np.exp(-0.5 * ((TIME - centres[:, None]) / 0.0008) ** 2)
    curves += 3 * CUBE[:, 1:] * np.sin(500 * TIME)
    channel = TraceChannel(
        load_case="push", channel="force", unit="N", time=TIME, tests={"R1": curves[0], "R2": 1.1 * curves[0]}
    )
    fitted = CurveEmulator(
        channels=(fit_channel(channel, CUBE, curves),), rows=np.arange(len(CUBE)), cube=CUBE
    )
    return fitted, (curves,)


@pytest.mark.parametrize("late", [0.0, 80.0])
def test_predictions_are_averages_of_those_of_the_emulator(late: float) -> None:
    """230 samples become 50 averages, in shares of the largest test, whether curves are shifted or not."""
    full, runs = emulator(late=late)
    assert (full.channels[0].shift is not None) == (late > 0)
    curves = coarse_curves(full, runs, {"push"})
    (one,) = curves.channels
    points = np.random.default_rng(1).random((6, 2))
    expected = [
        [curve[start:end].mean() for start, end in zip(one.edges[:-1], one.edges[1:], strict=True)]
        for curve in full.channels[0].predict(points) / full.channels[0].channel.size
    ]
    assert curves.count == MOST_TIMES
    # A shift moves averages of straight pieces; the emulator moves samples.
    np.testing.assert_allclose(curves.predict(points), expected, atol=1e-10 if late == 0 else 5e-3)
    assert one.time[0] == pytest.approx(TIME[one.edges[0] : one.edges[1]].mean())


def test_deviations_are_those_of_the_processes() -> None:
    """Variances of a run as the emulator states them; those of the means have no noise."""
    full, runs = emulator(late=0.0)
    curves = coarse_curves(full, runs, {"push"})
    points = np.random.default_rng(2).random((5, 2))
    np.testing.assert_allclose(
        np.sqrt(curves.processes.variances(points)), full.channels[0].moments(points)[1], rtol=1e-6
    )
    of_means = np.diagonal(curves.processes.covariances(points), axis1=1, axis2=2).T
    noise = [(full.channels[0].widening * one.predict(points).noise) ** 2 for one in full.channels[0].every]
    np.testing.assert_allclose(curves.processes.variances(points) - of_means, [noise] * 5, rtol=1e-6)


@pytest.mark.parametrize("late", [0.0, 80.0])
def test_slopes_are_those_of_the_curves(late: float) -> None:
    """The change of the curve by each amount, the shift included, against differences."""
    (one,) = coarse_curves(*emulator(late=late), {"push"}).channels
    amounts = np.random.default_rng(3).standard_normal(one.amounts.stop)
    step = 1e-3 * np.eye(amounts.size)
    differences = (one.curves(amounts + step) - one.curves(amounts - step)) / 2e-3
    np.testing.assert_allclose(one.slopes(amounts), differences, atol=5e-3)


def test_errors_belong_together_as_those_of_the_runs_do() -> None:
    """The covariance of the errors is the mean over left-out runs, less the four fitted settings."""
    full, runs = emulator(late=0.0)
    curves = coarse_curves(full, runs, {"push"})
    (one,) = curves.channels
    point = np.array([[0.4, 0.6]])
    mean, deviation = full.channels[0].moments(point)
    amounts = mean + deviation * full.channels[0].errors
    wrong = (
        full.channels[0].curves(amounts) + full.channels[0].left - full.channels[0].curves(mean)
    ) / one.size
    averaged = np.add.reduceat(wrong, one.edges[:-1], axis=1) / np.diff(one.edges)
    np.testing.assert_allclose(
        curves.emulator_covariance(point)[0], averaged.T @ averaged / (len(CUBE) - 4), atol=1e-10
    )


def test_curves_that_nothing_moves_are_refused() -> None:
    """Neither a channel of another load case nor one that is for windows alone is used."""
    full, runs = emulator(late=0.0)
    with pytest.raises(SettingsError, match="no curve of the training load cases moves"):
        coarse_curves(full, runs, {"pull"})
    recorded = replace(full.channels[0], channel=replace(full.channels[0].channel, recorded=True))
    with pytest.raises(SettingsError, match="no curve of the training load cases moves"):
        coarse_curves(replace(full, channels=(recorded,)), runs, {"push"})
