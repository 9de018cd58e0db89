"""Each limit of the search for spikes: just below it nothing is found, just above it something is."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.reference.check.samples import examine_spikes
from tests.reference.check.by_hand import Floats, facts, severities

PLACE = 100


def spike(*heights: float, place: int = PLACE, count: int = 200) -> Floats:
    """Return zeros with samples that stand out from a place on."""
    samples = np.zeros(count)
    samples[place : place + len(heights)] = heights
    return samples


def found(samples: Floats, *, noise: float = 0.0, resolution: float = 0.0) -> list[str]:
    """Return how severe the spikes of a channel with a peak of 100 are."""
    return severities(examine_spikes(facts(samples, noise=noise, resolution=resolution)))


@pytest.mark.parametrize(
    ("height", "severity"),
    [
        (1.99, []),
        (2.0, []),
        (2.01, ["note"]),
        (5.0, ["note"]),
        (5.01, ["warning"]),
        (10.0, ["warning"]),
        (10.01, ["error"]),
        (-10.01, ["error"]),
    ],
)
def test_the_share_of_the_peak_says_how_severe_a_spike_is(height: float, severity: list[str]) -> None:
    """Over 2 % of the peak it is a note, over 5 % a warning, over 10 % an error, whatever its sign."""
    assert found(spike(height)) == severity


def test_a_peak_below_the_baseline_counts_by_its_size() -> None:
    """A channel whose peak is -100 has the same limits."""
    assert severities(examine_spikes(facts(spike(1.99), peak=-100.0))) == []
    assert severities(examine_spikes(facts(spike(10.01), peak=-100.0))) == ["error"]


@pytest.mark.parametrize("peak", [1.0, -1.0, 50.0])
def test_the_limits_follow_the_peak(peak: float) -> None:
    """Whatever its size: 1.9 % is nothing, 2.1 % a note."""
    for share, expected in ((0.019, []), (0.021, ["note"])):
        assert severities(examine_spikes(facts(spike(share * abs(peak)), peak=peak))) == expected


@pytest.mark.parametrize(("height", "severity"), [(9.0, ["warning"]), (-11.0, ["error"])])
def test_a_spike_is_measured_from_the_curve_around_it(height: float, severity: list[str]) -> None:
    """Not from zero: on a level of 60 the limits are the same."""
    assert found(60.0 + spike(height)) == severity
    assert found(np.full(200, 60.0)) == []


@pytest.mark.parametrize(("height", "severity"), [(29.9, []), (30.1, ["error"])])
def test_ten_times_the_noise_are_needed(height: float, severity: list[str]) -> None:
    """With a noise of 3 a spike must be larger than 30."""
    assert found(spike(height), noise=3.0) == severity


@pytest.mark.parametrize(("height", "severity"), [(29.9, []), (30.1, ["error"])])
def test_three_counts_are_needed(height: float, severity: list[str]) -> None:
    """With counts of 10 a spike must be larger than 30."""
    assert found(spike(height), resolution=10.0) == severity


@pytest.mark.parametrize(
    ("heights", "severity"),
    [((50.0, 50.0, 50.0), ["error"]), ((50.0, 50.0, -50.0, -50.0), []), ((50.0, -50.0, -50.0), ["error"])],
)
def test_a_spike_has_three_samples_at_most(heights: tuple[float, ...], severity: list[str]) -> None:
    """Three samples are a spike, also when they swing back; four that the median ignores are none."""
    assert found(spike(*heights)) == severity


def test_a_spike_is_as_wide_on_both_sides_of_its_top() -> None:
    """Three samples with the largest in the middle are one, four with the largest at the end are none."""
    assert found(spike(60.0, 100.0, 60.0)) == ["error"]
    assert found(spike(-50.0, -50.0, 50.0, 51.0)) == []


def test_the_surroundings_of_a_spike_near_the_start() -> None:
    """They begin with the record."""
    samples = spike(35.0, place=20)
    samples[[12, 16]] = 10.0
    assert found(samples, noise=1.5) == ["error"]
    samples[8] = 10.0
    assert found(samples, noise=1.5) == []


def test_the_median_ignores_three_samples_of_seven() -> None:
    """Four equal samples are a feature of the curve, since they are the median of their window."""
    assert found(spike(50.0, 50.0, 50.0, 50.0)) == []


@pytest.mark.parametrize(
    ("heights", "severity"),
    [
        ((0.0, 100.0, 40.0), ["error"]),
        ((0.0, 100.0, 40.5), []),
        ((40.0, 100.0, 0.0), ["error"]),
        ((40.5, 100.0, 0.0), []),
        ((50.0, 100.0, 0.0), []),
        ((50.5, 100.0, 0.0), ["error"]),
        ((0.0, 100.0, 50.0), []),
        ((0.0, 100.0, 50.5), ["error"]),
    ],
)
def test_a_spike_comes_and_goes_at_once(heights: tuple[float, ...], severity: list[str]) -> None:
    """The first step gains 60 % of its height and the last loses it; more than half belongs to the spike."""
    assert found(spike(*heights)) == severity


@pytest.mark.parametrize(
    ("place", "count", "severity"),
    [
        (0, 200, []),
        (1, 200, ["error"]),
        (198, 200, ["error"]),
        (199, 200, []),
        (1, 3, ["error"]),
    ],
)
def test_a_spike_at_an_end_cannot_be_told(place: int, count: int, severity: list[str]) -> None:
    """The first and the last sample are none, those beside them are; three samples are enough."""
    assert found(spike(50.0, place=place, count=count)) == severity


def test_spikes_at_both_ends_do_not_meet() -> None:
    """The last sample does not continue the first one."""
    samples = spike(50.0, place=0)
    samples[-1] = 50.0
    assert found(samples) == []


def test_a_small_spike_of_a_short_record_has_no_surroundings() -> None:
    """Of three samples the middle one may be small, because nothing around it counts."""
    assert found(spike(3.0, place=1, count=3)) == ["note"]


@pytest.mark.parametrize("side", [-1, 1])
@pytest.mark.parametrize(
    ("distances", "height", "severity"),
    [
        # Six of 24 samples stand out by 10: the ninth tenth of the side is 10.
        ((4, 8, 12, 16, 20, 24), 39.9, []),
        ((4, 8, 12, 16, 20, 24), 40.0, []),
        ((4, 8, 12, 16, 20, 24), 40.1, ["error"]),
        # Three of 24: 0.9 times 23 is 20.7, seven tenths of the way from nothing to 10.
        ((4, 8, 12), 27.9, []),
        ((4, 8, 12), 28.1, ["error"]),
        # Two of 24 are too few to count.
        ((4, 8), 16.0, ["error"]),
        # The surroundings reach from the second sample beside the spike to the 25th, before or behind it.
        ((4, 8, 25), 27.9, []),
        ((4, 8, 26), 27.9, ["error"]),
        ((2, 8, 12), 27.9, []),
    ],
)
def test_a_spike_stands_four_times_over_each_side(
    side: int, distances: tuple[int, ...], height: float, severity: list[str]
) -> None:
    """Its height is held against the ninth tenth of 24 residuals of the busier side."""
    samples = spike(height)
    samples[[PLACE + side * distance for distance in distances]] = 10.0
    assert found(samples, noise=1.5) == severity


def test_the_finding_says_where_how_many_and_how_large() -> None:
    """Two spikes, of 20 and of -30: times, number, largest, share and the spans to be bridged."""
    samples = spike(20.0, 20.0, place=50) + spike(-30.0, -30.0, place=120)
    (finding,) = examine_spikes(facts(samples, start_s=-0.01))
    assert (finding.kind, finding.file, finding.channel) == ("spike", "t1", "D0HEAD0000KMACXP")
    assert dict(finding.evidence) == {"spikes": 2, "largest": 30.0, "share_of_peak": 0.3}
    assert (finding.start_s, finding.end_s) == pytest.approx((-0.005, 0.0021))
    assert finding.repair is not None
    assert finding.repair.name == "bridge"
    np.testing.assert_allclose(finding.repair.settings["spans_s"], [(-0.005, -0.0049), (0.002, 0.0021)])
    assert "2 spikes" in finding.what
    assert "30 g, 30% of the peak" in finding.what


def test_a_dead_channel_has_no_spike() -> None:
    """Without a peak there is nothing to compare with."""
    assert severities(examine_spikes(facts(spike(50.0), peak=0.0, noise=1.0))) == []
