"""How far sliders reach."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate import CurveChange, Signal
from correlate.plots import change_reach, interval_reach
from correlate.plots.pair import round_step
from tests.plots.scores import late_model


@given(st.floats(min_value=1e-9, max_value=1e9))
def test_a_round_step_is_the_next_one_up(width: float) -> None:
    """It is 1, 2 or 5 times a power of ten, not below the width and below two and a half times it."""
    step = round_step(width)
    assert width * (1 - 1e-8) <= step <= 2.5 * width * (1 + 1e-8)
    mantissa = step / 10 ** math.floor(math.log10(step) + 1e-9)
    assert min(abs(mantissa - one) for one in (1, 2, 5)) < 1e-6


def test_the_sliders_reach_as_far_as_the_rating_looks() -> None:
    """Shift by 20 % of 40.1 ms, scale by half, offset by half of the peak of 200, rounded up to a step."""
    reach = change_reach(late_model(), CurveChange())
    assert reach.shift_ms.high == pytest.approx(8.05)
    assert reach.shift_ms.low == -reach.shift_ms.high
    assert (reach.scale.low, reach.scale.high) == (0.5, 1.5)
    assert reach.offset.high == pytest.approx(100, rel=0.01)


def test_a_change_beyond_the_sliders_widens_them() -> None:
    """A link may hold any change; the slider that shows it reaches so far."""
    reach = change_reach(late_model(), CurveChange(shift_s=-0.03, scale=2.4, offset=-500.0))
    assert reach.shift_ms.low <= -30
    assert reach.scale.high == 2.4
    assert reach.offset.low <= -500


def test_the_interval_reaches_as_far_as_all_signals() -> None:
    """In whole steps, inside of what all cover."""

    def signal(start_s: float, samples: int) -> Signal:
        return Signal(samples=[1.0] * samples, start_s=start_s, step_s=1e-4, unit="g", channel="ax")

    reach = interval_reach([signal(-0.05, 1501), signal(0.00025, 1001), signal(-0.1, 2500)])
    assert (reach.low, reach.high, reach.step) == (0.3, 100.0, 0.1)
