"""The rating of ISO/TS 18571:2014 once more: slow, literal, in plain Python, from the published description.

Shares no code with the package. Lists instead of arrays, one loop a formula, exact fractions for the
shares of the sample count.
"""

from __future__ import annotations

import math
from fractions import Fraction

TIE = 1e-12
INFINITY = float("inf")


def corridor(test: list[float], model: list[float]) -> float:
    """Score each sample between the corridors, then average."""
    norm = max(abs(value) for value in test)
    inner, outer = 0.05 * norm, 0.50 * norm
    total = []
    for t, c in zip(test, model, strict=True):
        error = abs(t - c)
        if error <= inner:
            total.append(1.0)
        elif error >= outer:
            total.append(0.0)
        else:
            total.append(((outer - error) / (outer - inner)) ** 2)
    return math.fsum(total) / len(total)


def correlation(first: list[float], second: list[float]) -> float:
    """Normalised cross-correlation of two lists, their means removed; flat gives minus infinity."""
    mean_first = math.fsum(first) / len(first)
    mean_second = math.fsum(second) / len(second)
    a = [value - mean_first for value in first]
    b = [value - mean_second for value in second]
    energy_a, energy_b = math.fsum(x * x for x in a), math.fsum(x * x for x in b)
    if energy_a == 0.0 or energy_b == 0.0:
        return -INFINITY
    return math.fsum(x * y for x, y in zip(a, b, strict=True)) / math.sqrt(energy_a * energy_b)


def overlap(test: list[float], model: list[float], delay: int) -> tuple[list[float], list[float]]:
    """Cut both to what they share when the model moves ``delay`` samples to earlier times."""
    size = len(test)
    if delay >= 0:
        return test[: size - delay], model[delay:]
    return test[-delay:], model[: size + delay]


def best_delay(test: list[float], model: list[float]) -> int:
    """Try shifts 0, 1, 2 … to both sides; a later one must be better to win."""
    largest = math.floor(Fraction(2, 10) * len(test))
    found = {}
    for m in range(largest + 1):
        for delay in (m, -m):
            found[delay] = correlation(*overlap(test, model, delay))
    highest = max(found.values())
    for delay, value in found.items():
        if value >= highest - TIE:
            return delay
    raise AssertionError


def warped(test: list[float], model: list[float]) -> list[tuple[int, int]]:
    """Path of least summed squared difference, pairs (model index, test index)."""
    size = len(test)
    band = math.ceil(Fraction(1, 10) * size)
    cost: dict[tuple[int, int], float] = {}
    origin: dict[tuple[int, int], tuple[int, int]] = {}
    for i in range(size):
        for j in range(max(0, i - band), min(size, i + band + 1)):
            local = (model[i] - test[j]) ** 2
            if i == 0 and j == 0:
                cost[0, 0] = local
                continue
            best, best_origin = INFINITY, (-1, -1)
            for before in ((i - 1, j - 1), (i - 1, j), (i, j - 1)):
                if cost.get(before, INFINITY) < best:
                    best, best_origin = cost[before], before
            cost[i, j] = best + local
            origin[i, j] = best_origin
    path = [(size - 1, size - 1)]
    while path[-1] != (0, 0):
        path.append(origin[path[-1]])
    return path[::-1]


def slope(values: list[float], step: float) -> list[float]:
    """Central difference, one-sided at the ends, then the shrinking average of nine."""
    last = len(values) - 1
    raw = [(values[1] - values[0]) / step]
    raw += [(values[k + 1] - values[k - 1]) / (2 * step) for k in range(1, last)]
    raw.append((values[last] - values[last - 1]) / step)
    smooth = []
    for k in range(last + 1):
        half = min(4, k, last - k)
        window = raw[k - half : k + half + 1]
        smooth.append(math.fsum(window) / len(window))
    return smooth


def error_score(difference: float, total: float, limit: float) -> float:
    """Fall from 1 to 0 at the limit; nothing against nothing is perfect."""
    if total == 0.0:
        return 1.0 if difference == 0.0 else 0.0
    return max(0.0, (limit - difference / total) / limit)


def rating(test: list[float], model: list[float], step: float) -> dict[str, float]:
    """Return the four scores, their weighted sum and the delay of the model in samples."""
    delay = best_delay(test, model)
    tolerated = 0.2 * len(test)
    t, c = overlap(test, model, delay)
    path = warped(t, c)
    difference = math.fsum(abs(c[i] - t[j]) for i, j in path)
    size = math.fsum(abs(t[j]) for _, j in path)
    slope_t, slope_c = slope(t, step), slope(c, step)
    dead = max(model) - min(model) <= 1e-6 * max(abs(value) for value in test)
    scores = {
        "corridor": corridor(test, model),
        "phase": 0.0 if dead else max(0.0, (tolerated - abs(delay)) / tolerated),
        "magnitude": error_score(difference, size, 0.5),
        "slope": error_score(
            math.fsum(abs(a - b) for a, b in zip(slope_c, slope_t, strict=True)),
            math.fsum(abs(a) for a in slope_t),
            2.0,
        ),
    }
    overall = 0.4 * scores["corridor"] + 0.2 * (scores["phase"] + scores["magnitude"] + scores["slope"])
    return {"overall": overall, **scores, "delay": delay}
