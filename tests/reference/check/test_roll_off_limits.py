"""Each limit of a channel that was filtered lower than the other repeats."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.reference.check.rolloff import examine_roll_off
from correlate.reference.check.trials import Trial, Trials
from tests.oracles.noise_spectrum import double_pass_power
from tests.reference.bench import filtered
from tests.reference.check.by_hand import Floats, facts

if TYPE_CHECKING:
    from correlate.reference.finding import Finding

STEP_S = 5e-5
TIME = np.arange(4000) * STEP_S - 0.05


def crash(seed: int, *, width_s: float = 0.0005) -> Floats:
    """Return short bells after time zero, the same in all repeats but for a little noise."""
    random = np.random.default_rng(11)
    values = np.zeros(TIME.size)
    for _ in range(12):
        at_s, size = random.uniform(0.005, 0.06), random.uniform(-100, 100)
        values += size * np.exp(-(((TIME - at_s) / width_s) ** 2))
    return np.asarray(values + 0.02 * np.random.default_rng(seed).standard_normal(TIME.size))


def found(own: Floats, *, declared: str = "1000", repeats: int = 3, other: int = 0) -> list[Finding]:
    """Look at the first of some repeats; the others are filtered with a class, or not."""
    tests = []
    for number in range(repeats):
        values = own if number == 0 else crash(number)
        if number and other:
            values = filtered(values, other, 1 / STEP_S)
        channel = facts(
            values,
            channel="a",
            peak=100.0,
            noise=0.02,
            quiet=900,
            step_s=STEP_S,
            start_s=-0.05,
            header={"Channel frequency class": declared},
        )
        tests.append(Trial([channel]))
    return list(examine_roll_off(Trials(tests), 0, ["a"]))


@pytest.mark.parametrize("cfc", [60, 180, 600])
def test_the_finding_names_the_class(cfc: int) -> None:
    """A warning."""
    (finding,) = found(filtered(crash(0), cfc, 1 / STEP_S))
    assert (finding.kind, finding.severity, finding.channel) == ("filter class", "warning", "a")
    assert finding.evidence["looks_like"] == f"CFC {cfc}"


def test_a_sound_channel_has_none() -> None:
    """Neither has one that all repeats are filtered like."""
    assert found(crash(0)) == []
    assert found(filtered(crash(0), 180, 1 / STEP_S), other=180) == []


@pytest.mark.parametrize(("declared", "count"), [("60", 0), ("180", 0), ("600", 1), ("0", 1)])
def test_only_a_class_below_the_declared_one_counts(declared: str, count: int) -> None:
    """A channel that declares CFC 180 may be filtered with it; one that declares none may not."""
    assert len(found(filtered(crash(0), 180, 1 / STEP_S), declared=declared)) == count


def test_two_other_repeats_are_needed() -> None:
    """One may have too little filter as well."""
    assert found(filtered(crash(0), 180, 1 / STEP_S), repeats=2) == []


@pytest.mark.parametrize(("left", "count"), [(0.4, 1), (0.8, 0)])
def test_the_filter_must_explain_the_fall(left: float, count: int) -> None:
    """A part of the channel that was not filtered leaves the levels above the response of the filter."""
    whole = crash(0)
    low = filtered(whole, 180, 1 / STEP_S)
    assert len(found(low + left**6 * (whole - low))) == count


SLOW_S = 5e-4
"""Step of a click, s: its highest frequencies are not yet below every floor behind class 60."""
CLICK = np.where(np.arange(4000) == 2000, 100.0, 0.0)
EDGES_HZ = 20 * 2 ** (np.arange(3, 22) / 4)
"""Edges of the quarters of an octave that begin above 30 Hz, up to 40 % of the rate."""
PASSED = np.array(
    [
        np.mean([double_pass_power(float(one), 60, SLOW_S) for one in np.geomspace(low, high, 50)])
        for low, high in pairwise(EDGES_HZ)
    ]
)
"""Share of the energy of a click that class 60 lets through in each of them."""


def of_clicks(gain: float, *, resolution: float = 0.0) -> list[Finding]:
    """Look at a click behind class 60 and a gain beside two clicks."""
    every_hz = np.fft.rfftfreq(CLICK.size, SLOW_S)
    amplitude = [gain * double_pass_power(float(one), 60, SLOW_S) ** 0.5 for one in every_hz]
    own = np.fft.irfft(amplitude * np.fft.rfft(CLICK))
    header = {"Channel frequency class": "180"}
    tests = [
        Trial([facts(one, channel="a", peak=1e3, resolution=resolution, step_s=SLOW_S, header=header)])
        for one in (own, CLICK, CLICK)
    ]
    return list(examine_roll_off(Trials(tests), 0, ["a"]))


@pytest.mark.parametrize(("gain", "count"), [(0.22, 0), (0.23, 1), (3.05, 1), (3.15, 0)])
def test_the_filter_leaves_three_tenths_of_the_squares(gain: float, count: int) -> None:
    """A gain beside the filter is what it does not explain; a level is cut at a thousandth."""
    unexplained = 2 * math.log10(gain)
    fall = np.clip(np.log10(PASSED) + unexplained, -3, 3)
    assert (unexplained**2 < 0.3 * np.mean(fall**2)) == bool(count)
    assert len(of_clicks(gain)) == count


@pytest.mark.parametrize(("resolution", "count"), [(4.4, 1), (4.5, 0)])
def test_a_small_fall_needs_no_explanation(resolution: float, count: int) -> None:
    """Of three tenths of a power of ten; where rounding is as strong as the click, little is left of a fall.

    The click has the energy of 100 squared, rounding that of a twelfth of the square of a count a sample.
    """
    floor = CLICK.size * resolution**2 / 12 / 100**2
    fall = np.log10((PASSED + floor) / (1 + floor))
    assert (np.mean(fall**2) > 0.3**2) == bool(count)
    assert len(of_clicks(1.0, resolution=resolution)) == count


@pytest.mark.parametrize("width_s", [0.03, 0.06])
def test_equal_channels_below_the_floor_of_rounding_have_no_fall(width_s: float) -> None:
    """A slow bell has no energy above 34 Hz, where rounding to halves is all that is compared."""
    time = np.arange(20000) * 2e-5
    bell = 100 * np.exp(-(((time - 0.2) / width_s) ** 2))
    header = {"Channel frequency class": "180"}
    tests = [Trial([facts(bell, channel="a", resolution=0.5, step_s=2e-5, header=header)]) for _ in range(3)]
    assert list(examine_roll_off(Trials(tests), 0, ["a"])) == []
