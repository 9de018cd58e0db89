"""Corridors over time and the share of a curve inside them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from correlate import Recipe
from correlate.errors import SettingsError, SignalError
from correlate.reference.corridor import (
    inside_corridor,
    prediction_corridor,
    range_corridor,
    share_within,
    spread_corridor,
)
from correlate.reference.repeats import RepeatSet, repeat_set
from tests.reference.curves import STEP_S, pulse, signal

HUNDRED = 101


def flat_repeats(*values: float) -> RepeatSet:
    """Return repeats that stand still at given values, 0 to 10 ms."""
    return repeat_set([signal(np.full(HUNDRED, value), start_s=0.0) for value in values], largest_shift_s=0.0)


def test_a_third_of_a_ramp_lies_inside() -> None:
    """A ramp from 0 to 30 crosses the corridor from 10 to 20 in a third of its samples."""
    corridor = spread_corridor(flat_repeats(10.0, 15.0, 20.0))
    ramp = signal(np.linspace(0, 30, HUNDRED), start_s=0.0)
    found = inside_corridor(corridor, ramp)
    assert found.share == pytest.approx(1 / 3, abs=1.5 / HUNDRED)
    assert len(found.outside_s) == 2
    assert found.outside_s[0][0] == 0.0
    assert found.outside_s[1][1] == pytest.approx(0.01)
    assert found.furthest == pytest.approx(10.0)


def test_everything_is_inside_its_own_extremes() -> None:
    """Every repeat and the mean lie in the corridor from the least to the largest value."""
    repeats = repeat_set([pulse(size=size) for size in (90, 100, 115)], Recipe(start_s=0.0, end_s=0.05))
    corridor = range_corridor(repeats)
    for curve in (*repeats.curves, repeats.mean):
        found = inside_corridor(corridor, signal(np.array(curve), start_s=0.0))
        assert found.share == 1.0
        assert found.outside_s == ()
        assert found.furthest == 0.0


def test_a_wider_corridor_never_holds_less() -> None:
    """The share inside grows with the half width."""
    repeats = repeat_set([pulse(size=size) for size in (90, 100, 115)], Recipe(start_s=0.0, end_s=0.05))
    model = signal(pulse(late_s=0.001).samples[200:701], start_s=0.0)
    shares = [inside_corridor(spread_corridor(repeats, times=k), model).share for k in (0.5, 1, 2, 4)]
    assert shares == sorted(shares)
    assert shares[0] < shares[-1]


def test_the_assumptions_are_stated() -> None:
    """Each kind says what it assumes, and that repeats were moved when they were."""
    still = spread_corridor(flat_repeats(1.0, 2.0))
    assert any("normal distribution" in words for words in still.assumptions)
    assert not any("aligned in time" in words for words in still.assumptions)
    moved = repeat_set([pulse(), pulse(late_s=0.001)], Recipe(start_s=0.0, end_s=0.05))
    assert any("aligned in time" in words for words in spread_corridor(moved).assumptions)
    assert any("60%" in words for words in range_corridor(flat_repeats(1, 2, 3, 4)).assumptions)


def test_a_further_repeat_falls_inside_the_extremes_as_often_as_stated() -> None:
    """Of 4,000 draws of a fifth normal value, 60 % lie within the extremes of four others (within 3 %)."""
    random = np.random.default_rng(3)
    draws = random.normal(size=(4000, 5))
    inside = (draws[:, 4] >= draws[:, :4].min(axis=1)) & (draws[:, 4] <= draws[:, :4].max(axis=1))
    assert float(inside.mean()) == pytest.approx(0.6, abs=0.03)


def test_refusals() -> None:
    """A single repeat, a width of zero, a curve on another grid or too short."""
    with pytest.raises(SignalError, match="needs two repeats or more"):
        spread_corridor(flat_repeats(1.0))
    with pytest.raises(SettingsError, match="0 standard deviations"):
        spread_corridor(flat_repeats(1.0, 2.0), times=0)
    corridor = spread_corridor(flat_repeats(1.0, 2.0))
    with pytest.raises(SignalError, match="not on the corridor's grid"):
        inside_corridor(corridor, signal(np.zeros(HUNDRED), start_s=0.3 * STEP_S))
    with pytest.raises(SignalError, match="not on the corridor's grid"):
        inside_corridor(corridor, signal(np.zeros(50), start_s=0.0))


def test_a_corridor_becomes_a_data_frame() -> None:
    """Centre and edges by time, sample by sample."""
    corridor = spread_corridor(flat_repeats(10.0, 15.0, 20.0))
    table = corridor.to_frame()
    assert list(table) == ["centre", "lower", "upper"]
    assert table.index.tolist() == corridor.time_s.tolist()
    assert table["lower"].tolist() == corridor.lower.tolist()
    assert (table["lower"] < table["upper"]).all()


def test_a_prediction_band_is_students() -> None:
    """Half width: quantile of scipy times standard deviation times the root of 1 + 1/n."""
    for values in ([9.0, 10.0, 11.0], [1.0, 2.0, 4.0, 8.0, 16.0]):
        found = prediction_corridor(flat_repeats(*values), level=0.9)
        half = stats.t.ppf(0.95, len(values) - 1) * np.std(values, ddof=1) * np.sqrt(1 + 1 / len(values))
        assert found.upper - found.centre == pytest.approx(half)
        assert found.centre - found.lower == pytest.approx(half)
    with pytest.raises(SettingsError, match=r"the level is 1\.5"):
        prediction_corridor(flat_repeats(1.0, 2.0), level=1.5)
    with pytest.raises(SignalError, match="needs two repeats or more"):
        prediction_corridor(flat_repeats(1.0))


@pytest.mark.parametrize("count", [3, 4, 5, 7, 10])
def test_how_often_a_further_value_lies_within_some_sd(count: int) -> None:
    """The share within 1 and 2 SD agrees with scipy and with 20,000 draws; for 3 repeats 52 % and 77 %."""
    draws = np.random.default_rng(count).normal(size=(20_000, count + 1))
    mean, spread = draws[:, 1:].mean(axis=1), draws[:, 1:].std(axis=1, ddof=1)
    for times in (1.0, 2.0):
        exact = share_within(times, count)
        assert exact == pytest.approx(1 - 2 * stats.t.sf(times / np.sqrt(1 + 1 / count), count - 1))
        assert float((np.abs(draws[:, 0] - mean) <= times * spread).mean()) == pytest.approx(exact, abs=0.012)
    assert [round(share_within(times, 3), 2) for times in (1.0, 2.0)] == [0.52, 0.77]
    words = spread_corridor(flat_repeats(1.0, 2.0, 3.0), times=2.0).assumptions
    assert any("77% of further tests lie inside" in one for one in words)
