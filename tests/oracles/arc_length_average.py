"""The mean path of repeats at equal shares of arc length, point by point. Literal; shares no code."""

from __future__ import annotations

import math
import statistics
from itertools import pairwise

Points = list[tuple[float, float]]


def mean_point(paths: list[Points], share: float) -> tuple[float, float, float, float]:
    """Return mean and standard deviation of x and of y at a share of the arc length of every path."""
    x_scale = statistics.fmean(max(abs(x) for x, _ in path) for path in paths)
    y_scale = statistics.fmean(max(abs(y) for _, y in path) for path in paths)
    found = [_point_at(path, share, x_scale, y_scale) for path in paths]
    xs, ys = [x for x, _ in found], [y for _, y in found]
    return statistics.fmean(xs), statistics.fmean(ys), statistics.stdev(xs), statistics.stdev(ys)


def _point_at(path: Points, share: float, x_scale: float, y_scale: float) -> tuple[float, float]:
    lengths = [math.hypot((x2 - x1) / x_scale, (y2 - y1) / y_scale) for (x1, y1), (x2, y2) in pairwise(path)]
    left = share * sum(lengths)
    for length, ((x1, y1), (x2, y2)) in zip(lengths, pairwise(path), strict=True):
        if left <= length and length > 0:
            part = left / length
            return x1 + part * (x2 - x1), y1 + part * (y2 - y1)
        left -= length
    return path[-1]
