"""Measures over repeats: the confidence interval, the area between distributions, and their grid."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import wasserstein_distance

from correlate import Recipe, Signal
from correlate.errors import SettingsError, SignalError
from correlate.metrics.area import area, area_between
from correlate.metrics.confidence_interval import confidence_interval
from correlate.metrics.repeats import AlignedRepeats, align_repeats
from tests.metrics.curves import grid, pair_of, pulse
from tests.oracles import measures_literal as literal

STUDENT = tomllib.loads(
    (Path(__file__).parent.parent / "published" / "measures" / "student.toml").read_text(encoding="utf-8")
)["quantile"]
VALUES = st.lists(st.floats(-100, 100).map(lambda value: round(value, 3)), min_size=1, max_size=8)
BASE = pulse(300, start=50, length=200, height=40.0)


def repeats_of(factors: list[float], candidate: float) -> AlignedRepeats:
    """Return scaled copies of one pulse as repeats and one as the model."""
    return AlignedRepeats(
        time=grid(300), references=[factor * BASE for factor in factors], candidates=[candidate * BASE]
    )


@pytest.mark.parametrize("quantile", STUDENT, ids=str)
def test_half_width_holds_the_tabled_quantile(quantile: dict[str, Any]) -> None:
    """With one repeat e above, one e below and the rest at the mean, h = t · e · sqrt(2/(k-1)/k) · |mean|."""
    count, spread = quantile["repeats"], 0.03
    factors = [1 - spread, 1 + spread, *[1.0] * (count - 2)]
    found = confidence_interval(repeats_of(factors, 1.1), confidence=quantile["confidence"])
    expected = quantile["value"] * spread * math.sqrt(2 / (count - 1) / count)
    assert found.average_half_width == pytest.approx(expected, rel=4e-4)
    assert found.average_error == pytest.approx(0.1, abs=1e-12)
    assert found.repeats == count


def test_share_inside_tells_whether_the_error_drowns_in_the_scatter() -> None:
    """A model within the interval everywhere has a share of 1, one far outside only where all is zero."""
    factors = [0.9, 1.0, 1.1]
    assert confidence_interval(repeats_of(factors, 1.05)).share_inside == 1.0
    far = confidence_interval(repeats_of(factors, 1.5))
    assert far.share_inside == pytest.approx(np.mean(BASE == 0.0))
    assert far.error.max() == pytest.approx(0.5 * BASE.max())


def test_two_repeats_or_a_senseless_confidence_are_refused() -> None:
    """Two repeats give no interval; a confidence of 90 is no share; a mean of zero is no yardstick."""
    with pytest.raises(SignalError, match=r"2 repeat\(s\) of the test are too few"):
        confidence_interval(repeats_of([0.9, 1.1], 1.0))
    with pytest.raises(SettingsError, match="confidence is 90"):
        confidence_interval(repeats_of([0.9, 1.0, 1.1], 1.0), confidence=90)
    with pytest.raises(SignalError, match="mean of the repeats is zero"):
        confidence_interval(repeats_of([-1.0, 0.0, 1.0], 1.0))


@given(references=VALUES, candidates=VALUES)
def test_area_equals_a_general_library_and_a_literal_integral(
    references: list[float], candidates: list[float]
) -> None:
    """The area between two distributions is the first Wasserstein distance of scipy."""
    found = area_between(references, candidates)
    assert found == pytest.approx(wasserstein_distance(references, candidates), abs=1e-9)
    assert found == pytest.approx(literal.area_between(references, candidates), abs=1e-9)


@given(references=VALUES, shift=st.floats(-50, 50))
def test_a_shifted_distribution_is_its_shift_away(references: list[float], shift: float) -> None:
    """Moving every value by d gives an area of |d|; equal distributions give 0."""
    assert area_between(references, [value + shift for value in references]) == pytest.approx(
        abs(shift), abs=1e-9
    )
    assert area_between(references, references[::-1]) == pytest.approx(0.0, abs=1e-12)


def test_area_over_time_of_one_repeat_is_the_mean_absolute_error() -> None:
    """A pair has the area Σ|c − r| / Σ|r|."""
    pair = pair_of(BASE, 1.25 * BASE)
    found = area(AlignedRepeats.of_pair(pair))
    assert found.area == pytest.approx(0.25, abs=1e-12)
    assert found.course == pytest.approx(0.25 * BASE, abs=1e-12)


def test_area_over_time_is_the_area_at_each_instant() -> None:
    """Every instant agrees with the area of the values at that instant."""
    random = np.random.default_rng(5)
    references, candidates = random.standard_normal((4, 30)), random.standard_normal((3, 30))
    repeats = AlignedRepeats(time=grid(30), references=list(references), candidates=list(candidates))
    expected = [wasserstein_distance(references[:, i], candidates[:, i]) for i in range(30)]
    assert area(repeats).course == pytest.approx(expected, abs=1e-12)


def test_values_that_are_none_or_not_finite_are_refused() -> None:
    """No value, and a value that is not finite, are named."""
    with pytest.raises(SignalError, match=r"references have shape \(0,\)"):
        area_between([], [1.0])
    with pytest.raises(SignalError, match="'candidates': sample 2 is nan"):
        area_between([1.0], [1.0, math.nan])


def signal(start_s: float, *, samples: int = 400, step_s: float = 1e-4, factor: float = 1.0) -> Signal:
    """Return a straight line through time zero, so that every sample tells its time."""
    time = start_s + step_s * np.arange(samples)
    return Signal(samples=factor * time, start_s=start_s, step_s=step_s, unit="g", channel="head ax")


def test_repeats_come_onto_the_time_that_all_share() -> None:
    """Different starts, ends and steps end up on one grid, each value at its own time."""
    found = align_repeats(
        [signal(0.0), signal(0.0051), signal(0.0, samples=1000, step_s=5e-5)], [signal(0.002, factor=2.0)]
    )
    assert found.time[0] == pytest.approx(0.0051)
    assert found.time[-1] == pytest.approx(0.0399)
    assert found.references == pytest.approx(np.tile(found.time, (3, 1)), abs=1e-9)
    assert found.candidates == pytest.approx(2.0 * found.time[np.newaxis], abs=1e-9)


def test_repeats_follow_the_recipe_and_are_frozen() -> None:
    """The interval of the recipe holds, and nobody can write into the table."""
    found = align_repeats([signal(0.0), signal(0.0)], [signal(0.0)], Recipe(start_s=0.01, end_s=0.02))
    assert found.references.shape == (2, 101)
    with pytest.raises(ValueError, match="read-only"):
        found.references[0, 0] = 1.0


def test_each_run_keeps_its_own_curve() -> None:
    """Two runs against three repeats stay two different runs, in order."""
    runs = [signal(0.0, factor=2.0), signal(0.0, factor=3.0)]
    found = align_repeats([signal(0.0)] * 3, runs)
    assert found.references.shape == (3, 400)
    assert found.candidates == pytest.approx(np.outer([2.0, 3.0], found.time), abs=1e-12)


def test_no_repeat_and_unequal_lengths_are_refused() -> None:
    """A table needs a repeat and a run of one length."""
    with pytest.raises(SignalError, match="there are 0 repeats and 1 runs"):
        AlignedRepeats(time=grid(3), references=[], candidates=[[0, 1, 2]])
    with pytest.raises(SignalError, match="0 repeats"):
        align_repeats([], [signal(0.0)])
    with pytest.raises(SignalError, match="reference 4"):
        AlignedRepeats(time=grid(3), references=[[0, 1, 2], [0, 1, 2, 3]], candidates=[[0, 1, 2]])
