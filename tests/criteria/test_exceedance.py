"""Limits that fall with the time above them: closed forms, the loop, properties, refusals."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.criteria import DurationLimit, cumulative_clip, exceedance, exceedance_curve
from correlate.errors import SettingsError, SignalError
from tests.criteria.curves import STEP_S, half_sine, rough_pulses
from tests.oracles import criteria_literal as literal

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

PUBLISHED = tomllib.loads(
    (Path(__file__).parent.parent / "published" / "criteria" / "durations.toml").read_text(encoding="utf-8")
)
CORNERS = [(0.0, 100.0), (0.004, 60.0), (0.006, 20.0)]
FALLING = DurationLimit(
    durations_s=tuple(corner[0] for corner in CORNERS), levels=tuple(corner[1] for corner in CORNERS)
)


@pytest.mark.parametrize("case", PUBLISHED["square"])
def test_a_square_pulse_against_a_published_limit(case: dict[str, float]) -> None:
    """A level held for a time is compared with what is allowed for that time."""
    table = next(one for one in PUBLISHED["limit"] if one["name"] == case["name"])
    limit = DurationLimit(
        durations_s=tuple(t / 1e3 for t in table["durations_ms"]), levels=tuple(table["levels_N"])
    )
    found = exceedance(
        np.full(round(case["duration_ms"] * 10) + 1, case["force_N"]), step_s=STEP_S, limit=limit
    )
    assert found.limit == pytest.approx(case["allowed_N"], rel=1e-9)
    assert found.value == pytest.approx(case["force_N"] / case["allowed_N"], rel=1e-9)
    assert found.duration_s == pytest.approx(case["duration_ms"] / 1e3, abs=1e-9)
    assert found.level == case["force_N"]


def test_a_triangle_is_worst_where_the_line_of_its_durations_meets_a_corner() -> None:
    """A triangle of 60 over 10 ms is at or above F for 10 ms · (1 − F/60): 36 for 4 ms, 24 for 6 ms."""
    triangle = np.concatenate([np.linspace(0, 60, 51), np.linspace(60, 0, 51)[1:]])
    found = exceedance(triangle, step_s=STEP_S, limit=FALLING)
    assert found.value == pytest.approx(24.0 / 20.0, rel=1e-9)
    assert found.level == pytest.approx(24.0)
    assert found.duration_s == pytest.approx(0.006)
    assert (found.start_s, found.end_s) == pytest.approx((0.002, 0.008), abs=STEP_S)


def test_a_long_fall_within_one_interval_is_seen() -> None:
    """Between two samples a line falls from 50 to 0 in 10 ms: it is at 20 for 6 ms."""
    found = exceedance([50.0, 0.0], step_s=0.01, limit=FALLING)
    assert found.value == pytest.approx(20.0 / 20.0)


def test_the_curve_of_durations_holds_the_clip() -> None:
    """The level held for 3 ms in total is the cumulative clip."""
    curve = half_sine(80.0, 0.012, after_s=0.004)
    held = exceedance_curve(curve, step_s=STEP_S)
    level = np.interp(0.003, held.durations_s, held.levels)
    assert level == pytest.approx(cumulative_clip(curve, step_s=STEP_S).value, rel=1e-9)


@given(curve=rough_pulses(least=3, positive=False))
def test_the_ratio_equals_stepping_down_from_the_peak(curve: Floats) -> None:
    """Trying a thousand levels never finds more, and finds nearly as much."""
    found = exceedance(curve, step_s=STEP_S, limit=FALLING)
    tried = literal.exceeded_ratio(curve.tolist(), STEP_S, CORNERS, 1000) if curve.max() > 0 else 0.0
    assert found.value >= tried * (1 - 1e-6)
    assert found.value == pytest.approx(tried, rel=0.05)
    if found.level > 0:
        assert literal.held(curve.tolist(), STEP_S, found.level - 1e-9 * float(np.ptp(curve)))[0] == (
            pytest.approx(found.duration_s, abs=1e-6 * STEP_S * curve.size)
        )


@given(curve=rough_pulses(least=3, positive=False), factor=st.floats(0.1, 10), pad=st.integers(1, 50))
def test_scale_padding_and_shift(curve: Floats, factor: float, pad: int) -> None:
    """The ratio scales with the curve; zeros around it only move its times."""
    from_zero = np.concatenate([[0.0], curve, [0.0]])
    whole = exceedance(from_zero, step_s=STEP_S, limit=FALLING)
    scaled = exceedance(factor * from_zero, step_s=STEP_S, limit=FALLING)
    assert scaled.value == pytest.approx(factor * whole.value, rel=1e-6)
    padded = exceedance(
        np.concatenate([np.zeros(pad), from_zero, np.zeros(pad)]), step_s=STEP_S, limit=FALLING
    )
    assert padded.value == pytest.approx(whole.value, rel=1e-6)


def test_a_curve_that_is_never_above_zero_has_no_ratio() -> None:
    """The other direction does not count; the result is 0 against the limit of an instant."""
    found = exceedance([-5.0, -9.0, -1.0], step_s=STEP_S, limit=FALLING)
    assert (found.value, found.level, found.limit) == (0.0, 0.0, 100.0)


@pytest.mark.parametrize(
    ("durations", "levels"),
    [
        ((0.0, 0.0), (2.0, 1.0)),
        ((0.001, 0.002), (2.0, 1.0)),
        ((0.0, 0.1), (1.0, 2.0)),
        ((0.0,), (0.0,)),
        ((), ()),
    ],
)
def test_limits_that_rise_or_do_not_begin_at_zero_are_refused(
    durations: tuple[float, ...], levels: tuple[float, ...]
) -> None:
    """Each is named with the remedy."""
    with pytest.raises(SettingsError, match="not valid; give durations that rise from 0"):
        DurationLimit(durations_s=durations, levels=levels)


def test_a_sample_that_is_not_finite_is_refused() -> None:
    """As in every criterion."""
    with pytest.raises(SignalError, match="values"):
        exceedance([0.0, float("nan")], step_s=STEP_S, limit=FALLING)
