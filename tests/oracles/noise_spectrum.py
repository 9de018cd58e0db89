"""Likelihood of a filtered noise floor once more: explicit sums, and a general minimiser for its level."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar

Floats = NDArray[np.float64]


def double_pass_power(frequency_hz: float, cfc: int, step_s: float) -> float:
    """Power gain of the second-order Butterworth filter of SAE J211-1, forwards and backwards."""
    corner = math.tan(math.pi * 2.0775 * cfc * step_s)
    return (1 + (math.tan(math.pi * frequency_hz * step_s) / corner) ** 4) ** -2


def double_pass_autocorrelation(lag: int, cfc: int, step_s: float) -> float:
    """Autocorrelation of filtered white noise: the mean of its power times a cosine over all frequencies."""
    fine = 4096
    terms = [
        double_pass_power((k + 0.5) / (2 * fine * step_s), cfc, step_s)
        * math.cos(math.pi * (k + 0.5) / fine * lag)
        for k in range(fine)
    ]
    return sum(terms) / fine


@cache
def expected_power(count: int, cfc: int, step_s: float) -> list[float]:
    """Power that the tapered periodogram of filtered noise has on average, lag by lag."""
    taper = np.array([0.5 - 0.5 * math.cos(2 * math.pi * (k + 1) / (count + 1)) for k in range(count)])
    weights = [float(taper[lag:] @ taper[: count - lag]) / float(taper @ taper) for lag in range(count)]
    products = [weight * double_pass_autocorrelation(lag, cfc, step_s) for lag, weight in enumerate(weights)]
    return [
        products[0]
        + 2 * sum(products[lag] * math.cos(2 * math.pi * k * lag / count) for lag in range(1, count))
        for k in range(2, count // 2)
    ]


def periodogram(samples: Floats) -> list[float]:
    """Power of the samples, line removed, tapered, by the sum of each frequency."""
    count = samples.size
    index = np.arange(count)
    rest = samples - np.polyval(np.polyfit(index, samples, 1), index)
    taper = np.array([0.5 - 0.5 * math.cos(2 * math.pi * (k + 1) / (count + 1)) for k in range(count)])
    inside = range(2, count // 2)
    return [
        float(abs(np.sum(rest * taper * np.exp(-2j * math.pi * k * index / count))) ** 2 / np.sum(taper**2))
        for k in inside
    ]


def log_likelihood(samples: Floats, step_s: float, cfc: int | None, count_size: float) -> float:
    """Whittle likelihood at the best level of the noise; each bin counts two thirds because of the taper."""
    power = periodogram(samples)
    gain = [1.0] * len(power) if cfc is None else expected_power(samples.size, cfc, step_s)
    floor = count_size**2 / 12 + 1e-7 * max(power)

    def loss(log_level: float) -> float:
        levels = [math.exp(log_level) * one + floor for one in gain]
        return sum(math.log(s) + p / s for s, p in zip(levels, power, strict=True))

    middle = math.log(max(power))
    found = minimize_scalar(loss, bounds=(middle - 18, middle + 7), method="bounded", options={"xatol": 1e-6})
    return -2 / 3 * float(found.fun)
