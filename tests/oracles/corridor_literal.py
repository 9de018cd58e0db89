"""Corridors of repeats sample by sample, with the statistics of the standard library. Shares no code."""

from __future__ import annotations

import statistics


def mean_and_deviation(curves: list[list[float]]) -> tuple[list[float], list[float]]:
    """Return mean and standard deviation (k - 1 degrees of freedom) at every sample."""
    columns = list(zip(*curves, strict=True))
    return [statistics.fmean(one) for one in columns], [statistics.stdev(one) for one in columns]


def inside(lower: list[float], upper: list[float], curve: list[float]) -> tuple[float, float]:
    """Return the share of samples between the edges, and the largest distance from them."""
    beyond = [max(low - x, x - high, 0.0) for low, high, x in zip(lower, upper, curve, strict=True)]
    return sum(one == 0.0 for one in beyond) / len(beyond), max(beyond)
