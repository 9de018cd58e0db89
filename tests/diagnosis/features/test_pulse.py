"""Features of a pulse against closed forms of simple pulses."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate.diagnosis.features import features
from correlate.errors import SignalError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

TIME: Floats = np.arange(2001, dtype=np.float64) * 5e-5
START, LENGTH = 0.02, 0.04


def half_sine(height: float = 1.0, start: float = START, length: float = LENGTH) -> Floats:
    """Return a half-sine of a given height, start and length."""
    return height * np.sin(np.pi * np.clip((TIME - start) / length, 0.0, 1.0))


def test_half_sine_has_the_features_of_the_formula() -> None:
    """Every feature of a half-sine follows from the sine and its inverse (textbook)."""
    found = features(TIME, half_sine(-250.0))
    crossing = {level: LENGTH * math.asin(level) / math.pi for level in (0.05, 0.1, 0.5, 0.9)}
    assert found.peak == pytest.approx(-250.0, rel=1e-5)
    assert found.peak_time == pytest.approx(START + LENGTH / 2, abs=5e-5)
    assert found.onset_time == pytest.approx(START + crossing[0.05], abs=2e-6)
    assert found.half_duration == pytest.approx(LENGTH - 2 * crossing[0.5], abs=2e-6)
    slope = 0.8 * 250.0 / (crossing[0.9] - crossing[0.1])
    assert found.rise_rate == pytest.approx(-slope, rel=1e-3)
    assert found.fall_rate == pytest.approx(slope, rel=1e-3)
    assert found.impulse == pytest.approx(-2.0 * 250.0 * LENGTH / math.pi, rel=1e-5)
    assert found.share_before_peak == pytest.approx(0.5, abs=1e-3)
    assert found.rebound == 0.0


def test_sawtooth_leans_and_falls_steeply() -> None:
    """A triangle that rises in 30 ms and falls in 10 ms: rates and shares are those of its two legs."""
    found = features(TIME, np.interp(TIME, [0.02, 0.05, 0.06], [0.0, 6.0, 0.0]))
    assert found.rise_rate == pytest.approx(6.0 / 0.03, rel=1e-9)
    assert found.fall_rate == pytest.approx(-6.0 / 0.01, rel=1e-9)
    assert found.share_before_peak == pytest.approx(0.75, abs=1e-9)
    assert found.half_duration == pytest.approx(0.02, abs=1e-9)


def test_rebound_is_the_swing_to_the_other_side_after_the_peak() -> None:
    """A counter-swing of 30 % counts, the larger one before the peak does not."""
    values = (
        half_sine(10.0) - half_sine(3.0, start=0.065, length=0.02) - half_sine(5.0, start=0.0, length=0.015)
    )
    assert features(TIME, values).rebound == pytest.approx(0.3, rel=1e-4)


def test_ripple_on_the_rise_does_not_shorten_it() -> None:
    """The rise runs from the last passage of 10 % to the first of 90 %, whatever lies between."""
    values = np.interp(TIME, [0.02, 0.03, 0.032, 0.05, 0.06], [0.0, 0.55, 0.45, 1.0, 0.0])
    start, end = 0.02 + 0.01 * 0.1 / 0.55, 0.032 + 0.018 * (0.9 - 0.45) / 0.55
    assert features(TIME, values).rise_rate == pytest.approx(0.8 / (end - start), rel=1e-3)


@given(
    height=st.floats(0.1, 1e4),
    delay=st.floats(-0.015, 0.015),
    stretch=st.floats(0.6, 1.4),
    turned=st.booleans(),
)
@settings(max_examples=40)
def test_units_delay_and_stretch_pass_through(
    height: float,
    delay: float,
    stretch: float,
    turned: bool,  # noqa: FBT001 - drawn
) -> None:
    """Scaling scales, turning turns, a delay moves the points in time, a stretch lengthens what is long."""
    scale = -height if turned else height
    plain = features(TIME, half_sine())
    changed = features(TIME, half_sine(scale, start=START + delay, length=LENGTH * stretch))
    assert changed.peak == pytest.approx(scale * plain.peak, rel=1e-4)
    assert changed.onset_time is not None
    assert plain.onset_time is not None
    lead = plain.onset_time - START
    assert changed.onset_time == pytest.approx(START + delay + lead * stretch, abs=1e-5)
    assert plain.half_duration is not None
    assert changed.half_duration == pytest.approx(plain.half_duration * stretch, rel=1e-3)
    assert plain.impulse is not None
    assert changed.impulse == pytest.approx(plain.impulse * scale * stretch, rel=1e-3)


def test_a_cut_pulse_says_what_cannot_be_told() -> None:
    """A pulse cut at its begin and end has no onset, no rise, no duration, each with its reason."""
    inside = (TIME > 0.035) & (TIME < 0.045)
    found = features(TIME[inside], half_sine()[inside])
    assert (found.onset_time, found.rise_rate, found.fall_rate, found.half_duration) == (None,) * 4
    assert "from the first sample" in found.reasons["onset_time"]
    assert "does not start below" in found.reasons["rise_rate"]
    assert "before it ends" in found.reasons["fall_rate"]


def test_an_impulse_that_cancels_is_not_told() -> None:
    """One whole sine period carries no net impulse: a number made of rounding would mislead."""
    found = features(TIME, np.sin(2 * np.pi * np.clip((TIME - 0.02) / 0.06, 0.0, 1.0)))
    assert found.impulse is None
    assert "nearly cancel" in found.reasons["impulse"]


def test_a_curve_of_zeros_is_refused() -> None:
    """Nothing can be read off a curve that is zero throughout."""
    with pytest.raises(SignalError, match="zero throughout, so it has no features"):
        features(TIME, np.zeros_like(TIME))


def test_unequal_lengths_are_refused() -> None:
    """Time and values must belong together."""
    with pytest.raises(SignalError, match="time has 2001 samples, reference 2000"):
        features(TIME, half_sine()[:-1])
