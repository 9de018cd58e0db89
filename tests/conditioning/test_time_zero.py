"""Time zero: by a given shift, or where a trigger channel reaches its level."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.conditioning import shift_time, zero_at_threshold
from correlate.errors import SettingsError, SignalError, UnitError
from tests.conditioning.signals import names, sampled, signal_of


def test_shift_moves_times_only() -> None:
    """Every time grows by the shift, the samples stay, the shift is on record."""
    raw = signal_of([1.0, 2.0, 3.0], start_s=-0.1, step_s=0.1)
    late = shift_time(raw, 0.05)
    np.testing.assert_allclose(late.time_s, [-0.05, 0.05, 0.15], atol=1e-15)
    np.testing.assert_array_equal(late.samples, raw.samples)
    assert late.history[-1].settings["by_s"] == 0.05


def test_no_shift_no_record() -> None:
    """A shift of nothing gives the signal itself."""
    raw = signal_of([1.0, 2.0])
    assert shift_time(raw, 0.0) is raw


def test_shift_must_be_a_number() -> None:
    """A shift that is not finite is a wrong setting."""
    with pytest.raises(SettingsError, match="the time shift is nan s"):
        shift_time(signal_of([1.0, 2.0]), float("nan"))


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_crossing_lies_between_samples(sign: float) -> None:
    """From 2 at 0.1 s to 10 at 0.2 s the level 4 is crossed at 0.125 s, by hand, in either direction."""
    trigger = signal_of(sign * np.array([0.0, 2.0, 10.0, 0.0]), step_s=0.1, channel="sled ax")
    moved = zero_at_threshold(signal_of([5.0, 6.0], start_s=1.0, step_s=0.1), trigger=trigger, level=4.0)
    assert moved.start_s == pytest.approx(0.875, abs=1e-12)
    assert names(moved) == ["read", "set time zero"]
    settings = moved.history[-1].settings
    assert (settings["trigger"], settings["level"], settings["unit"]) == ("sled ax", 4.0, "g")
    assert settings["by_s"] == pytest.approx(-0.125, abs=1e-12)


def test_crossing_through_zero_is_taken_on_the_signed_line() -> None:
    """From +1 to −3 the value −2 is reached at three quarters of the step, worked by hand."""
    trigger = signal_of([1.0, -3.0], step_s=0.1)
    assert zero_at_threshold(trigger, trigger=trigger, level=2.0).start_s == pytest.approx(-0.075, abs=1e-12)


def test_level_may_be_in_another_unit() -> None:
    """A level in m/s² against a trigger in g: 9.80665 m/s² is 1 g, reached at half the step."""
    trigger = signal_of([0.0, 2.0], step_s=0.1)
    moved = zero_at_threshold(trigger, trigger=trigger, level=9.80665, unit="m/s^2")
    assert moved.start_s == pytest.approx(-0.05, abs=1e-12)
    assert moved.unit == "g"


@given(late_s=st.floats(-0.01, 0.01), level=st.floats(1.0, 40.0))
def test_late_trigger_is_taken_out(late_s: float, level: float) -> None:
    """A recording whose clock started late, set to its own threshold, lies where the other one does."""

    def ramp_up(start_s: float) -> float:
        pulse = sampled(
            lambda time: 50.0 / (1.0 + np.exp(-(time - start_s) / 0.002)),
            start_s=-0.05,
            end_s=0.05,
            step_s=1e-4,
        )
        return zero_at_threshold(pulse, trigger=pulse, level=level).start_s + start_s

    assert ramp_up(late_s) == pytest.approx(ramp_up(0.0), abs=2e-6)


@pytest.mark.parametrize("level", [0.0, -1.0, float("nan"), float("inf")])
def test_level_must_be_above_zero(level: float) -> None:
    """The level is an absolute value."""
    with pytest.raises(SettingsError, match=r"the trigger level is .*; give a number above zero"):
        zero_at_threshold(signal_of([0.0, 1.0]), trigger=signal_of([0.0, 1.0]), level=level)


def test_level_never_reached_is_refused() -> None:
    """The message names the trigger channel and how high it went."""
    trigger = signal_of([0.0, -3.0], channel="sled ax")
    with pytest.raises(
        SignalError, match="'sled ax': the trigger never reaches 5 g: its largest absolute value is 3"
    ):
        zero_at_threshold(signal_of([0.0, 1.0]), trigger=trigger, level=5.0)


def test_level_reached_from_the_start_is_refused() -> None:
    """Where the first sample is above the level, the crossing was not recorded."""
    trigger = signal_of([7.0, 8.0], channel="sled ax")
    with pytest.raises(SignalError, match="the trigger is at 7 g in its first sample, not below 5"):
        zero_at_threshold(trigger, trigger=trigger, level=5.0)


def test_level_in_a_unit_of_something_else_is_refused() -> None:
    """Newtons are no threshold for an acceleration."""
    trigger = signal_of([0.0, 8.0])
    with pytest.raises(UnitError, match="cannot be converted to 'N'"):
        zero_at_threshold(trigger, trigger=trigger, level=5.0, unit="N")
