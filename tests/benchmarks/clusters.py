"""How often unrelated residuals are taken together: ``python -m tests.benchmarks.clusters``."""

from __future__ import annotations

from typing import Final

import numpy as np
from scipy.ndimage import gaussian_filter1d

from correlate.diagnosis.clusters import cluster_residuals

SAMPLES: Final = 1500
DRAWS: Final = 2000
SEED: Final = 20261
WIDTHS: Final = (0.005, 0.01, 0.02, 0.05, 0.1)
"""Correlation length of a residual as a share of the interval: the standard deviation of its smoothing."""


def chance(width: float, *, draws: int = DRAWS) -> float:
    """Return the share of pairs of independent residuals that are joined.

    Parameters
    ----------
    width
        One of ``WIDTHS``.
    draws
        Pairs drawn.

    Returns
    -------
    float
        Noise smoothed by a Gaussian and dying out over the interval, as a response after an impact does.
    """
    random = np.random.default_rng(SEED)
    fading = np.exp(-np.linspace(0.0, 2.5, SAMPLES))
    joined = 0
    for _ in range(draws):
        rows = fading * gaussian_filter1d(random.standard_normal((2, SAMPLES)), width * SAMPLES, axis=1)
        joined += bool(cluster_residuals({"one": rows[0], "other": rows[1]}))
    return joined / draws


if __name__ == "__main__":
    for width in WIDTHS:
        print(f"correlation length {width:.1%} of the interval: {chance(width):.1%} of {DRAWS} pairs joined")
