"""Chest, neck and leg criteria."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.criteria import (
    NeckIntercepts,
    chest_deflection,
    chest_deflection_rate,
    femur_force,
    nij,
    tibia_index,
    viscous_criterion,
)
from correlate.errors import SettingsError, SignalError
from tests.criteria.curves import STEP_S, half_sine, rough_pulses
from tests.oracles import criteria_literal as literal

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SHORT = {
    "tension-extension": "te",
    "tension-flexion": "tf",
    "compression-extension": "ce",
    "compression-flexion": "cf",
}


# -------------------------------------------------------------------------------------------------- chest


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


# --------------------------------------------------------------------------------------------------- neck


@pytest.mark.parametrize(
    ("force", "moment", "case"),
    [
        (6806.0, 0.0, "tension-extension"),
        (-6160.0, 0.0, "compression-extension"),
        (0.0, 310.0, "tension-flexion"),
        (0.0, -135.0, "tension-extension"),
        (3403.0, 155.0, "tension-flexion"),
        (3403.0, -67.5, "tension-extension"),
        (-3080.0, 155.0, "compression-flexion"),
        (-3080.0, -67.5, "compression-extension"),
    ],
)
def test_nij_is_one_at_the_intercepts(force: float, moment: float, case: str) -> None:
    """Each intercept alone, and half of two together, give 1 in the case of their signs (adult male)."""
    found = nij([0.0, force, 0.0], [0.0, moment, 0.0], step_s=STEP_S)
    assert found.value == pytest.approx(1.0)
    assert found.case == case
    assert found.start_s == pytest.approx(STEP_S)


@given(
    force=rough_pulses(least=40, most=40, positive=False),
    moment=rough_pulses(least=40, most=40, positive=False),
)
def test_nij_equals_the_loop_over_four_cases(force: Floats, moment: Floats) -> None:
    """The largest value of each case is that of the loop, and the largest of them is the criterion."""
    limits = NeckIntercepts(tension_N=60, compression_N=50, flexion_Nm=90, extension_Nm=30)
    found = nij(force, moment, step_s=STEP_S, intercepts=limits)
    expected = literal.nij(force.tolist(), moment.tolist(), (60, 50, 90, 30))
    for case, value in found.cases.items():
        assert value == pytest.approx(expected[SHORT[case]], rel=1e-12), case
    assert found.value == max(found.cases.values()) == found.cases[found.case]


def test_an_intercept_of_zero_is_refused() -> None:
    """A division by zero is prevented at the border."""
    with pytest.raises(SettingsError, match="extension_Nm is 0"):
        NeckIntercepts(tension_N=1, compression_N=1, flexion_Nm=1, extension_Nm=0)


# --------------------------------------------------------------------------------------------------- legs


def test_femur_force_is_compression_alone() -> None:
    """Tension does not count; a femur that is never compressed has 0."""
    assert femur_force([0.0, 900.0, -700.0], step_s=STEP_S).value == 700.0
    assert femur_force([5.0, 900.0, 20.0], step_s=STEP_S).value == 0.0


def test_tibia_index_adds_bending_and_force_at_one_instant() -> None:
    """The resultant of both moments counts; peaks at different instants do not add."""
    found = tibia_index([0, 135.0, 0], [0, 180.0, 0], [0, 0, -35_900.0], step_s=STEP_S)
    assert found.value == pytest.approx(1.0)
    together = tibia_index([0, 135.0], [0, -180.0], [0, 35_900.0], step_s=STEP_S)
    assert together.value == pytest.approx(2.0)


@given(
    x=rough_pulses(least=30, most=30, positive=False),
    y=rough_pulses(least=30, most=30, positive=False),
    z=rough_pulses(least=30, most=30, positive=False),
)
def test_tibia_index_equals_the_loop(x: Floats, y: Floats, z: Floats) -> None:
    """Sample by sample the same."""
    expected = max(
        math.sqrt(a * a + b * b) / 100 + abs(c) / 200
        for a, b, c in zip(x.tolist(), y.tolist(), z.tolist(), strict=True)
    )
    found = tibia_index(x, y, z, step_s=STEP_S, critical_moment_Nm=100, critical_force_N=200)
    assert found.value == pytest.approx(expected, rel=1e-12)
