"""Repeats on one grid: alignment, mean, spread, extremes, refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate import Recipe, Signal
from correlate.errors import SettingsError, SignalError
from correlate.reference.repeats import repeat_set
from tests.oracles.repeat_alignment import least_difference, total_difference
from tests.reference.curves import STEP_S, pulse, signal

WHOLE = Recipe(start_s=0.0, end_s=0.05)


def steps(shifts_s: tuple[float, ...]) -> list[int]:
    """Return shifts as whole steps."""
    return [round(shift / STEP_S) for shift in shifts_s]


@given(st.lists(st.integers(-9, 9), min_size=2, max_size=6))
def test_planted_delays_come_back(delays: list[int]) -> None:
    """Copies of one pulse, each late by whole steps, are moved back onto each other."""
    found = repeat_set([pulse(late_s=delay * STEP_S) for delay in delays], WHOLE)
    moved = [delay + shift for delay, shift in zip(delays, steps(found.shifts_s), strict=True)]
    assert len(set(moved)) == 1
    assert float(found.standard_deviation.max()) < 1e-9
    assert abs(sum(steps(found.shifts_s))) <= len(delays) / 2


def test_no_combination_of_shifts_is_better() -> None:
    """The sum of squared differences is the least of all combinations, tried one by one."""
    random = np.random.default_rng(7)
    reach = 3
    for _ in range(5):
        curves = [np.convolve(random.normal(size=40), np.hanning(9), mode="same")[5:35] for _ in range(3)]
        bodies = [signal(np.asarray(curve), start_s=0.0) for curve in curves]
        recipe = Recipe(start_s=reach * STEP_S, end_s=(29 - reach) * STEP_S)
        found = repeat_set(bodies, recipe, largest_shift_s=reach * STEP_S)
        plain = [curve.tolist() for curve in curves]
        mine = total_difference(plain, tuple(steps(found.shifts_s)), reach)
        at_rest = total_difference(plain, (0, 0, 0), reach)
        assert mine <= at_rest + 1e-9
    smooth = [pulse(late_s=late * STEP_S).samples[330:480].tolist() for late in (0, 2, -1)]
    found = repeat_set(
        [signal(np.array(curve), start_s=0.0) for curve in smooth],
        Recipe(start_s=reach * STEP_S, end_s=(149 - reach) * STEP_S),
        largest_shift_s=reach * STEP_S,
    )
    mine = total_difference(smooth, tuple(steps(found.shifts_s)), reach)
    assert mine == pytest.approx(least_difference(smooth, reach), abs=1e-12)


def test_a_shift_never_passes_its_bound() -> None:
    """A delay of 5 ms is only followed as far as the bound allows, and the bound may be zero."""
    far = [pulse(), pulse(late_s=0.005)]
    assert max(map(abs, repeat_set(far, WHOLE, largest_shift_s=0.001).shifts_s)) <= 0.001 + 1e-12
    assert repeat_set(far, WHOLE, largest_shift_s=0.0).shifts_s == (0.0, 0.0)


def test_mean_spread_and_extremes_of_numbers_known_by_hand() -> None:
    """Of 1, 2 and 6 the mean is 3, the standard deviation √7, the extremes 1 and 6."""
    flat = [signal(np.full(60, value), start_s=0.0) for value in (1.0, 2.0, 6.0)]
    found = repeat_set(flat, largest_shift_s=0.0)
    assert found.mean == pytest.approx(3.0)
    assert found.standard_deviation == pytest.approx(7**0.5)
    assert (found.smallest[0], found.largest[0]) == (1.0, 6.0)
    assert len(found) == 3


def test_one_repeat_has_no_spread() -> None:
    """A single repeat is its own mean."""
    found = repeat_set([pulse()], WHOLE)
    assert float(found.standard_deviation.max()) == 0.0
    assert found.mean == pytest.approx(found.curves[0])


def test_repeats_are_conditioned_as_the_reference_side() -> None:
    """Offset, sign and unit of the recipe are steps in the history of every repeat."""
    raw = [pulse(), pulse(late_s=STEP_S)]
    recipe = Recipe(
        unit="m/s^2", reference_sign=-1, reference_offset_window_s=(-0.02, -0.01), start_s=0.0, end_s=0.05
    )
    found = repeat_set(raw, recipe)
    assert found.unit == "m/s^2"
    assert float(found.mean.min()) == pytest.approx(-980.665, rel=1e-3)
    assert [step.name for step in found.signals[0].history] == ["convert unit", "turn sign", "remove offset"]


def test_curves_cannot_be_written_to() -> None:
    """The result is as frozen as signals are."""
    found = repeat_set([pulse(), pulse()], WHOLE)
    with pytest.raises(ValueError, match="read-only"):
        found.curves[0, 0] = 1.0


def test_refusals() -> None:
    """No repeat, an interval beyond the data, too few samples, a negative bound."""
    with pytest.raises(SignalError, match="there is no repeat"):
        repeat_set([])
    with pytest.raises(SignalError, match="reaches beyond the data"):
        repeat_set([pulse(), pulse(file_end_s=0.04)], WHOLE)
    with pytest.raises(SignalError, match="share 11 samples, fewer than 20"):
        repeat_set([pulse(), pulse()], Recipe(start_s=0.0, end_s=0.001))
    with pytest.raises(SettingsError, match="largest shift is -1"):
        repeat_set([pulse()], largest_shift_s=-1)


def test_other_quantities_are_refused() -> None:
    """A force is no repeat of an acceleration."""
    force = Signal(samples=pulse().samples, start_s=-0.02, step_s=STEP_S, unit="N", channel="head ax")
    with pytest.raises(Exception, match="cannot be converted"):
        repeat_set([pulse(), force], WHOLE)
