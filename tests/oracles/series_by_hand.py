"""Changes in a series of tests, written out literally: sums for lines, loops over every place of a step."""

from __future__ import annotations

import math
import statistics

from scipy import stats


def line_with_levels(
    years: list[float], values: list[float], parts: list[list[int]]
) -> tuple[float, float, list[float], list[float], int]:
    """Return slope, its standard error, the jumps between parts, their standard errors, and degrees.

    Analysis of covariance by its textbook sums: the slope pools the parts, each level is the mean of its part
    carried to time zero along the slope.
    """
    mean_t = [statistics.fmean(years[i] for i in part) for part in parts]
    mean_x = [statistics.fmean(values[i] for i in part) for part in parts]
    within = [(i, t, x) for part, t, x in zip(parts, mean_t, mean_x, strict=True) for i in part]
    s_tt = math.fsum((years[i] - t) ** 2 for i, t, _ in within)
    s_tx = math.fsum((years[i] - t) * (values[i] - x) for i, t, x in within)
    slope = s_tx / s_tt
    left = math.fsum((values[i] - x - slope * (years[i] - t)) ** 2 for i, t, x in within)
    degrees = len(values) - len(parts) - 1
    variance = left / degrees
    jumps, errors = [], []
    for k in range(1, len(parts)):
        gap = mean_t[k] - mean_t[k - 1]
        jumps.append(mean_x[k] - mean_x[k - 1] - slope * gap)
        share = 1 / len(parts[k]) + 1 / len(parts[k - 1]) + gap**2 / s_tt
        errors.append(math.sqrt(variance * share))
    return slope, math.sqrt(variance / s_tt), jumps, errors, degrees


def half_width(error: float, degrees: int, comparisons: int) -> float:
    """Return half of Student's 95 % interval, divided among comparisons."""
    return float(stats.t.ppf(1 - 0.025 / comparisons, degrees)) * error


def largest_ratio(values: list[float]) -> tuple[int, float]:
    """Return where the two-sample Student ratio is largest, at least two values on either side."""
    best, at = -1.0, 0
    for k in range(2, len(values) - 1):
        ratio = abs(float(stats.ttest_ind(values[:k], values[k:]).statistic))
        if ratio > best:
            best, at = ratio, k
    return at, best
