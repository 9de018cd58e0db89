"""Each limit of what is measured about a channel: quiet stretch, onset, noise, counts."""

from __future__ import annotations

import math

import numpy as np
import pytest

from correlate import Signal
from correlate.reference.check.statistics import (
    ChannelStatistics,
    _first_stretch,
    channel_statistics,
    count_size,
    header_number,
)
from tests.reference.check.by_hand import Floats, alternating, facts

EVENT = 600


def measured(samples: Floats, *, start_s: float = 0.0) -> ChannelStatistics:
    """Measure samples at 10 kHz."""
    signal = Signal(samples=samples, start_s=start_s, step_s=1e-4, unit="g", channel="head")
    return channel_statistics(signal, header={}, file="t")


def step(*, size: float = 100.0, at: int = EVENT, count: int = 1000) -> Floats:
    """Return zeros and, from a sample on, a constant."""
    samples = np.zeros(count)
    samples[at:] = size
    return samples


def onset_index(found: ChannelStatistics) -> float:
    """Return the sample at which the event begins."""
    return (found.onset_s - found.signal.start_s) / 1e-4


@pytest.mark.parametrize(
    ("start_s", "stop"),
    [
        # 1 ms before the event.
        (0.0, 590),
        # 1 ms before the trigger, which is at sample 500.5.
        (-0.05005, 490),
        # Unless that leaves fewer than 20 samples.
        (-0.00305, 20),
        (-0.00295, 590),
        # The event comes first.
        (-0.08, 590),
    ],
)
def test_the_quiet_stretch_ends_a_millisecond_before_trigger_and_event(start_s: float, stop: int) -> None:
    """Whichever comes first."""
    assert measured(step(), start_s=start_s).quiet == slice(0, stop)


def test_an_event_at_once_leaves_nothing_quiet() -> None:
    """The stretch is empty, not negative, and the noise is unknown."""
    found = measured(100 * np.sin(np.pi * np.minimum(np.arange(1000) / 200, 1.0)))
    assert found.quiet == slice(0, 0)
    assert not found.has_quiet
    assert found.noise == 0.0


@pytest.mark.parametrize(("quiet", "has_quiet"), [(19, False), (20, True)])
def test_twenty_samples_are_a_quiet_stretch(quiet: int, *, has_quiet: bool) -> None:
    """Fewer are none, and their noise is not taken."""
    assert facts(np.zeros(50), quiet=quiet).has_quiet is has_quiet
    samples = step(at=quiet + 10)
    samples[: quiet + 10] += alternating(quiet + 10, 1.0)
    found = measured(samples)
    assert found.quiet == slice(0, quiet)
    assert (found.noise > 0) is has_quiet


@pytest.mark.parametrize(("size", "onset"), [(4.9, 600), (5.0, 600), (5.1, 500), (-5.1, 500)])
def test_the_event_begins_at_a_twentieth_of_the_peak(size: float, onset: int) -> None:
    """Above or below."""
    samples = step()
    samples[500:600] = size
    assert onset_index(measured(samples)) == pytest.approx(onset)


@pytest.mark.parametrize(("size", "onset"), [(7.85, 600), (7.9, 500)])
def test_the_event_begins_at_eight_times_the_noise(size: float, onset: int) -> None:
    """The first ten samples go up and down by 1: eight times √(1 - 3/99), about their line, is 7.878."""
    samples = step()
    samples[:400] = alternating(400, 1.0)
    samples[500:600] = size
    assert onset_index(measured(samples)) == pytest.approx(onset)


@pytest.mark.parametrize(("width", "onset"), [(4, 600), (5, 300)])
def test_the_event_lasts_five_samples(width: int, onset: int) -> None:
    """A burst of four samples is none."""
    samples = step()
    samples[300 : 300 + width] = 50.0
    assert onset_index(measured(samples)) == pytest.approx(onset)


def test_a_burst_is_the_event_where_there_is_no_other() -> None:
    """And in a channel that never moves it begins with the last sample."""
    samples = np.zeros(1000)
    samples[300:304] = 50.0
    assert onset_index(measured(samples)) == pytest.approx(300)
    assert onset_index(measured(np.zeros(1000))) == pytest.approx(999)


def test_peak_and_baseline() -> None:
    """The largest deviation from the median of the quiet stretch, with its sign; outliers do not count."""
    samples = step(size=-60.0) + 10.0
    samples[700:703] = -90.0
    samples[[100, 800]] = 500.0
    found = measured(samples, start_s=-0.02)
    assert found.baseline == 10.0
    assert found.peak == -100.0
    assert found.peak_s == pytest.approx(0.05)


def test_the_baseline_is_that_of_the_quiet_stretch() -> None:
    """Not that of the first samples: 80 at 1 and 510 at 2 have a median of 2."""
    samples = step() + 2.0
    samples[:80] = 1.0
    assert measured(samples).baseline == 2.0


def test_noise_is_robust_and_about_a_line() -> None:
    """Neither a drift nor a few outliers count; where most samples are equal the plain deviation is taken."""
    samples = step()
    samples[:590] = np.tile([-2.0, 1.0, 0.0, 2.0, -1.0], 118) + 0.01 * np.arange(590)
    # The deviation of 2, 1, 0, 1 and 2 is the root of 2.
    assert measured(samples).noise == pytest.approx(2**0.5, rel=1e-2)
    samples[293:297] = 300.0
    # 1.4826 times the median of their sizes, which is 1; these outliers do not tilt the line.
    assert measured(samples).noise == pytest.approx(1.4826, rel=2e-2)
    samples[:590] = 0.0
    ones = np.arange(0, 295, 5)
    samples[ones] = samples[589 - ones] = 1.0
    # 118 of 590 samples are 1, the same ahead and behind: the root of 0.2 · 0.8.
    assert measured(samples).noise == pytest.approx(0.4, rel=1e-9)
    samples[:590] = alternating(590, 1.0)
    assert measured(samples).noise == pytest.approx(1.0, rel=1e-3)


@pytest.mark.parametrize(
    ("start_s", "count", "stop"),
    [
        (-0.05, 1000, 80),
        (-0.0101, 1000, 40),
        (0.0, 1000, 10),
        (0.5, 1000, 10),
        (-0.0026, 1000, 10),
        (0.0, 6, 6),
    ],
)
def test_the_first_samples_that_are_taken_as_quiet(start_s: float, count: int, stop: int) -> None:
    """40 % of the time before the trigger, at most 8 % of the record, at least ten samples."""
    signal = Signal(samples=np.zeros(count), start_s=start_s, step_s=1e-4, unit="g", channel="head")
    assert _first_stretch(signal) == slice(0, stop)


@pytest.mark.parametrize(
    ("noise", "resolution", "grain"), [(1.0, 1.9, 1.0), (1.0, 2.1, 1.05), (0.0, 1.0, 0.5)]
)
def test_the_smallest_difference_that_means_anything(noise: float, resolution: float, grain: float) -> None:
    """The noise, or half a count."""
    assert facts(np.zeros(9), noise=noise, resolution=resolution).grain == pytest.approx(grain)


def test_times_of_samples() -> None:
    """Start and step."""
    assert facts(np.zeros(9), start_s=-0.5, step_s=0.25).time_s(3) == 0.25


@pytest.mark.parametrize(
    ("text", "expected"),
    [("500", 500.0), ("1e-3", 0.001), ("0", 0.0), ("-1", 0.0), ("inf", 0.0), ("nan", 0.0), ("NOVALUE", 0.0)],
)
def test_a_number_of_a_header(text: str, expected: float) -> None:
    """Above zero and finite, or none."""
    assert header_number({"key": text}, "key") == expected
    assert header_number({}, "key") == 0.0


COUNTS = np.arange(200.0)


@pytest.mark.parametrize(("whole", "off", "expected"), [(181, 19, 1.0), (180, 20, 0.0)])
def test_nine_samples_in_ten_lie_on_counts(whole: int, off: int, expected: float) -> None:
    """One more that lies 0.3 counts off is too many."""
    samples = np.concatenate((COUNTS[:whole], 300.3 + 2 * np.arange(off)))
    assert count_size(samples) == pytest.approx(expected)


@pytest.mark.parametrize(("share", "expected"), [(0.09, 1.0), (0.11, 0.0), (0.89, 0.0), (0.91, 1.0)])
def test_a_tenth_of_a_count_is_near_enough(share: float, expected: float) -> None:
    """Above or below."""
    samples = np.concatenate((COUNTS[:180], 300.0 + share + 2 * np.arange(20)))
    assert count_size(samples) == pytest.approx(expected)


@pytest.mark.parametrize(("far", "expected"), [(990, 0.0), (1001, 1.0)])
def test_counts_beyond_a_thousand_do_not_count(far: int, expected: float) -> None:
    """The error of one count adds up."""
    samples = np.concatenate((COUNTS[:20], far + 0.3 + 0.0 * np.arange(20)))
    assert count_size(samples) == pytest.approx(expected)


def test_the_size_of_a_count_is_a_small_step_between_levels() -> None:
    """The smallest twentieth of the steps; two levels are too few to tell, three are enough."""
    assert count_size(np.array([0.0, 0.5, 2.5, 3.0, 5.0] * 3)) == pytest.approx(0.5)
    assert count_size(np.array([0.0, 1.0] * 9)) == 0.0
    assert count_size(np.array([0.0, 1.0, 2.0] * 9)) == 1.0


def test_counts_that_are_printed_in_seven_digits() -> None:
    """Printing blurs each step by half a digit; over a thousand counts the step must still be right."""
    count = 62.5 / 2**15
    random = np.random.default_rng(5)
    levels = np.concatenate((random.integers(-3, 4, 300), np.cumsum(random.integers(1, 5, 900))))
    printed = np.array([float(f"{level * count:.7g}") for level in levels])
    assert count_size(printed) == pytest.approx(count, rel=2e-5)


def test_the_length_of_the_event() -> None:
    """From the first to the last sample over a fifth of the peak; nothing for a dead channel."""
    samples = np.concatenate((np.zeros(10), [19.0, 21.0, 100.0, 0.0, -21.0, 19.0], np.zeros(10)))
    assert facts(samples, peak=100.0).event_s == pytest.approx(3e-4)
    assert facts(np.zeros(10), peak=0.0).event_s == 0.0


def test_steps_of_rounding_are_no_counts() -> None:
    """Below the range over 2 to the 31st."""
    finest = 2.0**-31
    assert count_size(np.array([0.0, 0.9, 1.8, 2.7]) * finest + np.array([0, 0, 0, 1.0])) == 0.0
    assert math.isclose(count_size(np.array([0.0, 1.1, 2.2, 2.0**31]) * finest), 1.1 * finest, rel_tol=0.01)
