"""The data check on random recordings: what it finds of what was planted, and what it finds in clean ones.

Every kind of fault is planted in 200 random recordings with fixed seeds; at least 95 % must be found. Of
200 clean ones at most 2 % may be called anything worse than a note.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.reference.check import check
from tests.reference import bench as b
from tests.reference import planting as p

if TYPE_CHECKING:
    from collections.abc import Callable

    from correlate import Recording, Signal
    from correlate.reference.finding import Finding

    Random = np.random.Generator
    Plant = Callable[[Random], tuple[list[Recording], list[Recording], str]]

COUNT = 200
LEAST_RECALL = 0.95
MOST_FALSE_ALARMS = 0.02


def alone(change: Callable[[Signal, Random], Signal], *, filtered: bool | None = None) -> Plant:
    """Plant a fault in a single recording of one channel."""

    def plant(random: Random) -> tuple[list[Recording], list[Recording], str]:
        test = b.one_channel_bench(random, filtered=filtered).repeat("T1", random)
        return [p.changed(test, b.AXES[0], lambda item: change(item, random))], [], b.AXES[0]

    return plant


def among_repeats(change: Callable[[Signal, Random], Signal]) -> Plant:
    """Plant a fault in one of three repeats."""

    def plant(random: Random) -> tuple[list[Recording], list[Recording], str]:
        bench = b.one_channel_bench(random)
        tests = [bench.repeat(f"T{index}", random) for index in range(3)]
        bad = p.changed(tests[0], b.AXES[0], lambda item: change(item, random))
        return [bad], tests[1:], b.AXES[0]

    return plant


def beyond_range(random: Random) -> tuple[list[Recording], list[Recording], str]:
    """State a full scale below the peak."""
    test = b.one_channel_bench(random).repeat("T1", random)
    largest = float(np.abs(test.signals[0].samples).max())
    headers = {b.AXES[0]: {"Channel amplitude class": f"{largest / random.uniform(1.1, 10):.6g}"}}
    return [replace(test, channel_headers=headers)], [], b.AXES[0]


def wrong_class(random: Random) -> tuple[list[Recording], list[Recording], str]:
    """Declare another class than the one that filtered the channel, or than none."""
    bench = b.one_channel_bench(random, filtered=False)
    test = bench.repeat("T1", random)
    truth = random.choice([0, 60, 180, 600, 1000])
    declared = int(random.choice([cfc for cfc in b.CLASSES if cfc != truth]))
    if truth:
        test = p.changed(
            test,
            b.AXES[0],
            lambda item: p.with_samples(item, b.filtered(item.samples, int(truth), item.sample_rate_hz)),
        )
    headers = {b.AXES[0]: {"Channel frequency class": str(declared)}}
    return [replace(test, channel_headers=headers)], [], b.AXES[0]


def copied(random: Random) -> tuple[list[Recording], list[Recording], str]:
    """Record one axis twice, as it is or scaled."""
    bench = b.three_axis_bench(random)
    test = bench.repeat("T1", random)
    factor = float(random.choice([1.0, -1.0, random.uniform(0.2, 5)]))
    source = test.channel(b.AXES[0])
    return (
        [p.changed(test, b.AXES[2], lambda item: p.with_samples(item, factor * source.samples))],
        [],
        b.AXES[2],
    )


def exchanged(random: Random) -> tuple[list[Recording], list[Recording], str]:
    """Exchange two axes of one of three repeats."""
    bench = b.three_axis_bench(random)
    tests = [bench.repeat(f"T{index}", random) for index in range(3)]
    one, other = (str(code) for code in random.permutation(b.AXES)[:2])
    first, second = tests[0].channel(one).samples, tests[0].channel(other).samples
    bad = p.changed(tests[0], one, lambda item: p.with_samples(item, second))
    bad = p.changed(bad, other, lambda item: p.with_samples(item, first))
    return [bad], tests[1:], min(one, other)


def probe_force_wrong(random: Random) -> tuple[list[Recording], list[Recording], str]:
    """Measure a force that is not mass times acceleration."""
    gain = float(np.exp(random.uniform(np.log(1.25), np.log(2)))) ** float(random.choice([-1, 1]))
    return [b.probe_test("T1", random, force_gain=gain)], [], b.FORCE


def probe_force_unit(random: Random) -> tuple[list[Recording], list[Recording], str]:
    """Measure a force in another unit than the header says."""
    factor = float(random.choice(p.FACTORS)) ** float(random.choice([-1, 1]))
    return [b.probe_test("T1", random, force_gain=factor)], [], b.FORCE


def probe_speed_wrong(random: Random) -> tuple[list[Recording], list[Recording], str]:
    """Measure a speed that is not the integral of the acceleration."""
    gain = float(np.exp(random.uniform(np.log(1.25), np.log(2)))) ** float(random.choice([-1, 1]))
    return [b.probe_test("T1", random, speed_gain=gain)], [], b.SPEED


def other_gain(item: Signal, random: Random) -> Signal:
    """Multiply by a factor that is none between units, nor near one."""
    return p.multiply(item, float(random.choice([0.3, 0.5, 1.8, 3.0, 6.0])))


def turned(item: Signal, random: Random) -> Signal:  # noqa: ARG001 - the shape of every change
    """Turn the sign."""
    return p.multiply(item, -1.0)


PLANTS: dict[str, tuple[str, Plant]] = {
    "saturation": ("saturation", alone(p.saturate, filtered=False)),
    "spike": ("spike", alone(p.add_spikes)),
    "dropout": ("dropout", alone(p.drop_out)),
    "uneven step": ("uneven step", alone(p.lose_samples)),
    "no pre-trigger": ("no pre-trigger", alone(p.cut_start)),
    "offset": ("offset", alone(p.add_offset)),
    "drift alone": ("drift", alone(p.add_drift)),
    "drift among repeats": ("drift", among_repeats(p.add_drift)),
    "noise": ("noise", alone(p.add_noise)),
    "resolution": ("resolution", alone(p.coarsen, filtered=False)),
    "range": ("range", beyond_range),
    "filter class": ("filter class", wrong_class),
    "copy": ("copy", copied),
    "sample rate": ("sample rate", among_repeats(p.wrong_rate)),
    "polarity": ("polarity", among_repeats(turned)),
    "unit": ("unit", among_repeats(p.wrong_unit)),
    "gain": ("gain", among_repeats(other_gain)),
    "time zero": ("time zero", among_repeats(p.late_or_early)),
    "axes": ("axes", exchanged),
    "force of mass": ("redundancy", probe_force_wrong),
    "force in another unit": ("unit", probe_force_unit),
    "integral": ("redundancy", probe_speed_wrong),
}


def worse_than_a_note(findings: tuple[Finding, ...]) -> list[Finding]:
    """Return errors and warnings."""
    return [finding for finding in findings if finding.severity != "note"]


@pytest.mark.parametrize("name", PLANTS)
def test_planted_faults_are_found(name: str) -> None:
    """At least 95 % of 200 random recordings with this fault are reported, of the right kind and channel."""
    kind, plant = PLANTS[name]
    random = np.random.default_rng([1994, *name.encode()])
    found = 0
    for _ in range(COUNT):
        tests, others, code = plant(random)
        findings = worse_than_a_note(check(tests, against=others).findings)
        found += any(finding.kind == kind and finding.channel == code for finding in findings)
    assert found >= LEAST_RECALL * COUNT, f"{found} of {COUNT}"


def false_alarms(outcomes: list[list[Finding]]) -> str:
    """Return what was found where nothing was planted."""
    return "\n".join(f"{f.severity} {f.kind} {f.channel}: {f.what}" for one in outcomes for f in one)


def test_clean_recordings_pass() -> None:
    """Of 200 random clean recordings of one channel at most 2 % are called anything worse than a note."""
    random = np.random.default_rng(4242)
    outcomes = [
        worse_than_a_note(check([b.one_channel_bench(random).repeat("T1", random)]).findings)
        for _ in range(COUNT)
    ]
    assert sum(map(bool, outcomes)) <= MOST_FALSE_ALARMS * COUNT, false_alarms(outcomes)


def test_clean_sets_of_repeats_pass() -> None:
    """The same for 200 sets of three repeats of a three-axis sensor, every channel of the first counted."""
    random = np.random.default_rng(4343)
    outcomes = []
    for _ in range(COUNT):
        bench = b.three_axis_bench(random)
        tests = [bench.repeat(f"T{index}", random) for index in range(3)]
        outcomes.append(worse_than_a_note(check(tests[:1], against=tests[1:]).findings))
    assert sum(map(bool, outcomes)) <= MOST_FALSE_ALARMS * COUNT, false_alarms(outcomes)


def test_clean_probes_pass() -> None:
    """The same for 200 probes whose force, acceleration and speed agree."""
    random = np.random.default_rng(4444)
    outcomes = [worse_than_a_note(check([b.probe_test("T1", random)]).findings) for _ in range(COUNT)]
    assert sum(map(bool, outcomes)) <= MOST_FALSE_ALARMS * COUNT, false_alarms(outcomes)
