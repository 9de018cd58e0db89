"""Corridors of repeats sample by sample, with the statistics of the standard library. Shares no code."""

from __future__ import annotations

import math
import statistics


def mean_and_deviation(curves: list[list[float]]) -> tuple[list[float], list[float]]:
    """Return mean and standard deviation (k - 1 degrees of freedom) at every sample."""
    columns = list(zip(*curves, strict=True))
    return [statistics.fmean(one) for one in columns], [statistics.stdev(one) for one in columns]


def student_of_four(level: float) -> float:
    """Return the two-sided quantile of Student's distribution for four values, from its closed form."""
    low, high = 0.0, 1000.0
    for _ in range(200):
        middle = (low + high) / 2
        u = middle / math.sqrt(3)
        below = 0.5 + (u / (1 + u * u) + math.atan(u)) / math.pi
        low, high = (middle, high) if below < (1 + level) / 2 else (low, middle)
    return low


def inside(lower: list[float], upper: list[float], curve: list[float]) -> tuple[float, float]:
    """Return the share of samples between the edges, and the largest distance from them."""
    beyond = [max(low - x, x - high, 0.0) for low, high, x in zip(lower, upper, curve, strict=True)]
    return sum(one == 0.0 for one in beyond) / len(beyond), max(beyond)
