"""The whole rating against the warping path alone of two general libraries, and many ratings at once."""

from __future__ import annotations

import functools
import math
import os
from typing import TYPE_CHECKING

import numpy as np
from dtaidistance import dtw
from tslearn.metrics import dtw_path

from correlate import AlignedPair, rate, rate_many
from tests.benchmarks.memory import added_peak_mb
from tests.benchmarks.table import Row, compare

if TYPE_CHECKING:
    from collections.abc import Iterator

SIZES = (1_500, 3_500, 35_000)
"""A crash at 10 kHz, a longer event, and a second and a half at the rate of a recorder."""
MOST_FOR_FULL_MATRIX = 10_000
"""The second library holds two matrices of n × n float64: 20 GB at 35,000 samples."""
MANY = 200

PREPARE = """
from correlate import rate
from tests.benchmarks.rating import crash_pulse
rate(crash_pulse(200))
pair = crash_pulse({samples})
"""


def crash_pulse(samples: int, *, seed: int = 1) -> AlignedPair:
    """Return a pulse with ringing and noise, and a late, low, broad copy of it."""
    random = np.random.default_rng(seed)
    time_s = np.arange(samples, dtype=np.float64) * 1e-4
    share = np.linspace(0.0, 1.0, samples)
    reference = np.exp(-(((share - 0.4) / 0.08) ** 2)) + 0.1 * np.exp(-3 * share) * np.sin(40 * share)
    candidate = 0.9 * np.exp(-(((share - 0.43) / 0.09) ** 2)) + 0.1 * np.exp(-2 * share) * np.sin(43 * share)
    noise = 0.01 * random.standard_normal((2, samples))
    return AlignedPair(time=time_s, reference=reference + noise[0], candidate=candidate + noise[1])


def rows() -> Iterator[Row]:
    """Compare one core with one core; the band is a tenth of the overlap on both sides."""
    for samples in SIZES:
        yield from _against_warping(samples)


def rows_of_many() -> Iterator[Row]:
    """Compare many ratings at once with one after the other."""
    pairs = [crash_pulse(1_500, seed=seed) for seed in range(MANY)]
    one_by_one = functools.partial(_one_by_one, pairs)
    for threads in sorted({1, os.cpu_count() or 1}):
        yield compare(
            f"{MANY} ratings at once, {threads} thread{'s' if threads > 1 else ''}, against one by one",
            functools.partial(rate_many, pairs, threads=threads),
            one_by_one,
            goal=2.0 if threads > 1 else None,
        )


def rows_of_memory() -> Iterator[str]:
    """Say how the memory of one rating grows: that of the warping is linear in the samples."""
    yield "| samples | one rating adds at its peak (MB) | bytes a sample |\n| ---: | ---: | ---: |"
    for samples in (35_000, 70_000, 140_000):
        added = added_peak_mb(PREPARE.format(samples=samples), "rate(pair)")
        yield f"| {samples:,} | {added:.1f} | {added * 2**20 / samples:.0f} |"


def _against_warping(samples: int) -> Iterator[Row]:
    pair = crash_pulse(samples)
    overlap = rate(pair).ingredients.overlap_samples
    band = math.ceil(overlap / 10)
    first, second = np.array(pair.candidate[:overlap]), np.array(pair.reference[:overlap])
    peers = {"a general C library": functools.partial(dtw.warping_path_fast, first, second, window=band + 1)}
    if samples <= MOST_FOR_FULL_MATRIX:
        peers["a second general library"] = functools.partial(
            dtw_path, first, second, global_constraint="sakoe_chiba", sakoe_chiba_radius=band
        )
    added = added_peak_mb(PREPARE.format(samples=samples), "rate(pair)")
    for name, peer in peers.items():
        yield compare(
            f"whole rating, {samples:,} samples, against the warping path of {name}",
            functools.partial(rate, pair),
            peer,
            goal=4.0 if samples == SIZES[0] else None,
            repetitions=9 if samples <= MOST_FOR_FULL_MATRIX else 5,
            times=max(1, 30_000 // samples),
            peak_mb=added,
        )


def _one_by_one(pairs: list[AlignedPair]) -> None:
    for pair in pairs:
        rate(pair)
