"""The head injury criterion against looking at every window."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

import numpy as np

from correlate import hic
from tests.benchmarks.memory import added_peak_mb
from tests.benchmarks.table import Row, compare

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

STEP_S = 5e-5
SIZES = (3_500, 35_000)

PREPARE = """
from correlate import hic
from tests.benchmarks.criteria import STEP_S, blow
hic(blow(800), step_s=STEP_S, window_s=0.036)
curve = blow({samples})
"""


def blow(samples: int) -> Floats:
    """Return a resultant of two blows with noise, in g."""
    share = np.linspace(0.0, 1.0, samples)
    blows = 80 * np.exp(-(((share - 0.3) / 0.06) ** 2)) + 60 * np.exp(-(((share - 0.6) / 0.1) ** 2))
    return np.asarray(np.abs(blows + np.random.default_rng(4).standard_normal(samples)))


def every_window(acceleration_g: Floats, step_s: float, window_s: float) -> float:
    """Return the largest value over all windows, one length at a time as a whole array."""
    speed = np.concatenate([[0.0], np.cumsum((acceleration_g[1:] + acceleration_g[:-1]) / 2 * step_s)])
    best = 0.0
    for length in range(1, round(window_s / step_s) + 1):
        gain = float((speed[length:] - speed[:-length]).max())
        best = max(best, max(gain, 0.0) ** 2.5 / (length * step_s) ** 1.5)
    return best


def rows() -> Iterator[Row]:
    """Compare HIC36 at 20 kHz; both find the same value."""
    for samples in SIZES:
        curve = blow(samples)
        ours = functools.partial(hic, curve, step_s=STEP_S, window_s=0.036)
        peer = functools.partial(every_window, curve, STEP_S, 0.036)
        np.testing.assert_allclose(ours().value, peer(), rtol=1e-9)
        yield compare(
            f"HIC36, {samples:,} samples, against every window by numpy",
            ours,
            peer,
            times=max(1, 35_000 // samples),
            peak_mb=added_peak_mb(
                PREPARE.format(samples=samples), "hic(curve, step_s=STEP_S, window_s=0.036)"
            ),
        )
