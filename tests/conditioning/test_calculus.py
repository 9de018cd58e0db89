"""Derivative and integral, with their units and their channel codes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.conditioning import derivative, integral
from correlate.errors import SettingsError, SignalError
from correlate.units import parse_unit
from tests.conditioning.signals import names, sampled, signal_of


@given(a=st.floats(-5, 5), b=st.floats(-5, 5), c=st.floats(-5, 5))
def test_derivative_of_a_parabola_is_exact(a: float, b: float, c: float) -> None:
    """Also at both ends: the differences are of second order everywhere."""
    path = sampled(lambda t: a * t**2 + b * t + c, start_s=-1.0, end_s=1.0, step_s=0.125, unit="m")
    speed = derivative(path)
    np.testing.assert_allclose(speed.samples, 2 * a * path.time_s + b, atol=1e-12)
    assert speed.unit == "m/s"


def test_derivative_of_a_sine() -> None:
    """The central difference of a sine is its cosine times sin(ωΔt)/(ωΔt), derived here."""
    omega, step_s = 2 * np.pi * 50.0, 1e-4
    wave = sampled(lambda t: np.sin(omega * t), start_s=0.0, end_s=0.1, step_s=step_s, unit="m/s^2")
    expected = omega * np.cos(omega * wave.time_s) * np.sin(omega * step_s) / (omega * step_s)
    np.testing.assert_allclose(derivative(wave).samples[1:-1], expected[1:-1], atol=1e-9)


def test_integral_of_a_straight_line_is_exact() -> None:
    """The trapezoidal rule gives t² for 2t, plus the value at the start."""
    ramp = sampled(lambda t: 2.0 * t, start_s=0.0, end_s=2.0, step_s=0.25, unit="N")
    impulse = integral(ramp, initial=3.0)
    np.testing.assert_allclose(impulse.samples, 3.0 + ramp.time_s**2, atol=1e-12)
    assert impulse.unit == "N·s"
    assert impulse.history[-1].settings["initial"] == 3.0


def test_half_sine_pulse_changes_the_speed_by_the_closed_form() -> None:
    """A half-sine of 20 g and 50 ms: Δv = 2·A·T/π; trapezoids lose (π·Δt/T)²/12 = 3.3e-6 of it (derived)."""
    pulse = sampled(lambda t: 20.0 * np.sin(np.pi * t / 0.05), start_s=0.0, end_s=0.05, step_s=1e-4, unit="g")
    assert integral(pulse).samples[-1] == pytest.approx(2 * 20 * 9.80665 * 0.05 / np.pi, rel=3.3e-6)


@pytest.mark.parametrize(
    ("unit", "factor", "rate_unit", "integral_unit"),
    [
        ("g", 9.80665, "m/s^3", "m/s"),
        ("mm", 1e-3, "m/s", "m·s"),
        ("m/s", 1.0, "m/s^2", "m"),
        ("deg", np.pi / 180, "rad/s", "rad·s"),
        ("deg/s", np.pi / 180, "rad/s^2", "rad"),
        ("rad/s^2", 1.0, "rad/s^3", "rad/s"),
        ("kN", 1e3, "N/s", "N·s"),
        ("N", 1.0, "N/s", "N·s"),
        ("N·m", 1.0, "N·m/s", "N·m·s"),
        ("N·s", 1.0, "N", "kg·m"),
        ("1", 1.0, "1/s", "s"),
        ("s", 1.0, "1", "s^2"),
    ],
)
def test_units_of_rate_and_integral(unit: str, factor: float, rate_unit: str, integral_unit: str) -> None:
    """The unit that comes out can be parsed, has the right powers, and the numbers suit it."""
    ramp = signal_of([0.0, 1.0, 2.0], unit=unit, step_s=1.0)
    rate, level = derivative(ramp), integral(ramp)
    for result, expected in ((rate, rate_unit), (level, integral_unit)):
        assert parse_unit(result.unit).exponents == parse_unit(expected).exponents
        assert parse_unit(result.unit).factor == 1.0
    np.testing.assert_allclose(rate.samples, factor, rtol=1e-12)
    np.testing.assert_allclose(level.samples, np.array([0.0, 0.5, 2.0]) * factor, rtol=1e-12)


def test_conversion_to_si_is_a_step_of_its_own() -> None:
    """A signal in g is converted first, visibly; one in SI is not."""
    assert names(integral(signal_of([1.0, 2.0]))) == ["read", "convert unit", "integral"]
    assert names(derivative(signal_of([1.0, 2.0, 3.0], unit="m/s2"))) == ["read", "derivative"]


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("D0HEAD0000KMDSXA", "D0HEAD0000KMVEXA"),
        ("D0HEAD0000KMVEXA", "D0HEAD0000KMACXA"),
        ("D0HEAD0000KMANYA", "D0HEAD0000KMAVYA"),
        ("D0HEAD0000KMAVYA", "D0HEAD0000KMAAYA"),
    ],
)
def test_channel_codes_follow(before: str, after: str) -> None:
    """Displacement, velocity, acceleration and their angular counterparts, in both directions."""
    assert derivative(signal_of([0, 1, 2], unit="m", channel=before)).channel == after
    assert integral(signal_of([0, 1, 2], unit="m", channel=after)).channel == before


def test_other_channels_are_named_in_words() -> None:
    """A channel without a code, or whose dimension has no counterpart, gets the word in front."""
    assert (
        derivative(signal_of([0, 1, 2], channel="probe force", unit="N")).channel
        == "derivative of probe force"
    )
    force = signal_of([0, 1, 2], channel="D0FEMRLE00KMFOZB", unit="N")
    assert integral(force).channel == "integral of D0FEMRLE00KMFOZB"


def test_two_samples_have_no_derivative() -> None:
    """Second-order differences need three samples."""
    with pytest.raises(SignalError, match="2 samples are too few for a derivative"):
        derivative(signal_of([0, 1]))


def test_initial_value_must_be_a_number() -> None:
    """An initial value that is not finite is a wrong setting."""
    with pytest.raises(SettingsError, match="the initial value is inf"):
        integral(signal_of([0, 1]), initial=float("inf"))
