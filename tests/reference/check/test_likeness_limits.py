"""The best match of two curves, for matches that are known by their making."""

from __future__ import annotations

import math

import numpy as np
import pytest

from correlate.reference.check.repeats import RepeatCurve, RepeatLikeness, curve_of, likeness, squared_error
from tests.reference.check.by_hand import Floats, facts

STEP_S = 1e-3


def bell(*, at_s: float = 0.15, width_s: float = 0.02, size: float = 1.0, count: int = 400) -> Floats:
    """Return a bell on 1 ms."""
    return np.asarray(size * np.exp(-((((STEP_S * np.arange(count)) - at_s) / width_s) ** 2)))


def curve(values: Floats, *, start_s: float = 0.0, step_s: float = STEP_S) -> RepeatCurve:
    """Return a curve."""
    return RepeatCurve(start_s=start_s, step_s=step_s, values=np.asarray(values, dtype=np.float64))


@pytest.mark.parametrize("size", [2.5, -2.5, 0.01])
@pytest.mark.parametrize("late_s", [0.0, 0.007, -0.013])
def test_sign_size_and_shift_are_found(size: float, late_s: float) -> None:
    """A curve that is later, larger and perhaps turned matches fully; the other way round too."""
    there = likeness(curve(bell(at_s=0.15 + late_s, size=size)), curve(bell()))
    back = likeness(curve(bell()), curve(bell(at_s=0.15 + late_s, size=size))).turned_round()
    for found in (there, back):
        assert found.correlation == pytest.approx(1.0, abs=1e-9)
        assert found.sign == np.sign(size)
        assert found.gain == pytest.approx(abs(size), rel=1e-6)
        assert found.shift_s == pytest.approx(late_s, abs=1e-7)
        assert found.stretch == 1.0
        assert found.stretched_correlation == pytest.approx(1.0, abs=1e-9)


def test_a_shift_between_samples() -> None:
    """The vertex of the parabola through the best three lags is within a fiftieth of a step."""
    found = likeness(curve(bell(at_s=0.1523)), curve(bell()))
    assert found.shift_s == pytest.approx(0.0023, abs=2e-5)


def test_a_match_turned_round() -> None:
    """Sizes and stretches become their reciprocals, times change their sign; a size of zero stays."""
    turned = RepeatLikeness(0.9, -1, 4.0, 0.25, 2.0, 0.95).turned_round()
    assert turned == RepeatLikeness(0.9, -1, 0.25, -0.25, 0.5, 0.95)
    assert RepeatLikeness(0.9, 1, 0.0, 0.0, 1.0, 0.9).turned_round().gain == 0.0


@pytest.mark.parametrize("stretch", [0.2, 0.5, 1.25, 2.0, 5.0])
def test_a_stretch_is_found(stretch: float) -> None:
    """To a step of the finer search, a quarter of 1/15 of the logarithm of 6."""
    short = bell(width_s=0.01) - 0.6 * bell(at_s=0.18, width_s=0.006)
    one = curve(short, step_s=STEP_S * stretch)
    found = likeness(one, curve(short))
    fine = math.log(6) / 15 / 4
    assert math.log(found.stretch) == pytest.approx(math.log(stretch), abs=fine)
    assert found.stretched_correlation > 0.99
    assert found.stretched_correlation > found.correlation


@pytest.mark.parametrize(
    ("ratio", "is_sought"), [(1.05, False), (1 / 1.05, False), (1.07, True), (1 / 1.07, True)]
)
def test_durations_that_are_nearly_the_same(ratio: float, *, is_sought: bool) -> None:
    """Below a ratio of 1.06 no stretch is looked for."""
    found = likeness(curve(bell(width_s=0.03 * ratio)), curve(bell(width_s=0.03)))
    assert (found.stretch != 1.0) is is_sought
    if not is_sought:
        assert found.stretched_correlation == found.correlation


def test_a_stretch_must_be_better_than_none() -> None:
    """Where none is, it is 1 at the correlation without it."""
    one = bell(width_s=0.01)
    other = one + 0.2 * bell(at_s=0.35, width_s=0.01)
    found = likeness(curve(one), curve(other))
    assert found.stretch == 1.0
    assert found.stretched_correlation == found.correlation


@pytest.mark.parametrize(
    ("values", "duration"),
    [
        # Two equal samples ten apart: five on either side of their mean.
        ([1.0, *[0.0] * 9, 1.0], 5.0),
        # Squares weigh: 4 and 1, at 0 and 10: mean 2, variance 0.8 · 4 + 0.2 · 64 = 16.
        ([2.0, *[0.0] * 9, -1.0], 4.0),
        ([0.0, 1.0, 0.0], 1.0),
        ([0.0, 0.0], 1.0),
    ],
)
def test_the_duration_of_a_curve(values: list[float], duration: float) -> None:
    """Standard deviation of time, at least one step."""
    assert curve(np.array(values), step_s=0.5).duration_s == pytest.approx(0.5 * duration)


def test_a_curve_at_other_times() -> None:
    """Straight between its points and zero beyond its ends."""
    one = curve(np.array([1.0, 3.0, 2.0]), start_s=1.0, step_s=0.5)
    assert one.end_s == 2.0
    np.testing.assert_allclose(one.at(np.array([0.9, 1.0, 1.25, 1.75, 2.0, 2.1])), [0, 1, 2, 2.5, 2, 0])


@pytest.mark.parametrize(("count", "block"), [(1199, 1), (2399, 1), (2400, 2), (2401, 2), (3600, 3)])
def test_a_channel_is_averaged_down_to_1200_points(count: int, block: int) -> None:
    """Means of whole blocks, at the middle of each, in SI and without the baseline."""
    found = curve_of(facts(np.arange(float(count)), baseline=5.0, unit="km/s", start_s=-0.5, step_s=0.25))
    assert found.values.size == count // block
    assert found.step_s == pytest.approx(0.25 * block)
    assert found.start_s == pytest.approx(-0.5 + 0.125 * (block - 1))
    assert found.values[0] == pytest.approx(1000 * ((block - 1) / 2 - 5))
    assert found.values[-1] == pytest.approx(1000 * (block * (count // block - 1) + (block - 1) / 2 - 5))


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        ([0, 0, 1, 2, 0], [0, 1, 2, 0, 0], 0.0),
        # 4 · 5 + 5 - 2 · 2 · 5 over 5.
        ([0, 2, 4, 0, 0], [0, 1, 2, 0, 0], 1.0),
        # No shift of a turned pulse overlaps better than not at all.
        ([0, -1, 0, 0, 0], [0, 1, 0, 0, 0], 2.0),
        # (1 + 4 - 2 · 2) over 4.
        ([0, 1, 0, 0, 0], [0, 0, 2, 0, 0], 0.25),
    ],
)
def test_the_squared_error_over_all_shifts(one: list[float], other: list[float], expected: float) -> None:
    """Sums of squares less twice the best product, over the squares of the second."""
    assert squared_error(curve(np.array(one)), curve(np.array(other))) == pytest.approx(expected, abs=1e-12)


def test_the_squared_error_against_zero_is_infinite() -> None:
    """There is nothing to compare with; zero against something leaves all of it."""
    nothing, pulse = curve(np.zeros(9)), curve(bell(at_s=0.004, width_s=0.001, count=9))
    assert squared_error(pulse, nothing) == math.inf
    assert squared_error(nothing, pulse) == pytest.approx(1.0)


def test_records_that_share_half_their_time_are_cut_to_it() -> None:
    """A second event that only the longer one holds is no difference; where they share less, it is."""
    first = bell(at_s=0.05, width_s=0.01, count=100)
    for second in (bell(at_s=0.05, width_s=0.01, count=100), np.full(9, 5.0)):
        found = likeness(curve(np.concatenate((first, second))), curve(first))
        assert found.correlation == pytest.approx(1.0)
    # Shared are 49 of 99 steps: the whole of each is compared, and how far apart they start is in the shift.
    late = likeness(curve(first, start_s=0.050), curve(first))
    assert late.correlation == pytest.approx(1.0, abs=1e-6)
    assert late.shift_s == pytest.approx(0.050, abs=1e-6)
    # Shared are 50 of 99: cut to them, the first half of one meets the second half of the other.
    shared = likeness(curve(first, start_s=0.049), curve(first))
    assert shared.correlation < 0.99


@pytest.mark.parametrize(("one", "other", "shift"), [([0, 0, 1], [1, 0, 0], 2), ([1, 0, 0], [0, 0, 1], -2)])
def test_the_farthest_shifts_are_tried(one: list[float], other: list[float], shift: int) -> None:
    """The last sample of one on the first of the other."""
    found = likeness(curve(np.array(one)), curve(np.array(other)))
    assert found.correlation == pytest.approx(1.0)
    assert found.shift_s == pytest.approx(shift * STEP_S)


def test_a_curve_of_zeros_is_like_nothing() -> None:
    """Neither correlation nor size."""
    found = likeness(curve(np.zeros(400)), curve(bell()))
    assert (found.correlation, found.gain, found.stretch) == (0.0, 0.0, 1.0)


@pytest.mark.parametrize("at", range(1200, 1206))
def test_pulses_between_the_points_of_the_coarse_search(at: int) -> None:
    """Of 2399 samples a pulse of 3 has none; a pulse of 9 matches a third of its energy, by √3 / 3."""
    short, longer = np.zeros(2399), np.zeros(2399)
    short[at : at + 3] = longer[1200:1209] = 1.0
    found = likeness(curve(short), curve(longer))
    assert found.correlation == pytest.approx(3**-0.5, abs=1e-9)
    assert found.stretched_correlation >= found.correlation


def test_the_longer_step_is_used() -> None:
    """A curve at twice the step matches itself."""
    found = likeness(curve(bell()[::2], step_s=2 * STEP_S), curve(bell()))
    assert found.correlation == pytest.approx(1.0, abs=1e-6)
    assert found.gain == pytest.approx(1.0, rel=1e-3)
