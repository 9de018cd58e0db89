"""Quantiles of a mean over every resample, counted one by one. Slow and literal; shares no code."""

from __future__ import annotations

import math
from itertools import product


def quantile_of_means(values: list[float], share: float) -> float:
    """Return the smallest mean at or below which lies the share of all resamples."""
    means = sorted(sum(drawn) / len(values) for drawn in product(values, repeat=len(values)))
    return means[max(0, math.ceil(share * len(means) - 1e-9) - 1)]
