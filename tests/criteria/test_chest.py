"""Chest criteria."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.criteria import chest_deflection, chest_deflection_rate, viscous_criterion
from correlate.errors import SettingsError, SignalError
from tests.criteria.curves import STEP_S, half_sine, rough_pulses
from tests.oracles import criteria_literal as literal

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def test_viscous_criterion_of_a_half_sine() -> None:
    """D = A·sin(πt/T) gives VC = s·A²·π / (2·T·L), at a quarter of T."""
    deflection = half_sine(60.0, 0.04)
    found = viscous_criterion(deflection, step_s=STEP_S)
    assert found.value == pytest.approx(1.3 * 0.06**2 * math.pi / (2 * 0.04 * 0.229), rel=1e-5)
    assert found.start_s == pytest.approx(0.01, abs=STEP_S)
    rate = chest_deflection_rate(deflection, step_s=STEP_S)
    assert rate.value == pytest.approx(0.06 * math.pi / 0.04 * math.cos(math.pi * 2e-4 / 0.04), rel=1e-6)


@given(coefficients=st.lists(st.floats(-50, 50), min_size=5, max_size=5))
def test_rate_is_exact_for_polynomials_of_fourth_degree(coefficients: list[float]) -> None:
    """The five-point formula differentiates t⁴ exactly."""
    time = np.arange(30) * 1e-2
    polynomial = np.polynomial.Polynomial(coefficients)
    found = chest_deflection_rate(polynomial(time), step_s=1e-2)
    expected = polynomial.deriv()(time)[2:-2].max() * 1e-3
    assert found.value == pytest.approx(expected, rel=1e-7, abs=1e-9)


@given(curve=rough_pulses(least=5))
def test_viscous_criterion_equals_the_loop(curve: Floats) -> None:
    """Sample by sample the same."""
    found = viscous_criterion(curve, step_s=STEP_S, scale=1.1, depth_m=0.2)
    expected = literal.viscous(curve.tolist(), STEP_S, 1.1, 0.2)
    assert found.value == pytest.approx(expected, rel=1e-9, abs=1e-12)
    index = round(found.start_s / STEP_S)
    d = [value / 1000 for value in curve.tolist()]
    assert 1.1 * literal.rate(d, STEP_S, index) * d[index] / 0.2 == pytest.approx(found.value, rel=1e-9)


def test_chest_deflection_is_the_largest_compression() -> None:
    """A chest that springs out further than it was pushed in has the compression as its value."""
    assert chest_deflection([0.0, 30.0, -45.0], step_s=0.01).value == 30.0


def test_four_samples_have_no_rate_and_a_depth_of_zero_no_sense() -> None:
    """The five-point rate needs five samples; constants are above zero."""
    with pytest.raises(SignalError, match="4 samples are too few"):
        chest_deflection_rate([0, 1, 2, 3], step_s=STEP_S)
    with pytest.raises(SettingsError, match="depth_m is 0"):
        viscous_criterion([0, 1, 2, 3, 4], step_s=STEP_S, depth_m=0)
