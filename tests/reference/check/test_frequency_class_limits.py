"""The declared filter class, and the likelihood of the others against a literal one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.reference.check.frequency import declared_class, examine_frequency_class
from correlate.signal import Step
from tests.oracles.noise_spectrum import double_pass_power, log_likelihood
from tests.reference.check.by_hand import Floats, facts, kinds

if TYPE_CHECKING:
    from correlate.reference.check.statistics import ChannelStatistics

STEP_S = 1e-4
REACH = 60
"""Samples before the event that a filter of it may reach: 6 ms."""


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("60", 60),
        ("180", 180),
        (" 600 ", 600),
        ("1000", 1000),
        ("123", None),
        ("A", 1000),
        ("B", 600),
        ("C", 180),
        ("D", 60),
        ("", 60),
        ("none", 60),
    ],
)
def test_the_class_of_the_header_or_else_of_the_code(text: str, expected: int | None) -> None:
    """A number or a letter; where neither is given, the last letter of the code."""
    header = {"Channel frequency class": text}
    assert declared_class(facts(np.zeros(9), channel="D0HEAD0000KMACXD", header=header)) == expected


def test_nothing_is_declared_without_header_and_code() -> None:
    """Nor by the letter of a channel that is not filtered."""
    assert declared_class(facts(np.zeros(9), channel="head")) is None
    assert declared_class(facts(np.zeros(9), channel="D0HEAD0000KMACXP")) is None


def floor(
    samples: Floats,
    declared: str,
    *,
    quiet: int | None = None,
    resolution: float = 0.0,
    noise: float = 1.0,
    step_s: float = STEP_S,
    history: tuple[Step, ...] = (),
) -> ChannelStatistics:
    """Return a channel whose samples but for the last are quiet."""
    header = {"Channel frequency class": declared}
    return facts(
        samples,
        channel="head",
        header=header,
        quiet=samples.size if quiet is None else quiet,
        resolution=resolution,
        noise=noise,
        step_s=step_s,
        history=history,
    )


def white(seed: int, count: int, *, width: int = 1) -> Floats:
    """Return white noise, or its sliding mean over a few samples."""
    noise = np.random.default_rng(seed).normal(0, 1, count + width - 1)
    return np.convolve(noise, np.ones(width) / width, mode="valid")


@pytest.mark.parametrize("seed", range(8))
@pytest.mark.parametrize(("width", "declared", "resolution"), [(7, 180, 0.5), (6, 180, 0.8), (20, 180, 0.1)])
def test_the_likelihood_against_a_literal_one(
    seed: int, width: int, declared: int, resolution: float
) -> None:
    """The best class and its lead are those of explicit sums; a lead of 15 or more is a finding."""
    samples = white(seed, 220 + REACH, width=width)
    scores = {
        cfc: log_likelihood(samples[:220], STEP_S, cfc, resolution) for cfc in (None, 60, 180, 600, 1000)
    }
    best = max(scores, key=lambda cfc: scores[cfc])
    lead = scores[best] - scores[declared]
    found = list(examine_frequency_class(floor(samples, f"{declared}", resolution=resolution)))
    assert len(found) == (lead >= 15)
    for one in found:
        assert one.evidence["declared"] == declared
        assert one.evidence["looks_like"] == ("no filter" if best is None else f"CFC {best}")
        assert one.evidence["log_likelihood_gain"] == pytest.approx(lead, abs=0.06)


@pytest.mark.parametrize("seed", range(3))
def test_the_likelihood_of_a_deep_stop_band(seed: int) -> None:
    """Without counts, power below a ten-millionth of the largest is as likely as noise: explicit sums too."""
    spectrum = np.fft.rfft(white(seed, 280))
    frequency_hz = np.fft.rfftfreq(280, STEP_S)
    passed = [double_pass_power(float(one), 180, STEP_S) ** 0.5 for one in frequency_hz]
    samples = np.fft.irfft(spectrum * passed)
    scores = {cfc: log_likelihood(samples[:220], STEP_S, cfc, 0.0) for cfc in (None, 60, 180, 600, 1000)}
    best = max(scores, key=lambda cfc: scores[cfc])
    (one,) = examine_frequency_class(floor(samples, "600"))
    assert one.evidence["looks_like"] == f"CFC {best}"
    assert one.evidence["log_likelihood_gain"] == pytest.approx(scores[best] - scores[600], abs=0.06)


@pytest.mark.parametrize(("quiet", "count"), [(128, 1), (127, 0)])
@pytest.mark.parametrize(("declared", "times"), [("180", 1), ("60", 3), ("600", 1)])
def test_a_spectrum_needs_128_samples(quiet: int, count: int, declared: str, times: int) -> None:
    """Behind them 6 ms are left out, which the filtered event may reach; three times as much for class 60."""
    channel = floor(white(1, 400), declared, quiet=quiet + times * REACH)
    assert len(list(examine_frequency_class(channel))) == count


@pytest.mark.parametrize(("resolution", "count"), [(2.4, 1), (2.5, 0), (2.6, 0)])
def test_noise_below_its_counts_is_not_judged(resolution: float, count: int) -> None:
    """The noise must be more than 0.4 counts."""
    assert len(list(examine_frequency_class(floor(10 * white(1, 400), "60", resolution=resolution)))) == count


def test_what_is_not_judged() -> None:
    """No declared class, samples that were interpolated, a class that the sample rate cannot have."""
    samples = white(1, 400)
    assert kinds(examine_frequency_class(floor(samples, "60"))) == [("filter class", "warning")]
    assert kinds(examine_frequency_class(floor(samples, "123"))) == []
    interpolated = (Step("read"), Step("resample unevenly sampled"))
    assert kinds(examine_frequency_class(floor(samples, "60", history=interpolated))) == []
    assert kinds(examine_frequency_class(floor(samples, "60", history=(Step("read"),)))) != []
    assert kinds(examine_frequency_class(floor(samples, "1000", step_s=2e-3))) == []


@pytest.mark.parametrize("sign", [-1, 1])
def test_a_spike_does_not_fill_the_spectrum(sign: int) -> None:
    """A single sample of 1000, above or below, counts as one of five times the noise of 0.3."""
    samples = white(3, 400, width=12)
    (plain,) = examine_frequency_class(floor(samples, "1000", noise=0.3))
    clean = samples.copy()
    samples[200] += sign * 1000.0
    calm = floor(clean, "1000", noise=0.3)
    spiked = facts(
        samples, calm=clean, channel="head", header={"Channel frequency class": "1000"}, quiet=400, noise=0.3
    )
    assert kinds(examine_frequency_class(calm)) == kinds([plain])
    clipped = clean.copy()
    clipped[200] += sign * 1.5
    (found,) = examine_frequency_class(spiked)
    (expected,) = examine_frequency_class(floor(clipped, "1000", noise=0.3))
    assert found.evidence == expected.evidence


def test_the_finding_of_a_filter_class() -> None:
    """What is declared and what it looks like, over the whole quiet stretch."""
    (finding,) = examine_frequency_class(floor(white(1, 400), "60"))
    assert "the header declares CFC 60, the spectrum of the noise looks like no filter" in finding.what
    assert finding.evidence["looks_like"] == "no filter"
    assert (finding.start_s, finding.end_s) == pytest.approx((0.0, 0.0399))
