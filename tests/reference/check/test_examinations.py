"""Single examinations of the data check, on signals whose answer is plain."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from correlate import Recording, Signal
from correlate.reference.check import check
from correlate.reference.check.frequency import effective_bits
from correlate.reference.check.statistics import (
    chance_length,
    channel_statistics,
    corner_sharpness,
    count_size,
    running_median,
)
from correlate.reference.finding import KINDS, Finding, worst_first

RANDOM = np.random.default_rng(5)
TIME = np.arange(-400, 1200) * 1e-4
BELL = 100 * np.exp(-(((TIME - 0.03) / 0.008) ** 2))
NOISE = RANDOM.normal(0, 0.05, TIME.size)


def signal(samples: np.ndarray, *, start_s: float = -0.04) -> Signal:
    """Return samples at 10 kHz."""
    return Signal(samples=samples, start_s=start_s, step_s=1e-4, unit="g", channel="D0HEAD0000KMACXP")


def recording(item: Signal, **header: str) -> Recording:
    """Return a test with one channel."""
    headers = {item.channel: header}
    return Recording(signals=(item,), path=Path("t"), format="computed", channel_headers=headers)


def findings(samples: np.ndarray, **header: str) -> list[Finding]:
    """Check one channel."""
    return list(check([recording(signal(samples), **header)]).findings)


def test_a_clean_bell_has_no_finding() -> None:
    """Noise and all."""
    assert findings(BELL + NOISE) == []


def test_the_figures_of_a_channel() -> None:
    """Peak, its time, onset, offset and noise are those that were put in."""
    outcome = check([recording(signal(BELL + NOISE + 2.0))])
    (figures,) = outcome.channels
    assert figures.peak == pytest.approx(100, abs=0.2)
    assert figures.peak_s == pytest.approx(0.03, abs=3e-4)
    assert figures.onset_s == pytest.approx(0.03 - 0.008 * np.log(20) ** 0.5, abs=3e-4)
    assert figures.offset == pytest.approx(2.0, abs=0.02)
    assert figures.noise == pytest.approx(0.05, rel=0.15)


def test_effective_bits_of_pure_rounding() -> None:
    """A channel of 12 bits whose only noise is its rounding has 12 effective bits."""
    full_scale = 128.0
    count = full_scale / 2**11
    rounded = np.rint(BELL / count) * count
    facts = channel_statistics(signal(rounded), header={"Channel amplitude class": f"{full_scale}"}, file="t")
    assert facts.resolution == pytest.approx(count)
    assert effective_bits(facts) == pytest.approx(12, abs=0.01)


def test_the_size_of_a_count() -> None:
    """Whole counts are recognised, filtered samples are not."""
    assert count_size(np.rint(BELL / 0.25) * 0.25) == pytest.approx(0.25)
    assert count_size(BELL) == 0.0
    assert count_size(np.zeros(50)) == 0.0


def test_a_running_median_against_the_definition() -> None:
    """Every value is the median of its window, the ends repeated; over several blocks too."""
    samples = RANDOM.normal(size=250_003)
    found = running_median(samples, 5)
    for index in (0, 1, 2, 99_999, 100_000, 100_001, 250_002):
        window = [samples[min(max(k, 0), samples.size - 1)] for k in range(index - 2, index + 3)]
        assert found[index] == np.median(window)


def test_corners_of_round_and_flat_tops() -> None:
    """A parabola has a sharpness of 1 to 2, a clipped slope far more."""
    index = np.arange(-50, 51)
    round_top = np.rint(1000 - 0.05 * index**2)
    top = np.flatnonzero(round_top == 1000)
    assert 0.4 < corner_sharpness(round_top, (int(top[0]), int(top[-1]) + 1), 1.0) < 3
    flat_top = np.minimum(np.rint(1000 - 0.5 * index**2), 900)
    top = np.flatnonzero(flat_top == 900)
    assert corner_sharpness(flat_top, (int(top[0]), int(top[-1]) + 1), 1.0) > 10


def test_the_longest_run_of_chance() -> None:
    """In white noise rounded to counts, no run is longer than the bound says (200 records)."""
    for _ in range(200):
        noisy = np.rint(RANDOM.normal(0, 1.5, 3000))
        facts = channel_statistics(signal(noisy + 1000 * (np.arange(3000) > 2900)), header={}, file="t")
        runs = np.diff(np.flatnonzero(np.concatenate(([True], np.diff(noisy) != 0, [True]))))
        assert runs.max() <= chance_length(facts)


def test_a_dead_channel() -> None:
    """A channel that never moves is lost."""
    (finding,) = findings(np.full(TIME.size, 3.0))
    assert (finding.kind, finding.severity) == ("dropout", "error")
    assert "is constant at 3 g" in finding.what


def test_a_late_start_cuts_the_event() -> None:
    """A record that starts within the event is an error, one with 2 ms of quiet a warning."""
    cut = check([recording(signal((BELL + NOISE)[650:], start_s=0.025))]).findings
    assert [(f.kind, f.severity) for f in cut] == [("no pre-trigger", "error")]
    start = int(np.searchsorted(TIME, 0.0136))
    short = check([recording(signal((BELL + NOISE)[start:], start_s=0.0136))]).findings
    assert ("no pre-trigger", "warning") in [(f.kind, f.severity) for f in short]


def test_a_bad_value_of_the_header_counts_as_not_given() -> None:
    """NOVALUE, words and negative numbers give no full scale."""
    for text in ("NOVALUE", "large", "-5", "nan"):
        assert findings(BELL + NOISE, **{"Channel amplitude class": text}) == []


def test_a_steady_slope_is_no_spike_and_a_ringing_no_dropout() -> None:
    """Edges, kinks and a decaying vibration of the mount are left alone."""
    ramp = np.clip((TIME - 0.01) / 0.0005, 0, 1) * 100 * np.exp(-np.clip(TIME - 0.0105, 0, None) / 0.02)
    ringing = 30 * np.exp(-np.clip(TIME - 0.0105, 0, None) / 0.002) * np.sin(2 * np.pi * 1800 * TIME)
    assert [f for f in findings(ramp + ringing * (TIME > 0.0105) + NOISE) if f.severity != "note"] == []


def test_two_slow_curves_alike_are_no_copies() -> None:
    """Repeats whose event reaches into the time before the trigger differ by their noise all the same."""
    slow = 100 * np.exp(-(((TIME - 0.02) / 0.02) ** 2))
    one, other = (
        Recording(signals=(signal(slow + RANDOM.normal(0, 0.05, TIME.size)),), path=Path(name), format="c")
        for name in ("t1", "t2")
    )
    assert [f for f in check([one, other]).findings if f.kind == "copy"] == []
    assert [
        f.file
        for f in check([one], against=[Recording(signals=one.signals, path=Path("t3"), format="c")]).findings
        if f.kind == "copy"
    ] == ["t1"]


def test_findings_sort_worst_first() -> None:
    """Errors, then warnings, then notes; the kinds are all different."""
    made = [
        Finding(kind="noise", severity=severity, file="t", channel="c", what="w", remedy="r")
        for severity in ("note", "error", "warning")
    ]
    assert [f.severity for f in sorted(made, key=worst_first)] == ["error", "warning", "note"]
    assert len(set(KINDS)) == len(KINDS)
