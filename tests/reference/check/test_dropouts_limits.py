"""Each limit of the search for lost stretches: just below it nothing is found, just above it something is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.reference.check.samples import examine_dropouts
from tests.reference.check.by_hand import Floats, alternating, facts, severities

if TYPE_CHECKING:
    from correlate.reference.finding import Finding

COUNT = 1000
START = 300


def found(
    samples: Floats, *, noise: float = 0.0, resolution: float = 0.0, baseline: float = 0.0, quiet: int = 0
) -> list[Finding]:
    """Look for lost stretches in a channel with a peak of 100."""
    channel = facts(samples, noise=noise, resolution=resolution, baseline=baseline, quiet=quiet)
    return list(examine_dropouts(channel))


def held(count: int, *, jump: float = 30.0, leave: float = 5.0) -> Floats:
    """Return a slope on which a value is held after a jump; the slope after it is `leave` a sample."""
    index = np.arange(400.0)
    samples = 0.1 * index
    samples[200 : 200 + count] = samples[199] + jump
    behind = index[200 + count :] - (200 + count - 1)
    samples[200 + count :] = (
        samples[200] + np.minimum(leave * behind, 50.0) + 0.1 * np.maximum(behind - 20, 0)
    )
    return samples


def fallen(
    count: int, *, level: float = 50.0, ripple: float = 0.1, rest: float = 0.0, jitter: float = 0.2
) -> Floats:
    """Return a level with a ripple, and from sample 300 on a stretch beside zero; neighbours differ."""
    samples = alternating(COUNT, ripple, about=level)
    samples[START : START + count] = alternating(count, jitter, about=rest)
    return samples


@pytest.mark.parametrize(("count", "severity"), [(3, []), (4, ["error"])])
def test_four_equal_samples_behind_a_jump_are_held(count: int, severity: list[str]) -> None:
    """Three are too few."""
    assert severities(found(held(count))) == severity


@pytest.mark.parametrize(("jump", "severity"), [(4.9, []), (5.1, ["error"])])
def test_a_jump_has_a_twentieth_of_the_peak(jump: float, severity: list[str]) -> None:
    """A smaller one is no jump."""
    assert severities(found(held(4, jump=jump, leave=4.0))) == severity


@pytest.mark.parametrize(("jump", "severity"), [(19.9, []), (20.1, ["error"])])
def test_a_jump_has_ten_times_the_noise(jump: float, severity: list[str]) -> None:
    """With a noise of 2 it must be larger than 20."""
    assert severities(found(held(4, jump=jump), noise=2.0)) == severity


@pytest.mark.parametrize(("jump", "severity"), [(7.9, []), (8.1, ["error"])])
def test_a_jump_has_four_counts(jump: float, severity: list[str]) -> None:
    """With counts of 2 it must be larger than 8; the corners are sharp enough."""
    samples = held(4, jump=jump)
    samples[198] -= 40.0
    samples[205:] += 40.0
    assert severities(found(samples, resolution=2.0)) == severity


@pytest.mark.parametrize(("leave", "severity"), [(5.9, []), (6.0, []), (6.1, ["error"])])
def test_both_corners_of_a_held_value_are_sharp(leave: float, severity: list[str]) -> None:
    """Four samples and counts of 1: a slope over 6 a sample on the side without the jump."""
    assert severities(found(held(4, leave=leave), resolution=1.0)) == severity


@pytest.mark.parametrize(("count", "severity"), [(5, []), (6, ["error"])])
def test_a_run_that_chance_does_not_make_is_lost(count: int, severity: list[str]) -> None:
    """Without a jump a run is too long from six samples on: 1 + ln(1e-6/400)/ln(1/101) is 5.29."""
    samples = 0.1 * np.arange(400.0)
    samples[200 : 200 + count] = samples[200]
    assert severities(found(samples, quiet=100)) == severity


@pytest.mark.parametrize(("curvature", "severity"), [(0.4, []), (40.0, ["error"])])
def test_the_printed_digits_of_a_round_top(curvature: float, severity: list[str]) -> None:
    """A parabola printed in whole numbers stays on its top for a while; a plateau with corners is lost."""
    place = np.arange(400.0) - 200
    samples = np.rint(500 - curvature * np.clip(np.abs(place) - (5 if severity else 0), 0, None) ** 2 / 20)
    samples[:50] = 0.01 * np.arange(50)
    samples[350:] = 600.0 + np.arange(50)
    assert severities(found(samples, quiet=40)) == severity


@pytest.mark.parametrize(("repeated", "severity"), [(1, ["error"]), (2, [])])
def test_a_slow_curve_repeats_its_printed_values(repeated: int, severity: list[str]) -> None:
    """Where every second sample beside a run equals the one before, fourteen are not many."""
    samples = 0.01 * np.repeat(np.arange(400.0), repeated)[:400]
    samples[200:214] = samples[200]
    samples[:100] = 1e-4 * np.arange(100)
    assert severities(found(samples, quiet=100)) == severity


@pytest.mark.parametrize(("level", "severity"), [(31.0, []), (29.0, ["error"])])
def test_a_value_held_at_an_extreme_is_no_dropout(level: float, severity: list[str]) -> None:
    """The largest value is left to saturation, unless it is within three grains of the baseline."""
    samples = 0.01 * np.arange(400.0)
    samples[200:210] = level
    assert severities(found(samples, quiet=100, noise=10.0)) == severity


def test_the_smallest_value_is_an_extreme_too() -> None:
    """Ten samples held at the lowest value are left to saturation as well."""
    samples = 0.01 * np.arange(400.0)
    samples[200:210] = -40.0
    assert severities(found(samples, quiet=100)) == []


@pytest.mark.parametrize(("start", "count"), [(0, 6), (394, 6)])
def test_a_held_value_at_an_end_needs_more_than_a_jump(start: int, count: int) -> None:
    """A run that touches an end has one side only."""
    samples = 0.1 * np.arange(400.0) - 20.0
    samples[start : start + count] = 5.0
    assert severities(found(samples)) == []


@pytest.mark.parametrize(("count", "severity"), [(3, []), (4, ["error"]), (400, ["error"]), (401, [])])
def test_a_stretch_at_zero_has_four_samples_and_two_fifths_at_most(count: int, severity: list[str]) -> None:
    """Between two jumps, in a record of 1000 samples."""
    assert severities(found(fallen(count))) == severity


@pytest.mark.parametrize(
    ("rest", "noise", "resolution", "severity"),
    [
        (0.99, 0.0, 0.0, ["error"]),
        (1.01, 0.0, 0.0, []),
        (3.99, 1.0, 0.0, ["error"]),
        (4.01, 1.0, 0.0, []),
        (3.99, 0.0, 2.0, ["error"]),
        (4.01, 0.0, 2.0, []),
        (5.99, 1.0, 1.0, ["error"]),
        (6.01, 1.0, 1.0, []),
    ],
)
def test_how_near_to_zero_a_lost_channel_is(
    rest: float, noise: float, resolution: float, severity: list[str]
) -> None:
    """Within 1 % of the peak, or four times the noise and two counts."""
    samples = fallen(20, rest=0.0, jitter=rest)
    assert severities(found(samples, noise=noise, resolution=resolution)) == severity


def test_a_channel_falls_to_its_baseline_too() -> None:
    """With a baseline of 20, a stretch around 20 is lost, and one around 30 is not."""
    assert severities(found(fallen(20, rest=20.0, level=80.0), baseline=20.0)) == ["error"]
    assert severities(found(fallen(20, rest=30.0, level=80.0), baseline=20.0)) == []


@pytest.mark.parametrize(
    ("level", "noise", "resolution", "severity"),
    [
        (4.5, 0.0, 0.0, []),
        (5.5, 0.0, 0.0, ["error"]),
        (19.5, 2.0, 0.0, []),
        (20.5, 2.0, 0.0, ["error"]),
        (11.5, 0.0, 3.0, []),
        (12.5, 0.0, 3.0, ["error"]),
    ],
)
def test_how_far_a_lost_channel_falls(
    level: float, noise: float, resolution: float, severity: list[str]
) -> None:
    """Over 5 % of the peak, ten times the noise, and four counts."""
    samples = fallen(20, level=level)
    assert severities(found(samples, noise=noise, resolution=resolution)) == severity


@pytest.mark.parametrize(("ripple", "severity"), [(7.1, ["error"]), (7.2, [])])
def test_a_jump_stands_three_times_over_the_steps_around_it(ripple: float, severity: list[str]) -> None:
    """From 50 less the ripple to 0.05: 42.85 is seen among steps of 14.2, 42.75 is not among 14.4."""
    assert severities(found(fallen(20, ripple=ripple, jitter=0.05))) == severity


@pytest.mark.parametrize(
    ("before", "behind", "severity"), [(5, 5, ["error"]), (4, 5, []), (5, 4, []), (9, 9, ["error"])]
)
def test_most_samples_beside_a_stretch_are_away(before: int, behind: int, severity: list[str]) -> None:
    """Five of nine on both sides; the rest between two bursts is no dropout."""
    samples = alternating(COUNT, 0.2)
    samples[START - before : START] = 50.0 + np.arange(before)
    # Back to rest without a jump, so that the rest behind is no stretch of its own.
    samples[START + 20 : START + 20 + behind] = np.linspace(6.0, 2.0, behind)
    assert severities(found(samples)) == severity


@pytest.mark.parametrize(("count", "severity"), [(3, []), (4, ["error"]), (500, ["error"])])
def test_a_channel_that_is_lost_to_the_end(count: int, severity: list[str]) -> None:
    """Four samples from a jump to the end are lost; there is no longest stretch and no repair."""
    samples = alternating(COUNT, 0.1, about=50.0)
    samples[-count:] = alternating(count, 0.2)
    findings = found(samples)
    assert severities(findings) == severity
    assert [one.repair for one in findings] == [None] * len(severity)


@pytest.mark.parametrize(("farthest", "severity"), [(9, ["error"]), (10, [])])
def test_nine_samples_beside_a_stretch_are_looked_at(farthest: int, severity: list[str]) -> None:
    """Four away from rest are not most of nine; a fifth counts as far as the ninth."""
    for side in (-1, 1):
        samples = fallen(20)
        edge = START - 1 if side < 0 else START + 20
        samples[[edge + side * distance for distance in range(4, 12)]] = alternating(8, 0.2)
        samples[edge + side * (farthest - 1)] = 50.0
        if side < 0:
            samples[: START - 20] = alternating(START - 20, 0.2)
        assert ("error" in severities(found(samples))) == bool(severity)


def test_a_channel_that_begins_at_zero_is_not_lost() -> None:
    """A jump out of rest at the start is where the event begins."""
    samples = alternating(COUNT, 0.1, about=50.0)
    samples[:100] = alternating(100, 0.2)
    assert found(samples) == []


@pytest.mark.parametrize(("gap", "stretches"), [(0, 2), (1, 2), (2, 3)])
def test_stretches_that_touch_are_one(gap: int, stretches: int) -> None:
    """A value held behind a stretch at zero continues it, also with one sample between them."""
    samples = fallen(20)
    samples[START + 20 + gap : START + 30] = 70.0
    samples[START + 60 : START + 70] = 20.0
    samples[500] = 90.0
    (finding,) = found(samples)
    assert finding.evidence["stretches"] == stretches
    assert finding.repair is not None
    spans = {2: [(0.03, 0.0329)], 3: [(0.03, 0.0319), (0.0322, 0.0329)]}[stretches]
    np.testing.assert_allclose(finding.repair.settings["spans_s"], [*spans, (0.036, 0.0369)])


def test_a_stretch_inside_another_is_part_of_it() -> None:
    """A value held within a stretch at zero, and a stretch before both that stays by itself."""
    samples = fallen(20)
    samples[START + 5 : START + 12] = 0.1
    samples[200:210] = 20.0
    samples[500] = 90.0
    (finding,) = found(samples, quiet=100)
    assert finding.evidence["samples"] == 30
    samples[START + 20 : START + 30] = 70.0
    (finding,) = found(samples, quiet=100)
    assert dict(finding.evidence) == {"stretches": 2, "samples": 40, "longest_s": pytest.approx(0.0029)}


@pytest.mark.parametrize("start", [8, START])
@pytest.mark.parametrize("side", ["before", "behind"])
def test_busy_samples_on_one_side_hide_a_jump(start: int, side: str) -> None:
    """Also at the start of the record: steps of 30 before or behind a fall from 50 to zero."""
    samples = alternating(COUNT, 0.1, about=50.0)
    samples[start : start + 20] = alternating(20, 0.2)
    assert severities(found(samples)) == ["error"]
    if side == "before":
        samples[max(0, start - 20) : start] = alternating(min(start, 20), 15.0, about=50.0)
    else:
        samples[start + 20 : start + 40] = alternating(20, 15.0, about=50.0)
    assert severities(found(samples)) == []


def test_a_jump_behind_the_first_sample_has_one_side() -> None:
    """What the record does much later does not hide it."""
    samples = alternating(COUNT, 0.1, about=50.0)
    samples[1:21] = alternating(20, 0.2)
    samples[60:] = alternating(COUNT - 60, 15.0, about=50.0)
    assert severities(found(samples)) == ["error"]


def test_the_finding_says_where_and_how_many() -> None:
    """Stretches of 20 and 10 samples: number, sum, the longest, first and last time."""
    samples = fallen(20)
    samples[START + 60 : START + 70] = 20.0
    (finding,) = found(samples)
    assert dict(finding.evidence) == {"stretches": 2, "samples": 30, "longest_s": pytest.approx(0.0019)}
    assert (finding.start_s, finding.end_s) == pytest.approx((0.03, 0.0369))
    assert "lost in 2 stretches, 30 samples in all" in finding.what


def test_a_dead_channel_is_lost_throughout() -> None:
    """Without a peak its level and its whole time are named."""
    (finding,) = examine_dropouts(facts(np.full(50, 3.5), peak=0.0))
    assert (finding.kind, finding.severity) == ("dropout", "error")
    assert dict(finding.evidence) == {"level": 3.5}
    assert (finding.start_s, finding.end_s) == pytest.approx((0.0, 0.0049))
