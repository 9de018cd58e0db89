"""Each limit of the time before the event: too short, off zero, drifting."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.reference.check.baseline import examine_drift, examine_offset, examine_pre_trigger, quiet_slope
from correlate.reference.check.repeats import middle
from tests.reference.check.by_hand import alternating, facts, severities

if TYPE_CHECKING:
    from correlate.reference.check.statistics import ChannelStatistics

QUIET = 100


def level(offset: float, *, peak: float = 100.0, quiet: int = QUIET) -> ChannelStatistics:
    """Return a channel that stands at an offset."""
    return facts(np.full(200, offset), peak=peak, quiet=quiet)


def drifting(
    rise: float, *, peak: float = 100.0, resolution: float = 0.0, quiet: int = QUIET
) -> ChannelStatistics:
    """Return a channel that rises by an amount over the 10 ms of its quiet stretch."""
    return facts(rise * np.arange(200) / QUIET, peak=peak, resolution=resolution, quiet=quiet)


@pytest.mark.parametrize(("quiet", "severity"), [(49, ["warning"]), (50, []), (0, ["warning"])])
def test_five_ms_are_quiet_before_the_event(quiet: int, severity: list[str]) -> None:
    """49 samples of 0.1 ms are too few, 50 are enough."""
    assert severities(examine_pre_trigger(level(0.0, quiet=quiet))) == severity


@pytest.mark.parametrize(
    ("change", "severity"), [(1.99, "warning"), (2.0, "warning"), (2.01, "error"), (-2.01, "error")]
)
def test_an_event_under_way_is_cut(change: float, severity: str) -> None:
    """It changes by more than 2 % of the range within the first millisecond, sample 0 to sample 10."""
    samples = np.zeros(200)
    samples[10] = change
    samples[150] = 100.0 if change > 0 else 100.0 + change
    (finding,) = examine_pre_trigger(facts(samples, start_s=-0.002))
    assert finding.severity == severity
    assert dict(finding.evidence) == {"quiet_s": 0.0, "starts_at_s": -0.002}
    assert (finding.start_s, finding.end_s) == (-0.002, 0.01)


def test_the_millisecond_is_counted_in_samples() -> None:
    """At 0.25 ms it ends at sample 4, and a short quiet stretch is said in ms."""
    samples = np.zeros(200)
    samples[[4, 100]] = 50.0, 100.0
    assert severities(examine_pre_trigger(facts(samples, step_s=2.5e-4))) == ["error"]
    samples[[3, 4, 5]] = 50.0, 0.0, 50.0
    (finding,) = examine_pre_trigger(facts(samples, step_s=2.5e-4, quiet=10))
    assert finding.severity == "warning"
    assert "only 2.5 ms are quiet" in finding.what
    assert "with 5 ms or more" in finding.remedy


def test_a_dead_channel_has_no_time_before_the_event() -> None:
    """Without a peak there is no event, no offset and no drift."""
    dead = facts(10.0 + np.arange(200), peak=0.0, quiet=40)
    assert severities(examine_pre_trigger(dead)) == []
    assert severities(examine_offset(dead, [])) == []
    assert severities(examine_drift(dead, [])) == []


@pytest.mark.parametrize(
    ("offset", "peak", "severity"),
    [
        (4.9, 100.0, []),
        (5.0, 100.0, []),
        (5.1, 100.0, ["warning"]),
        (-5.1, 100.0, ["warning"]),
        (-5.1, -100.0, ["warning"]),
        (4.9, -100.0, []),
        (60.0, 100.0, ["warning"]),
    ],
)
def test_an_offset_over_a_twentieth_of_the_peak(offset: float, peak: float, severity: list[str]) -> None:
    """A warning, however large it is, when no other repeat tells what is usual."""
    assert severities(examine_offset(level(offset, peak=peak), [])) == severity


@pytest.mark.parametrize(("offset", "severity"), [(7.9, ["warning"]), (8.0, ["warning"]), (8.1, ["error"])])
def test_a_large_offset_that_two_others_do_not_show(offset: float, severity: list[str]) -> None:
    """Over 8 % of the peak it is an error; one other repeat is not enough for that."""
    others = [level(0.0), level(0.0)]
    assert severities(examine_offset(level(offset), others)) == severity
    assert severities(examine_offset(level(offset), others[:1])) == ["warning"]


@pytest.mark.parametrize(("offset", "severity"), [(24.9, []), (25.1, ["warning"]), (28.1, ["error"])])
def test_what_all_repeats_show_is_usual(offset: float, severity: list[str]) -> None:
    """Others stand at 20 % of their peaks, one of them turned and doubled; that is taken off."""
    others = [level(20.0), level(-40.0, peak=-200.0)]
    assert severities(examine_offset(level(offset), others)) == severity


def test_one_other_repeat_does_not_tell_what_is_usual() -> None:
    """With a single other at 20 %, 20 % is still an offset; others dead or not quiet do not count."""
    assert severities(examine_offset(level(20.0), [level(20.0)])) == ["warning"]
    assert severities(examine_offset(level(20.0), [level(20.0), level(20.0, quiet=19)])) == ["warning"]
    assert severities(examine_offset(level(20.0), [level(20.0), level(20.0, peak=0.0)])) == ["warning"]
    assert severities(examine_offset(level(20.0), [level(20.0), level(20.0, quiet=20)])) == []


def test_an_offset_needs_a_quiet_stretch() -> None:
    """Twenty samples are one, 19 are none."""
    assert severities(examine_offset(level(10.0, quiet=20), [])) == ["warning"]
    assert severities(examine_offset(level(10.0, quiet=19), [])) == []


def test_the_finding_of_an_offset() -> None:
    """Mean of the quiet stretch, its share of the peak against that of the others, and the window to use."""
    samples = np.concatenate((alternating(100, 1.0, about=30.0), np.full(100, 80.0)))
    found = facts(samples, quiet=100, start_s=-0.01, noise=1.5)
    (finding,) = examine_offset(found, [level(5.0), level(5.0)])
    assert (finding.kind, finding.severity) == ("offset", "error")
    assert dict(finding.evidence) == {"offset": 30.0, "share_of_peak": 0.25, "noise": 1.5}
    assert "is 30 g, 25.0% of the peak away from the 5.0% of the other repeats" in finding.what
    assert (finding.start_s, finding.end_s) == pytest.approx((-0.01, -0.0001))
    assert finding.repair is not None
    assert finding.repair.name == "remove offset"
    assert dict(finding.repair.settings) == pytest.approx({"start_s": -0.01, "end_s": -0.0001})


@pytest.mark.parametrize(
    ("rise", "peak", "severity"),
    [
        (0.99, 100.0, []),
        (1.01, 100.0, ["warning"]),
        (-1.01, 100.0, ["warning"]),
        (1.01, -100.0, ["warning"]),
        (0.99, -100.0, []),
    ],
)
def test_a_drift_over_a_hundredth_of_the_peak(rise: float, peak: float, severity: list[str]) -> None:
    """Over the quiet stretch, when there is nothing to compare with."""
    assert severities(examine_drift(drifting(rise, peak=peak), [])) == severity
    assert severities(examine_drift(drifting(rise, peak=peak), [drifting(0.0)])) == severity


@pytest.mark.parametrize(("rise", "severity"), [(0.49, []), (0.51, ["error"])])
def test_a_smaller_drift_that_two_others_do_not_show(rise: float, severity: list[str]) -> None:
    """Over half a hundredth it is an error."""
    assert severities(examine_drift(drifting(rise), [drifting(0.0), drifting(0.0)])) == severity


@pytest.mark.parametrize(("rise", "severity"), [(2.49, []), (2.51, ["error"]), (1.49, ["error"])])
def test_a_drift_that_all_repeats_show_is_usual(rise: float, severity: list[str]) -> None:
    """The others drift by 2 % of their peaks, one of them turned and doubled."""
    others = [drifting(2.0), drifting(-4.0, peak=-200.0)]
    assert severities(examine_drift(drifting(rise), others)) == severity


@pytest.mark.parametrize(("resolution", "severity"), [(0.90, ["warning"]), (0.93, [])])
def test_a_drift_is_eight_times_its_standard_error(resolution: float, severity: list[str]) -> None:
    """2 in 10 ms are 200 a second; the error of a straight line is a quarter of a count times 109.55.

    Ten samples a millisecond count as one: 109.55 is the root of ten over the sum of the squared times,
    1e-8 · 100 · 9999 / 12. Eight times that equals 200 at counts of 0.913.
    """
    assert severities(examine_drift(drifting(2.0, resolution=resolution), [])) == severity


def test_the_standard_error_is_held_against_the_difference_to_the_others() -> None:
    """260 a second among 200 elsewhere are 60 more; counts of 0.3 allow 65.7, counts of 0.25 allow 54.8."""
    others = [drifting(2.0), drifting(2.0)]
    assert severities(examine_drift(drifting(2.6, resolution=0.30), others)) == []
    assert severities(examine_drift(drifting(2.6, resolution=0.25), others)) == ["error"]


def test_slope_and_error_are_those_of_the_line() -> None:
    """A line of 300 a second with a deviation that is orthogonal to it: closed forms."""
    pattern = np.tile([1.0, -1.0, -1.0, 1.0], 10)
    time = 1e-4 * np.arange(40)
    found = facts(300 * time + pattern, quiet=40)
    slope, error = quiet_slope(found)
    total = 1e-8 * 40 * (40**2 - 1) / 12
    assert slope == pytest.approx(300, rel=1e-9)
    assert error == pytest.approx((10 / total) ** 0.5, rel=1e-9)


def test_samples_slower_than_a_millisecond_count_one_by_one() -> None:
    """At 2 ms the error is that of independent samples."""
    pattern = np.tile([1.0, -1.0, -1.0, 1.0], 10)
    _, error = quiet_slope(facts(pattern, quiet=40, step_s=2e-3))
    assert error == pytest.approx((4e-6 * 40 * (40**2 - 1) / 12) ** -0.5, rel=1e-9)


def test_the_finding_of_a_drift() -> None:
    """Slope here and elsewhere, error, share, and the line that is to be removed."""
    found = drifting(3.0, resolution=0.1)
    (finding,) = examine_drift(found, [drifting(1.0), drifting(1.0)])
    assert (finding.kind, finding.severity) == ("drift", "error")
    assert dict(finding.evidence) == pytest.approx(
        {
            "slope_per_s": 300.0,
            "slope_elsewhere_per_s": 100.0,
            "standard_error_per_s": 0.025 * (10 / 8.3325e-4) ** 0.5,
            "share_of_peak": 0.02,
        },
        rel=1e-6,
    )
    assert "drifts by 2 g before the event more than in the other repeats, 2.0% of the peak" in finding.what
    assert (finding.start_s, finding.end_s) == pytest.approx((0.0, 0.0099))
    assert finding.repair is not None
    assert dict(finding.repair.settings) == pytest.approx(
        {"start_s": 0.0, "end_s": 0.0099, "slope_kept_per_s": 100.0}, rel=1e-6
    )


@pytest.mark.parametrize(
    ("values", "favoured", "expected"),
    [
        ([3.0], 9.0, 3.0),
        ([1.0, 5.0], 3.0, 3.0),
        ([5.0, 1.0], 0.0, 1.0),
        ([1.0, 5.0], 9.0, 5.0),
        ([9.0, 1.0, 4.0], 0.0, 4.0),
        ([9.0, 1.0, 4.0, 6.0], 5.0, 5.0),
        ([9.0, 1.0, 4.0, 6.0], 7.0, 6.0),
    ],
)
def test_the_middle_favours_the_repeat_that_is_judged(
    values: list[float], favoured: float, expected: float
) -> None:
    """The median; between two middle values the one nearest to what is favoured."""
    assert middle(values, favoured=favoured) == expected
