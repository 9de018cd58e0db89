"""Bands for whole curves, and repeats that are unlike the others."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from correlate.errors import SettingsError, SignalError
from correlate.reference.corridor import prediction_corridor
from correlate.reference.repeats import RepeatSet, repeat_set
from correlate.reference.whole_curve import WHOLE, least_scatter, unlike_repeats, whole_curve_corridor
from tests.benchmarks.corridors import called_unlike, coverage
from tests.oracles.unlike_repeat import dimensions, distance_ratio
from tests.reference.curves import signal

TIME = np.linspace(0, 1, 60)


def still(*curves: np.ndarray) -> RepeatSet:
    """Return repeats where they are."""
    return repeat_set([signal(curve, start_s=0.0) for curve in curves], largest_shift_s=0.0)


def of_sizes(*sizes: float) -> RepeatSet:
    """Return repeats that differ in size alone."""
    return still(*(size * np.sin(np.pi * TIME) for size in sizes))


def random_repeats(count: int, seed: int = 3) -> RepeatSet:
    """Return repeats that scatter in size, in shape, and by noise."""
    random = np.random.default_rng(seed)
    shapes = np.stack([np.sin(np.pi * TIME), np.sin(2 * np.pi * TIME)])
    scatter = random.standard_normal((count, 2)) * (0.1, 0.04)
    return still(*(shapes[0] + scatter @ shapes + 0.01 * random.standard_normal((count, TIME.size))))


def test_the_band_is_a_student_interval_times_one_factor() -> None:
    """Where the scatter is largest, the half width is that at one instant times the factor."""
    repeats = of_sizes(0.9, 1.0, 1.15, 1.0)
    whole, instant = whole_curve_corridor(repeats), prediction_corridor(repeats)
    place = int(repeats.standard_deviation.argmax())
    assert whole.upper[place] - whole.centre[place] == pytest.approx(
        WHOLE * (instant.upper[place] - instant.centre[place])
    )
    expected = stats.t.ppf(0.975, 3) * np.std([0.9, 1.0, 1.15, 1.0], ddof=1) * np.sqrt(1.25)
    assert instant.upper[place] - instant.centre[place] == pytest.approx(expected, rel=1e-3)


def test_a_quiet_part_has_the_width_of_the_mean_square() -> None:
    """Where the repeats meet by chance, the band stays as wide as their scatter over all time."""
    repeats = of_sizes(0.9, 1.0, 1.1)
    expected = 0.1 * np.sqrt((np.sin(np.pi * TIME) ** 2).mean())
    assert least_scatter(repeats.curves)[0] == pytest.approx(expected)


@pytest.mark.parametrize(("shape", "least"), [("push", 0.95), ("oscillation", 0.93), ("two peaks", 0.93)])
@pytest.mark.parametrize("count", [3, 5])
def test_a_further_curve_lies_inside_as_often_as_stated(shape: str, least: float, count: int) -> None:
    """Of 400 further curves at least 95 % lie inside at all instants, less two standard errors."""
    found = coverage(shape, "normal", count, sets=400, seed=77)
    assert found.whole >= least
    assert found.prediction == pytest.approx(0.95, abs=0.025)
    assert found.one_sd == pytest.approx(2 * stats.t.cdf(1 / np.sqrt(1 + 1 / count), count - 1) - 1, abs=0.03)
    assert found.prediction_whole < 0.2


def test_a_repeat_against_the_others_by_hand() -> None:
    """Ratio and p-value agree with sums by hand, and with an F distribution of scipy."""
    repeats = random_repeats(5)
    plain = repeats.curves.tolist()
    found = unlike_repeats(repeats)
    assert found is not None
    many = dimensions(plain)
    for place, (distance, p) in enumerate(zip(found.distances, found.p_values, strict=True)):
        ratio = distance_ratio(plain, place)
        assert distance == pytest.approx(np.sqrt(ratio))
        assert p == pytest.approx(min(1.0, 5 * stats.f.sf(ratio, many, 3 * many)))


def test_in_one_dimension_it_is_the_t_test_of_one_value() -> None:
    """Repeats that differ by a factor: the p-values are those of Student's test of each size."""
    sizes = [0.98, 1.0, 1.03, 1.2]
    found = unlike_repeats(of_sizes(*sizes))
    assert found is not None
    others = np.array(sizes[:3])
    t = (1.2 - others.mean()) / (others.std(ddof=1) * np.sqrt(1 + 1 / 3))
    assert found.p_values[3] == pytest.approx(4 * 2 * stats.t.sf(t, 2))


def test_one_unlike_repeat_is_found() -> None:
    """One that is much larger is named, and no other."""
    found = unlike_repeats(of_sizes(0.98, 1.0, 1.02, 1.01, 0.99, 1.5))
    assert found is not None
    assert found.unlike() == (5,)
    assert found.unlike(1 - 1e-12) == ()


@given(scale=st.floats(1e-3, 1e3), order=st.permutations(range(5)), mirror=st.sampled_from([1, -1]))
def test_units_order_and_sign_do_not_matter(scale: float, order: list[int], mirror: int) -> None:
    """Scaled, mirrored and permuted repeats have permuted p-values."""
    base = random_repeats(5)
    first = unlike_repeats(base)
    second = unlike_repeats(still(*(mirror * scale * base.curves[place] for place in order)))
    assert first is not None
    assert second is not None
    assert second.p_values == pytest.approx([first.p_values[place] for place in order], rel=1e-6, abs=1e-12)


@pytest.mark.parametrize("shape", ["push", "two peaks"])
def test_false_alarms_are_rare(shape: str) -> None:
    """In 300 sets of seven repeats of one kind, 5 % or fewer raise an alarm, plus two standard errors."""
    assert called_unlike(shape, "normal", 7, sets=300) <= 0.075


def test_few_or_equal_repeats_are_not_tested() -> None:
    """Two repeats, and repeats without scatter, tell nothing."""
    assert unlike_repeats(of_sizes(1.0, 1.1)) is None
    assert unlike_repeats(of_sizes(1.0, 1.0, 1.0)) is None


def test_an_exact_copy_among_repeats_does_not_divide_by_zero() -> None:
    """All others equal: the p-value of the one that differs is tiny, not undefined."""
    found = unlike_repeats(of_sizes(1.0, 1.0, 1.0, 1.2))
    assert found is not None
    assert found.unlike() == (3,)


def test_refusals() -> None:
    """Two repeats, and a level that is no probability."""
    with pytest.raises(SignalError, match="needs 3 repeats or more, this channel has 2"):
        whole_curve_corridor(of_sizes(1.0, 1.1))
    with pytest.raises(SettingsError, match=r"the level is 95"):
        whole_curve_corridor(of_sizes(1.0, 1.1, 1.2), level=95)
