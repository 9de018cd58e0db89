"""What windows ask of a curve: decay, hysteresis, oscillation, one peak."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from correlate.criteria.curve_measures import (
    first_decay,
    internal_hysteresis,
    largest,
    largest_sum,
    oscillation_after_peak,
    peak_while,
    unimodality,
)
from correlate.errors import SignalError
from tests.criteria.curves import STEP_S, half_sine, rough_pulses
from tests.oracles.criteria_literal import enclosed_area, largest_of_sum

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


# -------------------------------------------------------------------------------------------------- decay


@pytest.mark.parametrize("level", [0.0, 5.0, -20.0])
def test_a_cosine_decays_at_its_closed_form(level: float) -> None:
    """60·cos(ωt) falls to a level at acos(level/60)/ω; the line between samples finds it."""
    omega = 2 * math.pi / 0.2
    curve = 60 * np.cos(omega * np.arange(1500) * STEP_S)
    found = first_decay(curve, step_s=STEP_S, level=level)
    assert found.end_s == pytest.approx(math.acos(level / 60) / omega, abs=1e-7)
    assert found.start_s == 0.0


def test_only_the_first_decay_after_the_peak_counts() -> None:
    """Crossings before the peak and later ones are passed over."""
    found = first_decay([1.0, -1.0, 8.0, -8.0, 5.0, -1.0], step_s=1.0, level=0.0)
    assert (found.start_s, found.end_s) == (2.0, 2.5)


def test_a_curve_that_stays_up_or_never_gets_there_is_refused() -> None:
    """Both are named with the level."""
    with pytest.raises(SignalError, match="stays above 5 to the end of the data; give a longer recording"):
        first_decay([0.0, 9.0, 6.0], step_s=1.0, level=5.0)
    with pytest.raises(SignalError, match="largest value 4 is not above 5"):
        first_decay([0.0, 4.0, 3.0], step_s=1.0, level=5.0)


# --------------------------------------------------------------------------------------------- hysteresis


@pytest.mark.parametrize("share", [0.0, 0.3, 0.75, 1.0])
def test_hysteresis_of_a_loop_that_gives_back_a_share(share: float) -> None:
    """A linear spring that unloads with a share of its force keeps 1 − share."""
    path = half_sine(60.0, 0.04)
    turn = int(np.argmax(path))
    force = 80.0 * path * np.where(np.arange(path.size) <= turn, 1.0, share)
    found = internal_hysteresis(force, path, step_s=STEP_S)
    assert found.value == pytest.approx(1 - share, abs=2e-3)
    assert found.start_s == pytest.approx(0.02, abs=STEP_S)


def test_a_spring_and_dashpot_lose_the_area_of_the_ellipse() -> None:
    """F = kx + cẋ with x = A·(1 − cos ωt)/2: the loop is an ellipse of area π·c·ω·(A/2)²."""
    amplitude, omega, stiffness, damping = 0.06, 2 * math.pi / 0.08, 50e3, 250.0
    time = np.arange(801) * STEP_S
    path = amplitude * (1 - np.cos(omega * time)) / 2
    force = stiffness * path + damping * amplitude * omega * np.sin(omega * time) / 2
    area = math.pi * damping * omega * (amplitude / 2) ** 2
    loading = stiffness * amplitude**2 / 2 + area / 2
    positive = int(np.argmax((force <= 0) & (time > 0.04)))
    tail = float(np.sum(0.5 * (force[positive:-1] + force[positive + 1 :]) * np.diff(path[positive:])))
    found = internal_hysteresis(force, path, step_s=STEP_S)
    assert found.value == pytest.approx((area - tail) / loading, abs=1e-4)


@given(seed=st.integers(0, 10_000))
def test_hysteresis_is_the_enclosed_area_over_that_under_loading(seed: int) -> None:
    """The shoelace formula of the polygon gives the same area between the branches."""
    random = np.random.default_rng(seed)
    up = np.linspace(0.0, 1.0, 40)
    rising = np.cumsum(random.uniform(0, 1, 40)) * up
    falling = rising[::-1] * random.uniform(0.1, 0.8)
    falling[-1] = 0.0
    path, force = np.concatenate([up, up[-2::-1]]), np.concatenate([rising, falling[1:]])
    loop_x, loop_y = path.tolist(), force.tolist()
    area = enclosed_area(loop_x, loop_y)
    under = enclosed_area([*up.tolist(), 1.0, 0.0], [*rising.tolist(), 0.0, 0.0])
    found = internal_hysteresis(force, path, step_s=STEP_S)
    assert found.value == pytest.approx(area / under, rel=1e-9)


def test_a_push_after_the_loop_does_not_count() -> None:
    """A second push after the force has come to zero leaves the number."""
    path = np.concatenate([half_sine(60.0, 0.04), half_sine(30.0, 0.04)])
    force = np.where(np.arange(path.size) <= 200, 1.0, 0.25) * path
    alone = internal_hysteresis(force[:401], path[:401], step_s=STEP_S).value
    assert internal_hysteresis(force, path, step_s=STEP_S).value == pytest.approx(alone, abs=1e-9)


def test_a_deflection_that_grows_again_ends_the_loop() -> None:
    """Pushed back in at a third of the deflection while the force stays on: only the first return counts."""
    path = np.array([0.0, 30.0, 60.0, 40.0, 20.0, 50.0, 20.0, 0.0])
    force = np.array([0.0, 30.0, 60.0, 10.0, 5.0, 50.0, 5.0, 0.0])
    loading, returned = 60.0 * 60.0 / 2, 20 * (60 + 10) / 2 + 20 * (10 + 5) / 2
    found = internal_hysteresis(force, path, step_s=1.0)
    assert found.value == pytest.approx(1 - returned / loading)
    assert (found.start_s, found.end_s) == (2.0, 4.0)


def test_a_turned_force_does_no_work_and_is_refused() -> None:
    """A loop of the wrong sign is named."""
    path = half_sine(60.0, 0.04)
    with pytest.raises(SignalError, match="no work is done up to the largest deflection; check sign"):
        internal_hysteresis(-path, path, step_s=STEP_S)


# ---------------------------------------------------------------------------------- oscillation, unimodality


def test_ringing_after_a_half_sine_has_its_height() -> None:
    """A pulse of 100 that falls to zero and then rises to 12 oscillates by 0.12, wherever it does."""
    ringing = np.concatenate([half_sine(100.0, 0.01), half_sine(12.0, 0.004), half_sine(5.0, 0.004)])
    found = oscillation_after_peak(ringing, step_s=STEP_S)
    assert found.value == pytest.approx(0.12, abs=1e-9)
    assert found.end_s == pytest.approx(0.0101 + 0.002, abs=2 * STEP_S)


def test_a_shoulder_in_the_fall_counts_by_its_rise() -> None:
    """Falling to 60, rising to 75 and falling again oscillates by 0.15."""
    assert oscillation_after_peak([0, 100, 60, 75, 0], step_s=STEP_S).value == pytest.approx(0.15)
    assert oscillation_after_peak([0, 30, 100, 60, 0], step_s=STEP_S).value == 0.0


def test_unimodality_sees_a_dent_before_the_peak_too() -> None:
    """A fall before the peak counts as a rise after it does; the larger one is given with its stretch."""
    found = unimodality([0, 70, 40, 100, 0, 20, 0], step_s=1.0)
    assert found.value == pytest.approx(0.3)
    assert (found.start_s, found.end_s) == (1.0, 2.0)
    assert unimodality([0, 70, 60, 100, 0, 20, 0], step_s=1.0).value == pytest.approx(0.2)


@given(curve=rough_pulses(least=3))
def test_oscillation_is_the_largest_later_rise(curve: Floats) -> None:
    """Every pair of samples after the peak is tried; a turned time axis gives the fall before it."""
    top = int(np.argmax(curve))
    assume(curve[top] > 0)
    after = curve[top:].tolist()
    expected = max(late - early for i, early in enumerate(after) for late in after[i:]) / curve[top]
    found = oscillation_after_peak(curve, step_s=STEP_S)
    assert found.value == pytest.approx(expected, abs=1e-12)
    assert found.start_s <= found.end_s
    assert unimodality(curve, step_s=STEP_S).value >= found.value
    assert unimodality(curve[::-1], step_s=STEP_S).value == pytest.approx(
        unimodality(curve, step_s=STEP_S).value
    )


def test_a_pulse_below_zero_is_refused() -> None:
    """The peak of the pulse has to be positive."""
    with pytest.raises(SignalError, match="nowhere above zero; check its sign"):
        unimodality([-1.0, -5.0, 0.0], step_s=STEP_S)


def test_a_condition_that_never_holds_is_refused() -> None:
    """There is no peak among no samples."""
    with pytest.raises(SignalError, match="no sample lies where the peak is asked for"):
        peak_while([1.0, 2.0], np.array([False, False]), step_s=STEP_S)


# ------------------------------------------------------------------------------------ one direction, and sums


def test_largest_counts_in_one_direction() -> None:
    """The other direction does not count, however large."""
    assert largest([0.0, 900.0, -700.0], step_s=STEP_S).value == 900.0
    assert largest([-5.0, -900.0], step_s=STEP_S).value == 0.0


@given(
    one=rough_pulses(least=20, most=20, positive=False), other=rough_pulses(least=20, most=20, positive=False)
)
def test_the_largest_sum_is_that_of_the_loop_and_even(one: Floats, other: Floats) -> None:
    """Forces add up at one instant; mirrored, they give the same."""
    found = largest_sum(one, other, step_s=STEP_S)
    expected, where = largest_of_sum([one.tolist(), other.tolist()])
    assert found.value == pytest.approx(expected, rel=1e-12)
    assert found.start_s == pytest.approx(where * STEP_S)
    assert largest_sum(-one, -other, step_s=STEP_S).value == found.value
