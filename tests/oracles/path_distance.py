"""Signed distance from points to a polyline, segment by segment. Literal; shares no code."""

from __future__ import annotations

import math
from itertools import pairwise

Point = tuple[float, float]


def signed_distance(point: Point, line: list[Point]) -> float:
    """Return the distance of a point from a polyline, positive to the left of its direction."""
    best, sign = math.inf, 1.0
    for (x1, y1), (x2, y2) in pairwise(line):
        dx, dy = x2 - x1, y2 - y1
        length = math.hypot(dx, dy)
        if length == 0:
            continue
        along = ((point[0] - x1) * dx + (point[1] - y1) * dy) / length
        along = min(max(along, 0.0), length)
        foot = (x1 + along * dx / length, y1 + along * dy / length)
        distance = math.dist(point, foot)
        if distance < best:
            best = distance
            sign = 1.0 if dx * (point[1] - foot[1]) - dy * (point[0] - foot[0]) >= 0 else -1.0
    return sign * best
