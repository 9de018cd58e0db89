"""Onto another grid, without aliasing and without hidden steps."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.conditioning import filter_cfc, resample
from correlate.errors import SettingsError, SignalError
from tests.conditioning.signals import measured_tone, names, sampled, signal_of, tone


@given(
    start_s=st.floats(-0.02, 0.02),
    step_s=st.floats(2e-5, 2e-3),
    new_step_s=st.floats(1e-5, 1e-3),
    a=st.floats(-2, 2),
)
def test_cubic_is_reproduced_on_any_finer_grid(
    start_s: float, step_s: float, new_step_s: float, a: float
) -> None:
    """A not-a-knot spline is exact for a cubic, wherever the new grid falls."""
    new_step_s = min(new_step_s, step_s)
    curve = sampled(
        lambda t: a * (50 * t) ** 3 - (50 * t) ** 2 + 50 * t,
        start_s=start_s,
        end_s=start_s + 0.02,
        step_s=step_s,
    )
    finer = resample(curve, step_s=new_step_s)
    scaled = 50 * finer.time_s
    scale = max(1.0, float(np.abs(curve.samples).max()))
    np.testing.assert_allclose(finer.samples, a * scaled**3 - scaled**2 + scaled, atol=1e-9 * scale)


@given(start_s=st.floats(-0.02, 0.02), step_s=st.floats(2e-5, 1e-3), new_step_s=st.floats(1e-5, 1e-3))
def test_grid_is_made_of_multiples_within_the_data(start_s: float, step_s: float, new_step_s: float) -> None:
    """Every new time is a whole multiple of the step, none lies beyond the data, none is left out."""
    raw = signal_of(np.zeros(60), start_s=start_s, step_s=step_s)
    result = resample(raw, step_s=new_step_s)
    multiple = result.time_s / new_step_s
    np.testing.assert_allclose(multiple, np.rint(multiple), atol=2e-6)
    slack_s = 2e-6 * max(step_s, new_step_s)
    assert raw.start_s - slack_s <= result.start_s < raw.start_s + new_step_s
    assert raw.end_s - new_step_s < result.end_s <= raw.end_s + slack_s


def test_smooth_curve_between_grids() -> None:
    """A 20 Hz sine from 20 kHz to 10 kHz on shifted times: the sine itself to 1e-7, away from the ends."""
    wave = filter_cfc(
        sampled(lambda t: np.sin(2 * np.pi * 20 * t), start_s=-0.05003, end_s=0.2, step_s=5e-5), 1000
    )
    result = resample(wave, step_s=1e-4)
    inside = (result.time_s > -0.03) & (result.time_s < 0.18)
    expected = np.sin(2 * np.pi * 20 * result.time_s[inside])
    np.testing.assert_allclose(result.samples[inside], expected, atol=1e-7)
    assert names(result) == ["read", "filter", "resample"]
    assert dict(result.history[-1].settings) == {
        "method": "cubic spline",
        "step_before_s": 5e-5,
        "step_s": 1e-4,
    }


def test_high_tone_does_not_fold_down() -> None:
    """9 kHz sampled at 100 kHz would appear at 1 kHz on a 10 kHz grid; 0.02 % of it do, and on record."""
    result = resample(tone(9000.0, length_s=0.1, step_s=1e-5), step_s=1e-4)
    assert names(result) == ["read", "anti-alias filter", "resample"]
    in_phase, quadrature = measured_tone(result, 1000.0, margin_s=0.03)
    assert np.hypot(in_phase, quadrature) < 2e-4
    plain = tone(9000.0, length_s=0.1, step_s=1e-5).samples[::10]
    assert np.abs(plain).max() > 0.9


def test_suitable_class_needs_no_second_filter() -> None:
    """After CFC 180 the 10 kHz grid is fine, a 1 kHz grid is not."""
    filtered = filter_cfc(tone(50.0, length_s=0.2, step_s=1e-5), 180)
    assert names(resample(filtered, step_s=1e-4)) == ["read", "filter", "resample"]
    assert names(resample(filtered, step_s=1e-3)) == ["read", "filter", "anti-alias filter", "resample"]


@pytest.mark.parametrize("start_s", [0.0, -0.05, 0.0123])
def test_same_grid_changes_nothing(start_s: float) -> None:
    """A signal that lies on the grid comes back as it is."""
    raw = signal_of(np.random.default_rng(1).normal(size=3001), start_s=start_s)
    assert resample(raw, step_s=1e-4) is raw


def test_resampling_twice_is_resampling_once() -> None:
    """The result of a resampling lies on its grid."""
    once = resample(signal_of(np.arange(300.0), start_s=0.00003, step_s=1e-5), step_s=1e-4)
    assert resample(once, step_s=1e-4) is once


def test_half_a_step_beside_the_grid_is_interpolated() -> None:
    """The same step is not the same grid."""
    ramp = signal_of(np.arange(100.0), start_s=0.5e-4)
    result = resample(ramp, step_s=1e-4)
    assert names(result) == ["read", "resample"]
    np.testing.assert_allclose(result.samples, np.arange(99) + 0.5, atol=1e-9)


def test_slightly_different_step_is_interpolated() -> None:
    """A step that is off by 1e-8 of itself drifts by more than a millionth over 3001 samples."""
    ramp = signal_of(np.arange(3001.0), step_s=1e-4 * (1 - 1e-8))
    assert names(resample(ramp, step_s=1e-4)) == ["read", "resample"]


def test_interval_is_kept_and_recorded() -> None:
    """Only the multiples in the interval remain; ends between multiples keep the inner ones."""
    ramp = signal_of(np.arange(1001.0), step_s=1e-4)
    result = resample(ramp, step_s=2.5e-5, start_s=0.01001, end_s=0.02)
    assert names(result) == ["read", "resample", "crop"]
    assert result.start_s == pytest.approx(0.010025, abs=1e-12)
    assert result.end_s == pytest.approx(0.02, abs=1e-12)
    np.testing.assert_allclose(result.samples, 1e4 * result.time_s, atol=1e-8)
    assert names(resample(ramp, step_s=1e-4, start_s=0.01)) == ["read", "crop"]


def test_interval_beyond_the_data_is_refused() -> None:
    """Nothing is extrapolated."""
    with pytest.raises(
        SignalError, match=r"0 s to 0.2 s reaches beyond the data; choose one within 0 s to 0.1 s"
    ):
        resample(signal_of(np.zeros(1001)), step_s=1e-3, end_s=0.2)


@pytest.mark.parametrize("step_s", [0.0, -1e-4, float("nan"), float("inf")])
def test_step_must_be_above_zero(step_s: float) -> None:
    """A step that is none is a wrong setting."""
    with pytest.raises(SettingsError, match=r"the time step is .*; give a number of seconds above zero"):
        resample(signal_of([0, 1, 2]), step_s=step_s)


def test_step_longer_than_the_data_is_refused() -> None:
    """One time is no curve."""
    with pytest.raises(SignalError, match="a grid of 1 s has fewer than two times in the interval"):
        resample(signal_of(np.zeros(1001)), step_s=1.0)


def test_absurdly_small_step_is_refused() -> None:
    """Before any memory is taken."""
    with pytest.raises(SignalError, match="a grid of 1e-12 s has more than 20000000 times"):
        resample(signal_of(np.zeros(1001)), step_s=1e-12)


def test_two_and_three_samples_can_be_resampled() -> None:
    """A line through two samples and a parabola through three."""
    line = resample(signal_of([0.0, 4.0], step_s=0.4), step_s=0.1)
    np.testing.assert_allclose(line.samples, [0, 1, 2, 3, 4], atol=1e-12)
    parabola = resample(signal_of([0.0, 4.0, 16.0], step_s=0.2), step_s=0.1)
    np.testing.assert_allclose(parabola.samples, [0, 1, 4, 9, 16], atol=1e-12)
