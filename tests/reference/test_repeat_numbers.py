"""Repeatability in numbers, against sums by hand."""

from __future__ import annotations

import math
import statistics

import pytest

from correlate import ceiling_of, repeat_numbers, repeat_set
from correlate.conditioning import Recipe
from correlate.reference.repeat_numbers import variation_class
from tests.reference.curves import pulse

SIZES = [98.0, 100.0, 105.0]


def test_peaks_are_described_as_a_textbook_does() -> None:
    """Mean, standard deviation and coefficient of variation of three known peaks, all at 20 ms."""
    repeats = [pulse(size=size) for size in SIZES]
    recipe = Recipe(start_s=0.0, end_s=0.05)
    found = repeat_numbers(repeat_set(repeats, recipe), ceiling_of(repeats, recipe))
    assert [one.peak for one in found.repeats] == pytest.approx(SIZES)
    assert [one.peak_s for one in found.repeats] == pytest.approx([0.02] * 3)
    assert found.peak_mean == pytest.approx(statistics.mean(SIZES))
    assert found.peak_spread == pytest.approx(statistics.stdev(SIZES))
    assert found.peak_variation == pytest.approx(statistics.stdev(SIZES) / statistics.mean(SIZES))
    # Curves of one shape scatter most where they are largest.
    assert (found.largest_spread, found.largest_spread_s) == pytest.approx((statistics.stdev(SIZES), 0.02))


def test_a_negative_peak_keeps_its_sign() -> None:
    """The sign of the peaks is kept; their variation has none."""
    repeats = [pulse(size=-size) for size in SIZES]
    found = repeat_numbers(repeat_set(repeats), ceiling_of(repeats))
    assert found.peak_mean == pytest.approx(-101.0)
    assert found.peak_variation == pytest.approx(statistics.stdev(SIZES) / 101.0)


def test_the_odd_one_out_rates_lowest() -> None:
    """Two alike and one late and small: the third has the lowest rating against the others."""
    repeats = [pulse(), pulse(size=101.0), pulse(size=60.0, late_s=0.004)]
    found = repeat_numbers(repeat_set(repeats, largest_shift_s=0.0), ceiling_of(repeats))
    ratings = [one.rating for one in found.repeats]
    assert min(ratings) == ratings[2]  # type: ignore[type-var]


def test_a_single_repeat_has_no_scatter() -> None:
    """There is a peak, and nothing that would need a second repeat."""
    found = repeat_numbers(repeat_set([pulse()]), ceiling_of([pulse()]))
    assert found.peak_mean == pytest.approx(100.0)
    assert found.peak_spread is found.peak_variation is found.largest_spread is None
    assert found.repeats[0].rating is None


@pytest.mark.parametrize(
    ("variation", "name"),
    [
        (0.0, "excellent"),
        (0.05, "excellent"),
        (0.0501, "good"),
        (0.08, "good"),
        (0.1, "acceptable"),
        (0.11, "poor"),
    ],
)
def test_classes_of_variation(variation: float, name: str) -> None:
    """Bounds belong to the better class."""
    assert variation_class(variation) == name


def test_scatter_over_time_is_given_as_a_share_and_as_a_mean() -> None:
    """Over the peak of the mean curve; root mean square over time of sizes times a known shape."""
    repeats = repeat_set([pulse(size=size) for size in SIZES], Recipe(start_s=0.0, end_s=0.05))
    found = repeat_numbers(repeats, ceiling_of([pulse(size=size) for size in SIZES]))
    spread = statistics.stdev(SIZES)
    assert found.relative_spread == pytest.approx(spread / statistics.mean(SIZES))
    assert found.variation_class == "excellent"
    shape = [math.exp(-(((at * 1e-4 - 0.02) / 0.006) ** 2)) for at in range(501)]
    assert found.mean_spread == pytest.approx(
        spread * math.sqrt(statistics.fmean(one**2 for one in shape)), rel=1e-6
    )
