"""The channel frequency class filter against the plain call of scipy on the same samples."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

import numpy as np
from scipy.signal import sosfiltfilt

from correlate import Signal
from correlate.conditioning.filters import cfc_coefficients, filter_cfc, pad_samples
from tests.benchmarks.memory import added_peak_mb
from tests.benchmarks.table import Row, compare

if TYPE_CHECKING:
    from collections.abc import Iterator

CFC = 180
SIZES = (1_500, 35_000)

PREPARE = """
from correlate.conditioning.filters import filter_cfc
from tests.benchmarks.filtering import noise
filter_cfc(noise(200), 180)
signal = noise({samples})
"""


def noise(samples: int) -> Signal:
    """Return noise at 10 kHz."""
    values = np.random.default_rng(2).standard_normal(samples)
    return Signal(samples=values, start_s=0.0, step_s=1e-4, unit="g", channel="noise")


def rows() -> Iterator[Row]:
    """Compare; ours also checks the rate, extends the ends, and records the step."""
    for samples in SIZES:
        signal = noise(samples)
        found = cfc_coefficients(CFC, signal.step_s)
        section = np.array([[found.a0, found.a1, found.a2, 1.0, -found.b1, -found.b2]])
        plain = functools.partial(
            sosfiltfilt, section, np.array(signal.samples), padtype="odd", padlen=pad_samples(signal)
        )
        np.testing.assert_allclose(filter_cfc(signal, CFC).samples, plain(), rtol=0, atol=1e-9)
        yield compare(
            f"CFC {CFC}, {samples:,} samples, against the plain two-way filter of scipy",
            functools.partial(filter_cfc, signal, CFC),
            plain,
            repetitions=9,
            times=max(1, 150_000 // samples),
            peak_mb=added_peak_mb(PREPARE.format(samples=samples), "filter_cfc(signal, 180)"),
        )
