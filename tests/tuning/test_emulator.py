"""The emulator of curves: description, registration, prediction and draws."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.errors import SettingsError
from correlate.tuning.emulator import describe, fit_channel, fit_emulator, moved, shifts_of
from correlate.tuning.traces import TraceChannel, TraceTable

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

TIME = np.arange(200) * 1e-4
CUBE = np.random.default_rng(1).random((20, 2))
NEW = np.random.default_rng(2).uniform(0.1, 0.9, (12, 2))


def channel(**changes: object) -> TraceChannel:
    """Return a channel with one test."""
    values = {"load_case": "a", "channel": "force", "unit": "kN", "time": TIME, "tests": {"T1": pulse(0.0)}}
    return TraceChannel(**(values | changes))  # type: ignore[arg-type]


def pulse(late: float, height: float = 1.0) -> Floats:
    """Return a smooth pulse that is late by a number of samples."""
    return np.asarray(height * np.exp(-0.5 * ((np.arange(200) - 90 - late) / 12) ** 2))


def scaled(cube: Floats) -> Floats:
    """Return curves of one shape with a height that depends on both parameters."""
    return np.array([pulse(0.0, 1 + x + 0.5 * y**2) for x, y in cube])


def late(cube: Floats) -> Floats:
    """Return curves that differ in timing, and a little in height."""
    return np.array([pulse(30 * x, 1 + 0.1 * y) for x, y in cube])


@given(st.integers(2, 12), st.integers(2, 40), st.integers(0, 2**32 - 1))
def test_description_and_rest_add_up_to_the_curves(count: int, samples: int, seed: int) -> None:
    """Mean, amounts times basis and what is left are the curves; the basis is orthonormal."""
    curves = np.random.default_rng(seed).standard_normal((count, samples))
    found = describe(curves, share=0.8)
    assert found.mean + found.amounts @ found.basis + found.left == pytest.approx(curves)
    assert found.basis @ found.basis.T == pytest.approx(np.eye(len(found.basis)), abs=1e-9)
    assert 0.8 - 1e-9 <= found.share <= 1 + 1e-9


def test_a_registered_channel_is_chosen_where_runs_differ_in_timing() -> None:
    """The shift wins for curves that are late, and not for curves that only differ in height."""
    assert fit_channel(channel(), CUBE, late(CUBE)).shift is not None
    assert fit_channel(channel(), CUBE, scaled(CUBE)).shift is None


@pytest.mark.parametrize("curves", [scaled, late])
def test_new_runs_are_predicted(curves: object) -> None:
    """At points it never saw the emulator is off by less than 2 % of the peak."""
    emulator = fit_channel(channel(), CUBE, curves(CUBE))  # type: ignore[operator]
    truth = curves(NEW)  # type: ignore[operator]
    assert np.abs(emulator.predict(NEW) - truth).max() < 0.02 * truth.max()


def test_shifts_are_found_to_a_fraction_of_a_sample() -> None:
    """Curves moved by known amounts come back with those, up to a common one."""
    true = np.random.default_rng(3).uniform(-8, 8, 15)
    found = shifts_of(np.array([pulse(one) for one in true]))
    assert found - found.mean() == pytest.approx(true - true.mean(), abs=0.2)


def test_moving_there_and_back_changes_little() -> None:
    """A pulse away from the ends survives a shift and its reverse."""
    curves = np.array([pulse(0.0), pulse(4.0)])
    shifts = np.array([3.4, -7.7])
    assert moved(moved(curves, shifts), -shifts) == pytest.approx(curves, abs=2e-3)


def test_left_out_curves_equal_those_of_an_emulator_without_the_run() -> None:
    """With the settings held, leaving a run out by formula is leaving its amounts out of the processes."""
    emulator = fit_channel(channel(), CUBE, scaled(CUBE))
    process = emulator.processes[0]
    others = np.arange(len(CUBE)) != 4
    without = type(process)(
        CUBE[others],
        process.values[others],
        centre=process.centre,
        scale=process.scale,
        settings=process.settings,
    )
    expected = emulator.mean + without.mean(CUBE[[4]])[0] * emulator.basis[0]
    assert len(emulator.processes) == 1
    assert emulator.left_out[4] == pytest.approx(expected, abs=1e-8)


def test_draws_scatter_about_the_mean_as_left_out_runs_do() -> None:
    """In pairs of both signs, and more where no run is near; all of them curves of the same length."""
    random = np.random.default_rng(6)
    noisy = scaled(CUBE) + 0.05 * random.standard_normal((len(CUBE), 1)) * pulse(0.0)
    emulator = fit_channel(channel(), CUBE, noisy)
    runs, signs = np.repeat(np.arange(len(CUBE)), 2), np.tile([1.0, -1.0], len(CUBE))
    drawn = emulator.draw(NEW, runs, signs)
    assert drawn.shape == (len(NEW), 2 * len(CUBE), TIME.size)
    assert drawn.mean(axis=1) == pytest.approx(emulator.predict(NEW), abs=1e-9)
    assert drawn[:, :, 90].std(axis=1) == pytest.approx(0.05, rel=0.6)
    thinned = emulator.draw(NEW, runs, signs, stride=4)
    assert thinned == pytest.approx(drawn[:, :, ::4])


def test_believing_a_point_takes_the_doubt_there() -> None:
    """The mean stays, and the deviation at the believed point nearly vanishes."""
    emulator = fit_channel(channel(), CUBE, late(CUBE))
    point = np.array([[0.05, 0.95]])
    after = emulator.believing(point)
    assert after.predict(NEW) == pytest.approx(emulator.predict(NEW), abs=1e-3)
    assert (after.moments(point)[1] <= emulator.moments(point)[1] + 1e-12).all()


def test_a_channel_that_does_not_move_is_predicted_as_it_is() -> None:
    """No process, no doubt, and no division by zero; zero throughout as well."""
    for curve in (pulse(0.0), np.zeros(200)):
        emulator = fit_channel(channel(), CUBE, np.tile(curve, (20, 1)))
        assert (emulator.processes, emulator.truncation_error) == ((), 0.0)
        assert (emulator.predict(NEW) == curve).all()
        assert emulator.draw(NEW, np.arange(4), np.ones(4)).shape == (12, 4, 200)


def test_q2_is_one_less_the_share_that_is_missed() -> None:
    """By the definition, channels of any unit counting alike; without a moving channel there is none."""
    curves = (scaled(CUBE), 1e3 * late(CUBE), np.tile(pulse(0.0), (20, 1)))
    channels = (channel(), channel(channel="other", tests={"T1": 1e3 * pulse(0.0)}), channel(channel="still"))
    traces = TraceTable(rows=np.arange(20), cube=CUBE, channels=channels, curves=curves)
    emulator = fit_emulator(traces)
    missed = variance = 0.0
    for one, curve in list(zip(emulator.channels, curves, strict=True))[:2]:
        missed += float(np.mean((curve - one.left_out) ** 2)) / one.channel.size**2
        variance += float(np.mean((curve - curve.mean(axis=0)) ** 2)) / one.channel.size**2
    assert emulator.q2([0, 1, 2]) == pytest.approx(1 - missed / variance)
    assert np.isnan(emulator.q2([2]))


def test_too_few_runs_are_refused() -> None:
    """Four runs make no emulator, and the message says how many are needed."""
    traces = TraceTable(rows=np.arange(4), cube=CUBE[:4], channels=(channel(),), curves=(scaled(CUBE[:4]),))
    with pytest.raises(SettingsError, match="4 runs are finished, too few for an emulator of curves; run 5"):
        fit_emulator(traces)
