"""Head criteria: HIC, severity index, clip, BrIC, peak."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate.criteria import bric, contiguous_clip, cumulative_clip, hic, peak, severity_index
from correlate.errors import SettingsError, SignalError
from tests.criteria.curves import STEP_S, half_sine, rough_pulses
from tests.oracles import criteria_literal as literal

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from correlate.criteria import CriterionResult

    Floats = NDArray[np.float64]

SHAPES = tomllib.loads(
    (Path(__file__).parent.parent / "published" / "criteria" / "shapes.toml").read_text(encoding="utf-8")
)
WINDOWS = st.sampled_from([2e-4, 0.003, 0.015, 0.036, 1.0])


# --------------------------------------------------------------------------------------------------- HIC


@pytest.mark.parametrize("case", SHAPES["square"], ids=str)
def test_hic_of_a_square_pulse(case: dict[str, float]) -> None:
    """HIC = A^2.5 · T while T is within the window; the window found is the pulse."""
    samples = round(case["duration_s"] / STEP_S) + 1
    found = hic(np.full(samples, case["acceleration_g"]), step_s=STEP_S, window_s=0.015)
    assert found.value == pytest.approx(case["hic"], rel=1e-6)
    assert found.end_s - found.start_s == pytest.approx(case["duration_s"])


def test_hic_of_a_square_pulse_longer_than_the_window() -> None:
    """Beyond the window only its length counts: A^2.5 times 15 ms or 36 ms."""
    pulse = np.full(1001, 40.0)
    for window in (0.015, 0.036):
        assert hic(pulse, step_s=STEP_S, window_s=window).value == pytest.approx(40**2.5 * window)


@pytest.mark.parametrize("height", [50.0, 180.0])
def test_hic_of_a_half_sine_without_a_limit(height: float) -> None:
    """The factor of A^2.5 · T is the maximum over w of w·(2/(πw)·sin(πw/2))^2.5, about 0.4146."""
    shares = np.linspace(0.5, 0.9, 100_001)
    factor = float((shares * (2 / (math.pi * shares) * np.sin(math.pi * shares / 2)) ** 2.5).max())
    published = SHAPES["half_sine"][0]
    assert factor == pytest.approx(published["factor"], abs=published["tolerance"])
    pulse = half_sine(height, 0.05, before_s=0.02, after_s=0.03)
    found = hic(pulse, step_s=STEP_S, window_s=1.0)
    assert found.value == pytest.approx(factor * height**2.5 * 0.05, rel=1e-4)
    best = float(shares[np.argmax(shares * (2 / (math.pi * shares) * np.sin(math.pi * shares / 2)) ** 2.5)])
    assert found.end_s - found.start_s == pytest.approx(best * 0.05, abs=3 * STEP_S)
    assert (found.start_s + found.end_s) / 2 == pytest.approx(0.045, abs=2 * STEP_S)


@settings(max_examples=150)
@given(curve=rough_pulses(positive=False), window=WINDOWS)
def test_hic_equals_the_search_over_every_window(curve: Floats, window: float) -> None:
    """No window is missed: the value is that of the double loop, and the window found is worth it."""
    found = hic(curve, step_s=STEP_S, window_s=window)
    assert found.value == pytest.approx(literal.hic(curve.tolist(), STEP_S, window), rel=1e-9, abs=1e-12)
    assert found.end_s - found.start_s <= window * (1 + 1e-9)
    first, last = round(found.start_s / STEP_S), round(found.end_s / STEP_S)
    if found.value:
        area = float(np.trapezoid(curve[first : last + 1])) * STEP_S
        assert found.value == pytest.approx(area**2.5 / (found.end_s - found.start_s) ** 1.5, rel=1e-9)


@given(curve=rough_pulses(), pad=st.integers(0, 60))
def test_hic_grows_with_the_window_and_ignores_zeros_around(curve: Floats, pad: int) -> None:
    """HIC15 <= HIC36; a time shift or zeros before and after change nothing."""
    closed = np.concatenate([[0.0], curve, [0.0]])
    shorter, longer = (hic(closed, step_s=STEP_S, window_s=window).value for window in (0.015, 0.036))
    assert shorter <= longer * (1 + 1e-12)
    padded = np.concatenate([np.zeros(pad), closed, np.zeros(7)])
    assert hic(padded, step_s=STEP_S, window_s=0.015).value == pytest.approx(shorter, rel=1e-9)


@given(curve=rough_pulses(), factor=st.floats(0.1, 10))
def test_hic_and_severity_index_scale_with_the_power_of_two_and_a_half(curve: Floats, factor: float) -> None:
    """Twice the acceleration is 2^2.5 times the criterion."""
    scaled, power = factor * curve, factor**2.5
    expected = power * hic(curve, step_s=STEP_S, window_s=0.015).value
    assert hic(scaled, step_s=STEP_S, window_s=0.015).value == pytest.approx(expected, rel=1e-9)
    expected = power * severity_index(curve, step_s=STEP_S).value
    assert severity_index(scaled, step_s=STEP_S).value == pytest.approx(expected, rel=1e-9)


@given(curve=rough_pulses())
def test_hic_never_exceeds_the_severity_index(curve: Floats) -> None:
    """By Jensen's inequality the integral of a^2.5 is the larger one, at the integral of the trapezoids."""
    fine = np.interp(np.arange(20 * (curve.size - 1) + 1) / 20, np.arange(curve.size), curve)
    index = severity_index(fine, step_s=STEP_S / 20).value
    assert hic(curve, step_s=STEP_S, window_s=1.0).value <= index * (1 + 1e-9)


def test_hic_of_a_long_recording_opens_few_windows() -> None:
    """A recording of 200,000 samples without a limit on the window (2·10¹⁰ windows) is searched at once."""
    time = np.linspace(0, 1, 200_000)
    curve = 90 * np.sin(np.pi * time) + np.abs(np.random.default_rng(3).standard_normal(time.size))
    found = hic(curve, step_s=1e-6, window_s=10.0)
    assert found.value > 0.4146 * 90**2.5 * 0.2


def test_hic_without_positive_acceleration_is_zero() -> None:
    """A curve that never pushes has no window."""
    assert hic([-5.0, -3.0, 0.0], step_s=STEP_S, window_s=0.015).value == 0.0


# ------------------------------------------------------------------------------------------ severity index


def test_severity_index_of_square_and_triangle() -> None:
    """A^2.5 · T for the square; A^2.5 · T / 3.5 for a triangle."""
    assert severity_index(np.full(101, 100.0), step_s=STEP_S).value == pytest.approx(1000.0)
    triangle = 80.0 * (1 - np.abs(np.linspace(-1, 1, 20_001)))
    assert severity_index(triangle, step_s=1e-6).value == pytest.approx(80**2.5 * 0.02 / 3.5, rel=1e-6)


@given(curve=rough_pulses(positive=False))
def test_severity_index_equals_the_loop(curve: Floats) -> None:
    """Sample by sample the same, below zero counted as zero."""
    expected = literal.severity_index(curve.tolist(), STEP_S)
    assert severity_index(curve, step_s=STEP_S).value == pytest.approx(expected, rel=1e-12, abs=1e-15)


# --------------------------------------------------------------------------------------------------- clip


@pytest.mark.parametrize("clip", [cumulative_clip, contiguous_clip])
def test_clip_of_a_triangle_and_a_half_sine(clip: Callable[..., CriterionResult]) -> None:
    """A·(1 − d/T) for a triangle; A·cos(πd / 2T) for a half-sine, both for one pulse alone."""
    triangle = 60.0 * (1 - np.abs(np.linspace(-1, 1, 201)))
    assert clip(triangle, step_s=STEP_S).value == pytest.approx(60.0 * (1 - 0.003 / 0.02), rel=1e-9)
    sine = half_sine(75.0, 0.04, before_s=0.01, after_s=0.01)
    found = clip(sine, step_s=STEP_S)
    assert found.value == pytest.approx(75.0 * math.cos(math.pi * 0.003 / 0.08), rel=1e-5)
    assert found.end_s - found.start_s == pytest.approx(0.003, abs=1e-6)
    assert (found.start_s + found.end_s) / 2 == pytest.approx(0.03, abs=1e-6)


def test_two_peaks_add_up_in_the_cumulative_clip_alone() -> None:
    """Two triangles of 10 ms: each holds a level for 1.5 ms of the cumulative, all 3 ms of the contiguous."""
    triangle = 60.0 * (1 - np.abs(np.linspace(-1, 1, 101)))
    both = np.concatenate([triangle, np.zeros(50), triangle])
    cumulative, contiguous = cumulative_clip(both, step_s=STEP_S), contiguous_clip(both, step_s=STEP_S)
    assert cumulative.value == pytest.approx(60 * (1 - 0.0015 / 0.01))
    assert contiguous.value == pytest.approx(60 * (1 - 0.003 / 0.01))
    assert cumulative.end_s - cumulative.start_s == pytest.approx(0.0151 + 0.0015, abs=1e-9)


@settings(max_examples=150)
@given(curve=rough_pulses(least=31, positive=False), duration=st.sampled_from([1e-4, 0.00155, 0.003]))
def test_clips_equal_the_halving_of_the_level(curve: Floats, duration: float) -> None:
    """Both clips are those of the literal search, and one stretch never holds more than the total."""
    total = cumulative_clip(curve, step_s=STEP_S, duration_s=duration)
    longest = contiguous_clip(curve, step_s=STEP_S, duration_s=duration)
    samples = curve.tolist()
    assert total.value == pytest.approx(literal.clip(samples, STEP_S, duration, which=0), rel=1e-8, abs=1e-8)
    assert longest.value == pytest.approx(
        literal.clip(samples, STEP_S, duration, which=1), rel=1e-8, abs=1e-8
    )
    assert longest.value <= total.value + 1e-9
    assert longest.end_s - longest.start_s >= duration * (1 - 1e-6)


@pytest.mark.parametrize("clip", [cumulative_clip, contiguous_clip])
def test_clip_of_a_flat_curve_is_its_level(clip: Callable[..., CriterionResult]) -> None:
    """A constant holds itself."""
    assert clip(np.full(40, 12.5), step_s=STEP_S).value == 12.5


def test_a_curve_shorter_than_the_clip_is_refused() -> None:
    """2 ms cannot hold anything for 3 ms."""
    with pytest.raises(SignalError, match=r"lasts 0\.002 s, and the clip needs 0\.003 s"):
        cumulative_clip(np.ones(21), step_s=STEP_S)
    with pytest.raises(SettingsError, match="duration_s is 0"):
        contiguous_clip(np.ones(40), step_s=STEP_S, duration_s=0)


# ------------------------------------------------------------------------------------------- BrIC and peak


def test_bric_takes_the_peak_of_each_axis_whenever_it_is() -> None:
    """Half of each critical rate gives sqrt(3)/2; the times span the three peaks."""
    x, y, z = np.zeros(50), np.zeros(50), np.zeros(50)
    x[10], y[20], z[40] = 66.25 / 2, -56.45 / 2, 42.87 / 2
    found = bric(x, y, z, step_s=1e-3)
    assert found.value == pytest.approx(math.sqrt(3) / 2)
    assert (found.start_s, found.end_s) == pytest.approx((0.010, 0.040))


def test_bric_with_other_critical_rates() -> None:
    """The critical rates are arguments, each above zero."""
    found = bric([0, 3], [0, 0], [0, 4], step_s=1e-3, critical_rad_per_s=(3, 5, 2))
    assert found.value == pytest.approx(math.sqrt(5))
    with pytest.raises(SettingsError, match="axis y is 0"):
        bric([0, 3], [0, 0], [0, 4], step_s=1e-3, critical_rad_per_s=(3, 0, 2))


@given(curve=rough_pulses(positive=False))
def test_peak_is_the_largest_size_with_its_sign(curve: Floats) -> None:
    """The value is a sample, no other is larger in size, and its time is where it lies."""
    found = peak(curve, step_s=STEP_S)
    assert abs(found.value) == np.abs(curve).max()
    assert curve[round(found.start_s / STEP_S)] == found.value
    assert found.start_s == found.end_s


# ---------------------------------------------------------------------------------------------- refusals


def test_wrong_arrays_and_settings_are_named() -> None:
    """A sample that is not finite, a step or a window of zero and unequal lengths are refused in words."""
    with pytest.raises(SignalError, match="'acceleration_g': sample 2 is nan"):
        hic([0.0, math.nan], step_s=STEP_S, window_s=0.015)
    with pytest.raises(SettingsError, match="step_s is 0"):
        severity_index([0.0, 1.0], step_s=0)
    with pytest.raises(SettingsError, match="window_s is -1"):
        hic([0.0, 1.0], step_s=STEP_S, window_s=-1)
    with pytest.raises(SettingsError, match="window_s in samples is 0"):
        hic([0.0, 1.0], step_s=STEP_S, window_s=1e-5)
    with pytest.raises(SignalError, match="rate_x_rad_per_s 2, rate_y_rad_per_s 3"):
        bric([0, 1], [0, 1, 2], [0, 1], step_s=STEP_S)
