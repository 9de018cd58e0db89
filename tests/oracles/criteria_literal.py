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


def exceeded_ratio(f: list[float], dt: float, limit: list[tuple[float, float]], steps: int) -> float:
    """Step down from the peak: the level over what is allowed for the time that it is held in total."""
    best, top = 0.0, max(f)
    for k in range(steps):
        level = top * (1 - k / steps)
        if level <= 0:
            break
        best = max(best, level / allowed(held(f, dt, level)[0], limit))
    return best


def allowed(duration: float, limit: list[tuple[float, float]]) -> float:
    """Straight lines through the corners (duration, level), constant after the last."""
    for (t0, l0), (t1, l1) in pairwise(limit):
        if duration <= t1:
            return l0 + (l1 - l0) * (duration - t0) / (t1 - t0)
    return limit[-1][1]


def nic(lower: list[float], head: list[float], dt: float) -> float:
    """Add a fifth of the relative acceleration and the square of its running integral."""
    best, velocity, before = -1e300, 0.0, 0.0
    for k, (a, b) in enumerate(zip(lower, head, strict=True)):
        relative = a - b
        if k > 0:
            velocity += 0.5 * (before + relative) * dt
        best = max(best, 0.2 * relative + velocity * velocity)
        before = relative
    return best


def damage(u: list[tuple[float, float, float]], dt: float, parts: int) -> float:
    """Integrate the coupled system by the classical Runge-Kutta rule in small parts of every step."""
    k = [[32142.0 + 1636.3, 0.0, -1636.3], [0.0, 23493.0, 0.0], [-1636.3, 0.0, 16935.0 + 1636.3]]
    a1 = 0.0059148

    def slope(y: list[float], drive: list[float]) -> list[float]:
        position, speed = y[:3], y[3:]
        pull = [sum(k[i][j] * (position[j] + a1 * speed[j]) for j in range(3)) for i in range(3)]
        return [*speed, *(drive[i] - pull[i] for i in range(3))]

    def moved(y: list[float], by: list[float], h: float) -> list[float]:
        return [a + h * b for a, b in zip(y, by, strict=True)]

    y, best, h = [0.0] * 6, 0.0, dt / parts
    for left, right in pairwise(u):
        for part in range(parts):
            drives = [
                [a + (b - a) * (part + at) / parts for a, b in zip(left, right, strict=True)]
                for at in (0.0, 0.5, 1.0)
            ]
            s1 = slope(y, drives[0])
            s2 = slope(moved(y, s1, h / 2), drives[1])
            s3 = slope(moved(y, s2, h / 2), drives[1])
            s4 = slope(moved(y, s3, h), drives[2])
            y = [
                value + h / 6 * (p + 2 * q + 2 * r + t)
                for value, p, q, r, t in zip(y, s1, s2, s3, s4, strict=True)
            ]
        best = max(best, 2.9903 * sum(value * value for value in y[:3]) ** 0.5)
    return best


def largest_of_sum(curves: list[list[float]]) -> tuple[float, int]:
    """Add up sample by sample; the largest size and where it is."""
    best, where = 0.0, 0
    for k in range(len(curves[0])):
        total = abs(sum(curve[k] for curve in curves))
        if total > best:
            best, where = total, k
    return best, where
