"""Each limit of noise, resolution, range and time step."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.reference.check.baseline import examine_time_step
from correlate.reference.check.frequency import (
    effective_bits,
    examine_noise,
    examine_range,
    examine_resolution,
)
from correlate.signal import Step
from tests.reference.check.by_hand import facts, kinds, severities

if TYPE_CHECKING:
    from correlate.reference.check.statistics import ChannelStatistics


def noisy(
    noise: float, *, peak: float = 100.0, full_scale: float = 0.0, resolution: float = 0.0, quiet: int = 100
) -> ChannelStatistics:
    """Return a channel with so much noise."""
    return facts(
        np.zeros(200), noise=noise, peak=peak, full_scale=full_scale, resolution=resolution, quiet=quiet
    )


@pytest.mark.parametrize(
    ("noise", "peak", "full_scale", "severity"),
    [
        (2.9, 100.0, 0.0, []),
        (3.0, 100.0, 0.0, []),
        (3.1, 100.0, 0.0, ["warning"]),
        (3.1, -100.0, 0.0, ["warning"]),
        (3.1, 100.0, 6100.0, ["warning"]),
        (3.1, 100.0, 6300.0, []),
    ],
)
def test_noise_of_a_channel_by_itself(
    noise: float, peak: float, full_scale: float, severity: list[str]
) -> None:
    """Over 3 % of the peak, and over one in 2000 of the full scale where that is given."""
    found = examine_noise(noisy(noise, peak=peak, full_scale=full_scale), [])
    assert severities(found) == severity


@pytest.mark.parametrize(
    ("noise", "resolution", "severity"),
    [
        (0.39, 0.0, []),
        (0.40, 0.0, []),
        (0.41, 0.0, ["warning"]),
        (0.41, 0.20, ["warning"]),
        (0.41, 0.21, []),
    ],
)
def test_noise_against_that_of_the_others(noise: float, resolution: float, severity: list[str]) -> None:
    """Over four times the 0.1 % of two others, one turned and doubled, and over two counts."""
    others = [noisy(0.1), noisy(0.2, peak=-200.0)]
    assert severities(examine_noise(noisy(noise, resolution=resolution), others)) == severity


@pytest.mark.parametrize(("noise", "severity"), [(0.19, []), (0.21, ["warning"])])
def test_noise_that_matters(noise: float, severity: list[str]) -> None:
    """Noise below 0.2 % of the peak may differ between repeats by any factor."""
    assert severities(examine_noise(noisy(noise), [noisy(0.01), noisy(0.01)])) == severity


def test_one_other_repeat_does_not_tell_how_noisy_is_usual() -> None:
    """Nor do others that are not quiet, dead, or without noise."""
    for other in (noisy(0.1, quiet=19), noisy(0.1, peak=0.0), noisy(0.0)):
        assert severities(examine_noise(noisy(2.0), [noisy(0.1), other])) == []
    assert severities(examine_noise(noisy(2.0), [noisy(0.1), noisy(0.1, quiet=20)])) == ["warning"]


def test_noise_needs_a_quiet_stretch_and_a_peak() -> None:
    """19 samples are too few; a dead channel has none."""
    assert severities(examine_noise(noisy(10.0, quiet=19), [])) == []
    assert severities(examine_noise(noisy(10.0, quiet=20), [])) == ["warning"]
    assert severities(examine_noise(noisy(10.0, peak=0.0), [])) == []


def test_the_finding_of_noise() -> None:
    """Noise, share, bits and, where it is over four times that of others, how many times."""
    (finding,) = examine_noise(noisy(5.0, full_scale=400.0), [noisy(1.0), noisy(1.0)])
    assert dict(finding.evidence) == {
        "noise": 5.0,
        "share_of_peak": 0.05,
        "effective_bits": round(math.log2(800 / (5 * 12**0.5)), 1),
    }
    assert "is 5 g, 5.0% of the peak, 5.0 times that of the other repeats" in finding.what
    assert (finding.start_s, finding.end_s) == pytest.approx((0.0, 0.0099))
    (alone,) = examine_noise(noisy(4.0), [noisy(1.0), noisy(1.0)])
    assert "other repeats" not in alone.what


@pytest.mark.parametrize(
    ("noise", "resolution", "full_scale", "expected"),
    [
        (0.5, 0.0, 0.0, 200 / (0.5 * 12**0.5)),
        (0.5, 0.0, 1000.0, 2000 / (0.5 * 12**0.5)),
        (0.0, 1.0, 1024.0, 2048.0),
        (0.1, 2.0, 1024.0, 1024.0),
    ],
)
def test_effective_bits(noise: float, resolution: float, full_scale: float, expected: float) -> None:
    """Twice the full scale, or else the peak, over the root of twelve times the noise or over a count."""
    found = effective_bits(noisy(noise, peak=-100.0, resolution=resolution, full_scale=full_scale))
    assert found == pytest.approx(math.log2(expected), abs=1e-12)


def test_bits_are_unknown_without_noise_or_size() -> None:
    """Neither noise nor counts, or neither peak nor full scale."""
    assert effective_bits(noisy(0.0)) is None
    assert effective_bits(noisy(0.5, peak=0.0)) is None


@pytest.mark.parametrize(
    ("resolution", "peak", "full_scale", "severity"),
    [
        (1.0, 100.0, 0.0, []),
        (1.01, 100.0, 0.0, ["warning"]),
        (1.01, -100.0, 0.0, ["warning"]),
        (0.99, 100.0, 0.0, []),
        (1.01, 100.0, 10_000.0, ["warning"]),
        (1.01, 100.0, 10_200.0, []),
        (2e-5, 0.001, 0.9, []),
        (0.0, 100.0, 0.0, []),
        (1.01, 0.0, 0.0, []),
    ],
)
def test_a_hundred_counts_from_baseline_to_peak(
    resolution: float, peak: float, full_scale: float, severity: list[str]
) -> None:
    """Fewer are a warning, unless a count is less than a ten-thousandth of the full scale."""
    found = examine_resolution(noisy(0.0, resolution=resolution, peak=peak, full_scale=full_scale))
    assert severities(found) == severity


def test_the_finding_of_resolution() -> None:
    """Counts of 4 make 25 up to a peak of 100."""
    (finding,) = examine_resolution(noisy(0.0, resolution=4.0))
    assert dict(finding.evidence) == {"counts": 25.0, "count_size": 4.0}
    assert "only 25 counts of 4 g" in finding.what


@pytest.mark.parametrize(("largest", "severity"), [(101.9, []), (102.0, []), (102.1, ["error"])])
@pytest.mark.parametrize("sign", [-1, 1])
def test_a_value_beyond_the_full_scale(largest: float, sign: int, severity: list[str]) -> None:
    """By more than 2 %, above or below; single outliers do not count."""
    calm = np.zeros(200)
    calm[100] = sign * largest
    found = list(examine_range(facts(np.zeros(200), calm=calm, full_scale=100.0)))
    assert severities(found) == severity
    assert [dict(one.evidence) for one in found] == [{"largest": largest, "full_scale": 100.0} for _ in found]
    assert severities(examine_range(facts(calm, calm=np.zeros(200), full_scale=100.0))) == []
    assert severities(examine_range(facts(np.zeros(200), calm=calm))) == []


@pytest.mark.parametrize(("off", "expected"), [(1.9e-6, []), (2.1e-6, [("uneven step", "note")])])
def test_printed_times_off_a_constant_step(off: float, expected: list[tuple[str, str]]) -> None:
    """By more than 2 % of a step of 0.1 ms they are worth a note."""
    history = (Step("read"), Step("even time step", {"largest_deviation_s": off}))
    found = list(examine_time_step(facts(np.zeros(20), history=history)))
    assert kinds(found) == expected
    assert [dict(one.evidence) for one in found] == [{"largest_deviation_s": off} for _ in found]


def test_samples_that_were_interpolated() -> None:
    """An error with the smallest and the largest step, whatever they are."""
    settings = {"smallest_step_s": 0.9e-4, "largest_step_s": 2e-4, "samples_before": 19}
    history = (Step("read"), Step("resample unevenly sampled", settings))
    (finding,) = examine_time_step(facts(np.zeros(20), history=history, start_s=-0.001))
    assert (finding.kind, finding.severity) == ("uneven step", "error")
    assert dict(finding.evidence) == {
        "smallest_step_s": 0.9e-4,
        "largest_step_s": 2e-4,
        "samples_recorded": 19,
    }
    assert "0.09 to 0.2 ms; the samples were interpolated to 0.1 ms" in finding.what
    assert (finding.start_s, finding.end_s) == pytest.approx((-0.001, 0.0009))


def test_other_steps_say_nothing_about_time() -> None:
    """A read and a converted unit are no finding."""
    history = (Step("read"), Step("convert unit", {"to": "g"}))
    assert list(examine_time_step(facts(np.zeros(20), history=history))) == []
