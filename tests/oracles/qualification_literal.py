"""The quantities of qualification windows as literal loops.

Written from 49 CFR Part 572 and the definitions in the documentation. Lists instead of arrays. Shares no code
with the package; the filter is the literal loop beside this file.
"""

from __future__ import annotations

import math

from tests.oracles.cfc_loop import cfc_by_loop

FILTER_EXTENSION_S = 0.010
OFFSET_END_S = -0.005
ROUNDING_S = 1e-9


def prepared(samples: list[float], times: list[float], cfc: int) -> list[float]:
    """Take the mean up to 5 ms before contact off, and filter."""
    early = [x for x, t in zip(samples, times, strict=True) if t <= OFFSET_END_S + ROUNDING_S]
    offset = math.fsum(early) / len(early)
    dt = (times[-1] - times[0]) / (len(times) - 1)
    pad = math.ceil(FILTER_EXTENSION_S / dt - 1e-6)
    return cfc_by_loop([x - offset for x in samples], cfc, dt, pad)


def cut(
    samples: list[float], times: list[float], start_s: float, end_s: float
) -> tuple[list[float], list[float]]:
    """Keep what lies in an interval."""
    kept = [i for i, t in enumerate(times) if start_s - ROUNDING_S <= t <= end_s + ROUNDING_S]
    return [samples[i] for i in kept], [times[i] for i in kept]


def highest(samples: list[float], times: list[float]) -> tuple[float, float]:
    """Return the largest value and when it is there first."""
    value = max(samples)
    return value, times[samples.index(value)]


def decay(samples: list[float], times: list[float], level: float) -> float:
    """Return when the curve is at a level for the first time after its largest value."""
    i = samples.index(max(samples))
    while samples[i] > level:
        i += 1
    share = (samples[i - 1] - level) / (samples[i - 1] - samples[i])
    return times[i - 1] + share * (times[i] - times[i - 1])


def oscillation(samples: list[float]) -> float:
    """Return the largest rise between any two samples after the peak, as a share of the peak."""
    top = samples.index(max(samples))
    after = samples[top:]
    rise = max(after[j] - after[i] for i in range(len(after)) for j in range(i, len(after)))
    return rise / samples[top]


def hysteresis(force: list[float], path: list[float]) -> float:
    """Return the share of the work of loading that is not given back."""
    turn = path.index(max(path))
    loading = returned = 0.0
    for i in range(turn):
        loading += 0.5 * (force[i] + force[i + 1]) * (path[i + 1] - path[i])
    i = turn
    while i < len(path) - 1 and force[i] > 0:
        if path[i] < 0.5 * path[turn] and path[i + 1] > path[i]:
            break
        returned += 0.5 * (force[i] + force[i + 1]) * (path[i] - path[i + 1])
        i += 1
    return 1.0 - returned / loading
