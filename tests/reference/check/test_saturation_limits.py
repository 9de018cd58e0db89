"""Each limit of the search for flat tops, and of the runs of equal samples it stands on."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.reference.check.samples import examine_saturation
from correlate.reference.check.statistics import chance_length, corner_sharpness, runs_of
from tests.reference.check.by_hand import Floats, alternating, facts, severities

if TYPE_CHECKING:
    from correlate.reference.finding import Finding

GRID = 200


def plateau(level: float, *, count: int = 6, slope: float = 20.0) -> Floats:
    """Return straight flanks and equal samples between them, from sample 100 on; zero elsewhere."""
    index = np.arange(GRID)
    beside = np.maximum(np.maximum(100 - index, index - (100 + count - 1)), 0)
    return np.asarray(np.sign(level) * np.maximum(abs(level) - slope * beside, 0.0))


def found(samples: Floats, *, resolution: float = 0.0, full_scale: float = 0.0) -> list[Finding]:
    """Look for flat tops in a channel with a peak of 100."""
    return list(examine_saturation(facts(samples, resolution=resolution, full_scale=full_scale)))


@pytest.mark.parametrize(
    ("level", "severity"),
    [(29.9, []), (30.0, ["error"]), (100.0, ["error"]), (-29.9, []), (-30.0, ["error"])],
)
def test_an_extreme_near_the_baseline_is_not_examined(level: float, severity: list[str]) -> None:
    """It must be 30 % of the peak away from the baseline, above or below."""
    assert severities(found(plateau(level))) == severity


@pytest.mark.parametrize(("count", "severity"), [(3, []), (4, ["error"])])
def test_a_flat_top_has_four_samples(count: int, severity: list[str]) -> None:
    """Three equal samples are none."""
    assert severities(found(plateau(90.0, count=count))) == severity


@pytest.mark.parametrize(("slope", "severity"), [(3.9, []), (4.0, []), (4.1, ["error"])])
def test_a_corner_is_six_times_as_sharp_as_a_round_top(slope: float, severity: list[str]) -> None:
    """Six samples and counts of 1: a round top has a slope of 4/6, six times as much is 4."""
    assert severities(found(plateau(90.0, slope=slope), resolution=1.0)) == severity


@pytest.mark.parametrize(
    ("level", "severity"), [(99.4, []), (99.5, ["error"]), (-99.4, []), (-99.5, ["error"])]
)
def test_a_round_top_at_full_scale_is_saturated(level: float, severity: list[str]) -> None:
    """From 99.5 % of a full scale of 100 on, corners do not matter."""
    assert severities(found(plateau(level, slope=2.0), resolution=1.0, full_scale=100.0)) == severity


@pytest.mark.parametrize(("slope", "severity"), [(5.9, []), (6.1, ["error"])])
def test_noise_makes_a_corner_less_sharp(slope: float, severity: list[str]) -> None:
    """Four equal samples and a noise of 1: a slope over 6 a sample, whatever the counts are."""
    channel = facts(plateau(90.0, count=4, slope=slope), noise=1.0, resolution=0.1)
    assert severities(examine_saturation(channel)) == severity


@pytest.mark.parametrize(("third", "severity"), [(89.5, ["error"]), (89.4, [])])
def test_samples_within_half_a_count_are_equal(third: float, severity: list[str]) -> None:
    """Three samples at 90 and one half a count below them are a flat top, one further below is not."""
    samples = plateau(90.0, count=4)
    samples[101] = third
    assert severities(found(samples, resolution=1.0)) == severity


@pytest.mark.parametrize(("count", "severity"), [(5, []), (6, ["error"])])
def test_a_run_that_chance_does_not_make_is_saturated(count: int, severity: list[str]) -> None:
    """Of 200 samples whose first 100 never repeat, chance makes 1 + ln(5e-9)/ln(1/101) = 5.14 at most."""
    samples = plateau(90.0, count=count, slope=1.0)
    samples[:100] += alternating(100, 0.05)
    channel = facts(samples, resolution=1.0, noise=0.05, quiet=100)
    assert severities(examine_saturation(channel)) == severity


def test_a_dead_channel_is_not_saturated() -> None:
    """Without a peak every sample is an extreme."""
    assert list(examine_saturation(facts(plateau(90.0), peak=0.0))) == []


def test_the_finding_says_where_and_how_many() -> None:
    """Two tops at 90 with a dip between: first to last time, samples of both; the largest value."""
    samples = plateau(90.0)
    samples[106:112] = 60.0
    samples[112:116] = 90.0
    (finding,) = found(samples, full_scale=95.0)
    assert (finding.kind, finding.severity) == ("saturation", "error")
    assert dict(finding.evidence) == {"level": 90.0, "samples": 10, "full_scale": 95.0}
    assert (finding.start_s, finding.end_s) == pytest.approx((0.01, 0.0115))
    assert "10 samples are at the largest value, 90 g, in 2 flat tops" in finding.what


def test_the_smallest_value_is_named_so() -> None:
    """A top below the baseline stands at the smallest value, in one flat top; no full scale is given."""
    (finding,) = found(plateau(-90.0))
    assert "6 samples are at the smallest value, -90 g, in 1 flat top" in finding.what
    assert finding.evidence["full_scale"] == "not given"


def test_runs_at_both_ends_are_found() -> None:
    """The first index and the one behind the last, also where a run touches an end."""
    flags = np.array([True, True, False, True, False, True])
    assert runs_of(flags) == [(0, 2), (3, 4), (5, 6)]
    assert runs_of(np.zeros(3, dtype=bool)) == []


@pytest.mark.parametrize(("equal", "shares"), [(0, 1 / 101), (9, 10 / 101), (69, 70 / 101)])
def test_the_longest_run_of_chance_is_the_closed_form(equal: int, shares: float) -> None:
    """1 + ln(1e-6/n)/ln q of n samples, where q counts one equal sample more than the quiet stretch has."""
    samples = np.arange(400.0)
    samples[: equal + 1] = 0.0
    expected = 1 + math.log(1e-6 / 400) / math.log(shares)
    assert chance_length(facts(samples, quiet=100)) == pytest.approx(expected, rel=1e-12)


def test_chance_explains_everything_where_nothing_moves() -> None:
    """More than seven in ten equal samples, or fewer than 20 quiet ones, tell nothing."""
    samples = np.arange(400.0)
    samples[:71] = 0.0
    assert chance_length(facts(samples, quiet=100)) == math.inf
    assert chance_length(facts(np.arange(400.0), quiet=19)) == math.inf
    assert chance_length(facts(np.arange(400.0), quiet=20)) < 10


def test_three_equal_samples_are_never_too_many_for_chance() -> None:
    """In a long quiet stretch without equal samples the bound stays at three."""
    # Without that it would be 1 + ln(4e12)/ln(4e6) = 2.91.
    assert chance_length(facts(np.arange(4e6), quiet=4 * 10**6)) == 3.0


@pytest.mark.parametrize(
    ("samples", "run", "expected"),
    [
        # Four samples reach over two: slopes of 5 before and 3 behind, the round top of one count has 1.
        ([0, 5, 10, 10, 10, 10, 7, 4], (2, 6), 3.0),
        ([0, 3, 6, 6, 6, 6, 1, -4], (2, 6), 3.0),
        # Three samples reach over two as well, and the round top has 4/3.
        ([0, 4, 8, 8, 8, 4, 0], (2, 5), 3.0),
        # Six samples reach over three, and the round top has 2/3.
        ([0, 1, 5, 6, 6, 6, 6, 6, 6, 5, 1, 0], (3, 9), 3.0),
        # The reach would begin before the first sample, or end behind the last.
        ([5, 10, 10, 10, 10, 7, 4], (1, 5), 0.0),
        ([0, 5, 10, 10, 10, 10, 7], (2, 6), 0.0),
    ],
)
def test_the_sharpness_of_corners(samples: list[float], run: tuple[int, int], expected: float) -> None:
    """The smaller slope beside a run over that of a round top, 4 counts over the length of the run."""
    assert corner_sharpness(np.array(samples, dtype=np.float64), run, 1.0) == pytest.approx(expected)


def test_corners_without_a_grain_are_not_sharp() -> None:
    """A count size of zero gives no scale."""
    samples = np.array([0.0, 0, 0, 5, 10, 10, 10, 10, 7, 4, 1, 1])
    assert corner_sharpness(samples, (4, 8), 0.0) == 0.0
    assert corner_sharpness(samples, (4, 8), 2.0) == pytest.approx(1.5)
