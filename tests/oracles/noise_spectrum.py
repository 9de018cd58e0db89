"""Likelihood of a filtered noise floor once more: explicit sums, and a general minimiser for its level."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

Floats = NDArray[np.float64]


def double_pass_power(frequency_hz: float, cfc: int, step_s: float) -> float:
    """Power gain of the second-order Butterworth filter of SAE J211-1, forwards and backwards."""
    corner = math.tan(math.pi * 2.0775 * cfc * step_s)
    return (1 + (math.tan(math.pi * frequency_hz * step_s) / corner) ** 4) ** -2


def periodogram(samples: Floats, step_s: float) -> tuple[list[float], list[float]]:
    """Frequencies and power of the samples, line removed, tapered, by the sum of each frequency."""
    count = samples.size
    index = np.arange(count)
    rest = samples - np.polyval(np.polyfit(index, samples, 1), index)
    taper = np.array([0.5 - 0.5 * math.cos(2 * math.pi * (k + 1) / (count + 1)) for k in range(count)])
    inside = range(2, count // 2)
    power = [
        abs(np.sum(rest * taper * np.exp(-2j * math.pi * k * index / count))) ** 2 / float(np.sum(taper**2))
        for k in inside
    ]
    return [k / (count * step_s) for k in inside], [float(one) for one in power]


def log_likelihood(samples: Floats, step_s: float, cfc: int | None, count_size: float) -> float:
    """Whittle likelihood at the best level of the noise; each bin counts two thirds because of the taper."""
    frequency, power = periodogram(samples, step_s)
    gain = [1.0 if cfc is None else double_pass_power(one, cfc, step_s) for one in frequency]
    floor = count_size**2 / 12 + 1e-12 * max(power)

    def loss(log_level: float) -> float:
        levels = [math.exp(log_level) * one + floor for one in gain]
        return sum(math.log(s) + p / s for s, p in zip(levels, power, strict=True))

    middle = math.log(max(power))
    found = minimize_scalar(loss, bounds=(middle - 18, middle + 7), method="bounded", options={"xatol": 1e-6})
    return -2 / 3 * float(found.fun)
