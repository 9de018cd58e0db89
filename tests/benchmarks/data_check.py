"""How much the data check finds on other seeds: ``python -m tests.benchmarks.data_check``."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import numpy as np

from correlate.reference.check import check
from tests.reference import bench
from tests.reference.test_check_random import PLANTS, worse_than_a_note

if TYPE_CHECKING:
    from correlate import Recording

COUNT = 500
SEED = 20_260


def found_share(name: str) -> float:
    """Return the share of recordings in which a planted fault was found, of the right kind and channel."""
    kind, plant = PLANTS[name]
    random = np.random.default_rng([SEED, *name.encode()])
    found = 0
    for _ in range(COUNT):
        tests, others, code = plant(random)
        findings = worse_than_a_note(check(tests, against=others).findings)
        found += any(finding.kind == kind and finding.channel == code for finding in findings)
    return found / COUNT


def false_alarm_share(kind: str) -> float:
    """Return the share of clean recordings with an error or a warning."""
    random = np.random.default_rng([SEED, *kind.encode()])
    alarms = 0
    for _ in range(COUNT):
        tests, others = _clean(kind, random)
        alarms += bool(worse_than_a_note(check(tests, against=others).findings))
    return alarms / COUNT


def _clean(kind: str, random: np.random.Generator) -> tuple[list[Recording], list[Recording]]:
    if kind == "one channel":
        return [bench.one_channel_bench(random).repeat("T1", random)], []
    if kind == "probe":
        return [bench.probe_test("T1", random)], []
    place = bench.three_axis_bench(random)
    tests = [place.repeat(f"T{index}", random) for index in range(3)]
    return tests[:1], tests[1:]


def main() -> None:
    """Print both tables."""
    print(f"| planted in {COUNT} random recordings, seed {SEED} | found |\n| --- | --- |")
    for name in PLANTS:
        print(f"| {name} | {found_share(name):.1%} |")
        sys.stdout.flush()
    print(f"\n| {COUNT} clean recordings | called an error or a warning |\n| --- | --- |")
    for kind in ("one channel", "three axes among repeats", "probe"):
        print(f"| {kind} | {false_alarm_share(kind):.1%} |")


if __name__ == "__main__":
    main()
