"""The whole rating against the warping path alone of two general libraries, and how it grows."""

from __future__ import annotations

import functools
import math
import subprocess
import sys
import time
from typing import TYPE_CHECKING

import numpy as np
from dtaidistance import dtw
from tslearn.metrics import dtw_path

from correlate import AlignedPair, rate
from tests.benchmarks.table import Row, compare

if TYPE_CHECKING:
    from collections.abc import Callable

MEMORY_PROBE = """
from pathlib import Path
from correlate import rate
from tests.benchmarks.rating import crash_pulse

def kilobytes(name):
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith(name))

rate(crash_pulse(200))
pair = crash_pulse({samples})
Path("/proc/self/clear_refs").write_text("5")  # forget the peak of the imports
before = kilobytes("VmRSS")
rate(pair)
print(kilobytes("VmHWM") - before)
"""


def crash_pulse(samples: int) -> AlignedPair:
    """Return a pulse with ringing and noise, and a late, low, broad copy of it."""
    random = np.random.default_rng(1)
    time_s = np.arange(samples, dtype=np.float64) * 1e-4
    share = np.linspace(0.0, 1.0, samples)
    reference = np.exp(-(((share - 0.4) / 0.08) ** 2)) + 0.1 * np.exp(-3 * share) * np.sin(40 * share)
    candidate = 0.9 * np.exp(-(((share - 0.43) / 0.09) ** 2)) + 0.1 * np.exp(-2 * share) * np.sin(43 * share)
    noise = 0.01 * random.standard_normal((2, samples))
    return AlignedPair(time=time_s, reference=reference + noise[0], candidate=candidate + noise[1])


def rows() -> list[Row]:
    """Compare at 1,500 samples, one core, band of a tenth of the overlap."""
    pair = crash_pulse(1500)
    overlap = rate(pair).ingredients.overlap_samples
    band = math.ceil(overlap / 10)
    first, second = np.array(pair.candidate[:overlap]), np.array(pair.reference[:overlap])
    ours = functools.partial(_many, functools.partial(rate, pair))
    return [
        compare(
            "whole rating, 1,500 samples, against the warping path of a general C library",
            ours,
            functools.partial(
                _many, functools.partial(dtw.warping_path_fast, first, second, window=band + 1)
            ),
            goal=4.0,
            repetitions=9,
        ),
        compare(
            "whole rating, 1,500 samples, against the warping path of a second general library",
            ours,
            functools.partial(
                _many,
                functools.partial(
                    dtw_path, first, second, global_constraint="sakoe_chiba", sakoe_chiba_radius=band
                ),
            ),
            goal=4.0,
            repetitions=9,
        ),
    ]


def growth() -> str:
    """Time several sizes and fit the growth; the band grows with the size, so power 2 is linear in area."""
    sizes = [750, 1500, 3000, 6000, 12000, 35000]
    seconds = [_best_of(functools.partial(rate, crash_pulse(size)), 3) for size in sizes]
    lines = ["| samples | rating (ms) | ns a band cell |", "| ---: | ---: | ---: |"]
    for size, spent in zip(sizes, seconds, strict=True):
        overlap = rate(crash_pulse(size)).ingredients.overlap_samples
        cells = overlap * (2 * math.ceil(overlap / 10) + 1)
        lines.append(f"| {size:,} | {spent * 1e3:.3g} | {spent / cells * 1e9:.2f} |")
    power = np.polyfit(np.log(sizes[2:]), np.log(seconds[2:]), 1)[0]
    lines.append(f"\nTime grows with samples to the power {power:.2f} (from 3,000 samples up).")
    return "\n".join(lines)


def peak_memory_mb(samples: int = 35_000) -> float:
    """Return the extra memory at the peak of one rating, measured in a process of its own (Linux)."""
    done = subprocess.run(
        [sys.executable, "-c", MEMORY_PROBE.format(samples=samples)],
        capture_output=True,
        text=True,
        check=True,
    )
    return int(done.stdout) / 1024


def _many(call: Callable[[], object], times: int = 20) -> None:
    for _ in range(times):
        call()


def _best_of(call: Callable[[], object], times: int) -> float:
    call()
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        spent.append(time.perf_counter() - start)
    return min(spent)
