"""The measures beside the main rating as literal loops, slow on purpose, written from their papers."""

from __future__ import annotations

import math
from itertools import pairwise


def dot(first: list[float], second: list[float]) -> float:
    """Sum of products."""
    total = 0.0
    for a, b in zip(first, second, strict=True):
        total += a * b
    return total


def sprague_geers(r: list[float], c: list[float]) -> dict[str, float]:
    """Sprague and Geers 2004: the integrals as sums, the phase as an arc cosine."""
    rr, cc, rc = dot(r, r), dot(c, c), dot(r, c)
    m = math.sqrt(cc / rr) - 1
    p = math.acos(max(-1.0, min(1.0, rc / math.sqrt(rr * cc)))) / math.pi
    return {"magnitude": m, "phase": p, "comprehensive": math.sqrt(m * m + p * p)}


def russell(r: list[float], c: list[float]) -> dict[str, float]:
    """Russell 1997."""
    rr, cc, rc = dot(r, r), dot(c, c), dot(r, c)
    m = (cc - rr) / math.sqrt(rr * cc)
    size = math.log10(1 + abs(m)) * (1 if m >= 0 else -1)
    p = math.acos(max(-1.0, min(1.0, rc / math.sqrt(rr * cc)))) / math.pi
    return {
        "magnitude": size,
        "phase": p,
        "comprehensive": math.sqrt(math.pi / 4 * (size * size + p * p)),
    }


def arrival(curve: list[float]) -> float:
    """Return when a curve first reaches 5 % of its peak, in samples, on a straight line."""
    level = 0.05 * max(abs(value) for value in curve)
    if abs(curve[0]) >= level:
        return 0.0
    for i, (before, after) in enumerate(pairwise(curve)):
        if abs(after) >= level:
            return i + (level - abs(before)) / (abs(after) - abs(before))
    raise AssertionError


def knowles_gear(r: list[float], c: list[float]) -> dict[str, float]:
    """Knowles and Gear 2004 in the ratio form, exponent 2, candidate read at the shifted time."""
    ta_r, ta_c = arrival(r), arrival(c)
    peak = max(abs(value) for value in r)
    top = bottom = 0.0
    for i, value in enumerate(r):
        place = i + (ta_c - ta_r)
        if value == 0 or place < 0 or place > len(c) - 1:
            continue
        left = min(math.floor(place), len(c) - 2)
        moved = c[left] + (place - left) * (c[left + 1] - c[left])
        weight = (abs(value) / peak) ** 2
        top += weight * (moved / value - 1) ** 2
        bottom += weight
    m = math.sqrt(top / bottom)
    a = abs(ta_c - ta_r) / ta_r
    return {"magnitude": m, "arrival": a, "combined": math.sqrt((10 * m * m + 2 * a * a) / 12)}


def theil(r: list[float], c: list[float]) -> dict[str, float]:
    """Theil's U."""
    d = [a - b for a, b in zip(r, c, strict=True)]
    return {"inequality": math.sqrt(dot(d, d)) / (math.sqrt(dot(r, r)) + math.sqrt(dot(c, c)))}


def weighted_integrated_factor(r: list[float], c: list[float]) -> dict[str, float]:
    """Weighted integrated factor, sample by sample."""
    top = bottom = 0.0
    for a, b in zip(r, c, strict=True):
        larger = max(a * a, b * b)
        if larger == 0:
            continue
        top += larger * (1 - max(0.0, a * b) / larger) ** 2
        bottom += larger
    return {"factor": 1 - math.sqrt(top / bottom)}


def normalised_rms(r: list[float], c: list[float]) -> dict[str, float]:
    """Root mean square over the range."""
    total = 0.0
    for a, b in zip(r, c, strict=True):
        total += (a - b) ** 2
    root = math.sqrt(total / len(r))
    return {"error": root / (max(r) - min(r)), "root_mean_square": root}


def pearson(r: list[float], c: list[float]) -> dict[str, float]:
    """Correlation from deviations."""
    mr, mc = sum(r) / len(r), sum(c) / len(c)
    dr, dc = [a - mr for a in r], [b - mc for b in c]
    return {"correlation": dot(dr, dc) / math.sqrt(dot(dr, dr) * dot(dc, dc))}


def cross_correlation(r: list[float], c: list[float]) -> dict[str, float]:
    """Try every shift of zero-padded curves."""
    n = len(r)
    scale = math.sqrt(dot(r, r) * dot(c, c))
    best = -math.inf
    for m in range(1 - n, n):
        total = 0.0
        for i in range(n):
            if 0 <= i + m < n:
                total += r[i] * c[i + m]
        best = max(best, total / scale)
    return {"correlation": best}


def residual(r: list[float], c: list[float]) -> dict[str, float]:
    """Mean and sample deviation of the residual over the peak."""
    peak = max(abs(value) for value in r)
    e = [(b - a) / peak for a, b in zip(r, c, strict=True)]
    mean = sum(e) / len(e)
    return {"mean": mean, "deviation": math.sqrt(sum((x - mean) ** 2 for x in e) / (len(e) - 1))}


def area_between(references: list[float], candidates: list[float]) -> float:
    """Integrate the difference of two step functions between all neighbouring values."""
    total = 0.0
    for low, high in pairwise(sorted([*references, *candidates])):
        middle = 0.5 * (low + high)
        first = sum(value <= middle for value in references) / len(references)
        second = sum(value <= middle for value in candidates) / len(candidates)
        total += abs(first - second) * (high - low)
    return total
