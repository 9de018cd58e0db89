"""The criterion of the coupled system: closed forms, the integration by small steps, properties."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate.criteria import damage
from correlate.errors import SignalError
from tests.criteria.curves import STEP_S
from tests.oracles import criteria_literal as literal


def test_a_step_about_the_lateral_axis_overshoots_as_a_damped_oscillator() -> None:
    """About y nothing is coupled: the largest displacement is a/k · (1 + exp(−πζ/√(1−ζ²)))."""
    still, driven = np.zeros(4001), np.full(4001, 3000.0)
    frequency = math.sqrt(23493.0)
    ratio = 0.5 * 5.9148e-3 * frequency
    overshoot = math.exp(-math.pi * ratio / math.sqrt(1 - ratio**2))
    found = damage(still, driven, still, step_s=1e-5)
    assert found.value == pytest.approx(2.9903 * 3000.0 / 23493.0 * (1 + overshoot), rel=1e-6)
    assert found.start_s == pytest.approx(math.pi / (frequency * math.sqrt(1 - ratio**2)), abs=1e-5)


def test_a_slow_rotation_is_held_by_the_stiffness_alone() -> None:
    """A drive that grows over seconds ends at the solution of K·δ = u, with x and z coupled."""
    rise = np.linspace(0.0, 1.0, 20_001)
    found = damage(1000.0 * rise, 500.0 * rise, -800.0 * rise, step_s=1e-3)
    k = np.array([[32142 + 1636.3, 0, -1636.3], [0, 23493, 0], [-1636.3, 0, 16935 + 1636.3]])
    expected = 2.9903 * float(np.linalg.norm(np.linalg.solve(k, [1000.0, 500.0, -800.0])))
    assert found.value == pytest.approx(expected, rel=1e-3)
    assert found.start_s == 20.0


@settings(max_examples=10)
@given(seed=st.integers(0, 2**32 - 1), size=st.integers(3, 40))
def test_it_equals_small_steps(seed: int, size: int) -> None:
    """Drives that begin anywhere give the value of a Runge-Kutta integration."""
    drives = 2000 * np.cumsum(np.random.default_rng(seed).standard_normal((size, 3)), axis=0)
    expected = literal.damage([(x, y, z) for x, y, z in drives.tolist()], 1e-3, 40)
    assert damage(*drives.T, step_s=1e-3).value == pytest.approx(expected, rel=1e-6)


def test_scale_sign_and_rest_before() -> None:
    """It is linear and even; a time at rest before only moves it."""
    drives = np.sin(np.linspace(0, 9, 300)) * np.array([[4000.0], [-2500.0], [1500.0]])
    once = damage(*drives, step_s=STEP_S)
    assert damage(*(-2 * drives), step_s=STEP_S).value == pytest.approx(2 * once.value)
    later = damage(*np.pad(drives, ((0, 0), (50, 0))), step_s=STEP_S)
    assert later.value == pytest.approx(once.value, rel=1e-6)
    assert later.start_s == pytest.approx(once.start_s + 50 * STEP_S)


def test_axes_of_unequal_length_are_refused() -> None:
    """The message names them."""
    with pytest.raises(SignalError, match="acceleration_z_rad_per_s2 3"):
        damage([0, 1], [0, 1], [0, 1, 2], step_s=STEP_S)
