"""One emulated curve: its band, its trust and its rating."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.metrics.iso18571 import RatingSettings, rate
from correlate.pair import AlignedPair
from correlate.tuning.emulated import curve_trust, emulated_curve, predicted_ratings
from correlate.tuning.emulator import ChannelEmulator, fit_channel, moved
from correlate.tuning.traces import TraceChannel

TIME = np.arange(200, dtype=np.float64) * 1e-3
PULSE = np.exp(-(((TIME - 0.08) / 0.02) ** 2))
RANDOM = np.random.default_rng(2)
CUBE = RANDOM.random((30, 2))


def channel(**tests: np.ndarray[tuple[int], np.dtype[np.float64]]) -> TraceChannel:
    """Return a channel with tests."""
    return TraceChannel(load_case="drop", channel="force", unit="N", time=TIME, tests=tests)


def curves(cube: np.ndarray[tuple[int, int], np.dtype[np.float64]], *, late: float = 0.0) -> np.ndarray:
    """Return pulses whose height is the first parameter, and whose delay the second."""
    high = (1.0 + cube[:, :1]) * PULSE
    return moved(high, late * cube[:, 1])


@pytest.fixture(scope="module", params=[0.0, 12.0], ids=["in place", "shifted"])
def late(request: pytest.FixtureRequest) -> float:
    """Return by how many samples the second parameter delays the curve."""
    return float(request.param)


@pytest.fixture(scope="module")
def noisy(late: float) -> tuple[ChannelEmulator, np.ndarray]:
    """Fit runs with 2 % of noise in their height."""
    known = curves(CUBE, late=late) * (1 + 0.02 * RANDOM.standard_normal((30, 1)))
    return fit_channel(channel(t1=PULSE), CUBE, known), known


def test_the_band_holds_new_runs(noisy: tuple[ChannelEmulator, np.ndarray], late: float) -> None:
    """Most of 200 runs that were not seen lie inside at the peak; the mean lies in the middle.

    Thirty runs tell their own noise to about an eighth, and the shift moves the peak: 80 to 99 % are allowed.
    """
    emulator, _ = noisy
    assert (emulator.shift is not None) == bool(late)
    points = np.random.default_rng(5).random((200, 2))
    runs = curves(points, late=late) * (1 + 0.02 * np.random.default_rng(6).standard_normal((200, 1)))
    inside = []
    for point, run in zip(points, runs, strict=True):
        said = emulated_curve(emulator, point)
        np.testing.assert_allclose(said.mean, emulator.predict(point[None, :])[0], rtol=1e-12, atol=1e-12)
        np.testing.assert_allclose(said.high - said.mean, said.mean - said.low, rtol=1e-9, atol=1e-12)
        top = int(np.argmax(run))
        inside.append(said.low[top] <= run[top] <= said.high[top])
    assert 0.80 <= np.mean(inside) <= 0.99


def test_the_band_follows_from_the_amounts_without_a_shift() -> None:
    """In closed form: deviation of each amount through its curve, and what the description leaves."""
    known = curves(CUBE) + 0.01 * np.random.default_rng(3).standard_normal((30, TIME.size))
    emulator = fit_channel(channel(), CUBE, known)
    assert emulator.shift is None
    said = emulated_curve(emulator, np.array([0.3, 0.6]))
    _, deviation = emulator.moments(np.array([[0.3, 0.6]]))
    square = sum(d**2 * b**2 for d, b in zip(deviation[0], emulator.basis, strict=True))
    square = square + np.mean(emulator.left**2, axis=0)
    np.testing.assert_allclose((said.high - said.low) / (2 * 1.959964), np.sqrt(square), rtol=1e-9)


def test_trust_is_told_from_left_out_runs(noisy: tuple[ChannelEmulator, np.ndarray]) -> None:
    """A strong effect under little noise is predicted; most samples lie inside the band."""
    emulator, known = noisy
    trust = curve_trust(emulator, known)
    assert trust.runs == 30
    assert 0.9 < trust.q2 < 1.0
    assert 0.85 <= trust.inside <= 1.0


def test_a_channel_that_does_not_move_has_no_band() -> None:
    """The curve of every run, a band of no width, no share of a variance that is not there."""
    known = np.tile(PULSE, (6, 1))
    emulator = fit_channel(channel(t1=PULSE), CUBE[:6], known)
    said = emulated_curve(emulator, np.array([0.5, 0.5]))
    assert np.array_equal(said.low, PULSE)
    assert np.array_equal(said.high, PULSE)
    assert np.isnan(curve_trust(emulator, known).q2)


def test_an_emulated_curve_is_rated_as_any_other() -> None:
    """Against each test, by the settings of the campaign; nothing where there is no test or it is zero."""
    settings = RatingSettings(outer_half_width=0.4)
    found = predicted_ratings(channel(t1=PULSE, t2=1.1 * PULSE), 1.05 * PULSE, settings)
    for name, test in (("t1", PULSE), ("t2", 1.1 * PULSE)):
        pair = AlignedPair(time=TIME, reference=test, candidate=1.05 * PULSE)
        assert found[name].overall == pytest.approx(rate(pair, settings).overall, abs=1e-12)
    assert predicted_ratings(channel(), PULSE, settings) == {}
    assert predicted_ratings(channel(t1=np.zeros(200)), PULSE, settings) == {}
