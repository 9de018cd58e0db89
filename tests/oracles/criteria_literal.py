"""The injury criteria as literal loops, slow on purpose, written from their definitions."""

from __future__ import annotations

from itertools import pairwise


def hic(a: list[float], dt: float, window: float) -> float:
    """Try every window: duration times mean acceleration to the power of 2.5."""
    best = 0.0
    for i in range(len(a)):
        area = 0.0
        for j in range(i + 1, len(a)):
            area += 0.5 * (a[j - 1] + a[j]) * dt
            duration = (j - i) * dt
            if duration > window * (1 + 1e-9):
                break
            mean = area / duration
            if mean > 0:
                best = max(best, duration * mean**2.5)
    return best


def severity_index(a: list[float], dt: float) -> float:
    """Trapezoids of a to the power of 2.5."""
    total = 0.0
    for low, high in pairwise(a):
        total += 0.5 * (max(low, 0.0) ** 2.5 + max(high, 0.0) ** 2.5) * dt
    return total


def held(a: list[float], dt: float, level: float) -> tuple[float, float]:
    """Return the time in total and in the longest stretch at or above a level, straight lines between."""
    total = longest = stretch = 0.0
    for left, right in pairwise(a):
        if left >= level and right >= level:
            stretch += dt
            total += dt
        elif left >= level:
            part = dt * (left - level) / (left - right)
            total += part
            longest = max(longest, stretch + part)
            stretch = 0.0
        elif right >= level:
            part = dt * (right - level) / (right - left)
            total += part
            longest = max(longest, stretch)
            stretch = part
        longest = max(longest, stretch)
    return total, longest


def clip(a: list[float], dt: float, duration: float, *, which: int) -> float:
    """Halve the level until it is the highest that is held; ``which`` is 0 for total, 1 for one stretch."""
    low, high = min(a), max(a) + 1.0
    for _ in range(200):
        middle = 0.5 * (low + high)
        if held(a, dt, middle)[which] >= duration * (1 - 1e-12):
            low = middle
        else:
            high = middle
    return low


def rate(d: list[float], dt: float, i: int) -> float:
    """Return the five-point rate at one sample."""
    return (8 * (d[i + 1] - d[i - 1]) - (d[i + 2] - d[i - 2])) / (12 * dt)


def viscous(d_mm: list[float], dt: float, scale: float, depth: float) -> float:
    """Rate times compression, in m."""
    d = [value / 1000 for value in d_mm]
    return max(scale * rate(d, dt, i) * d[i] / depth for i in range(2, len(d) - 2))


def nij(
    force: list[float], moment: list[float], limits: tuple[float, float, float, float]
) -> dict[str, float]:
    """Four cases: at each instant the one that the signs choose; the others are zero."""
    tension, compression, flexion, extension = limits
    best = {"te": 0.0, "tf": 0.0, "ce": 0.0, "cf": 0.0}
    for f, m in zip(force, moment, strict=True):
        for name, held_so_far in best.items():
            if (name[0] == "t") != (f >= 0) and f != 0:
                continue
            if (name[1] == "f") != (m > 0) and m != 0:
                continue
            value = abs(f) / (tension if name[0] == "t" else compression)
            value += abs(m) / (flexion if name[1] == "f" else extension)
            best[name] = max(held_so_far, value)
    return best


def enclosed_area(x: list[float], y: list[float]) -> float:
    """Area inside a closed polygon by the shoelace formula."""
    total = 0.0
    for i in range(len(x)):
        j = (i + 1) % len(x)
        total += x[i] * y[j] - x[j] * y[i]
    return abs(total) / 2
