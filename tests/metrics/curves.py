"""Curves to rate, made from a few numbers; shared by the tests of the measures."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from hypothesis import strategies as st

from correlate import AlignedPair

if TYPE_CHECKING:
    from numpy.typing import NDArray


def grid(samples: int) -> NDArray[np.float64]:
    """Return a time base of 0.1 ms."""
    return np.arange(samples, dtype=np.float64) * 1e-4


def pulse(samples: int, *, start: int, length: int, height: float = 1.0) -> NDArray[np.float64]:
    """Return a sine-squared pulse that is zero before and after."""
    values = np.zeros(samples)
    phase = np.arange(length) / length
    values[start : start + length] = height * np.sin(np.pi * phase) ** 2
    return values


def pair_of(reference: NDArray[np.float64], candidate: NDArray[np.float64]) -> AlignedPair:
    """Put two curves on a 0.1 ms grid."""
    return AlignedPair(time=grid(reference.size), reference=reference, candidate=candidate)


@st.composite
def noisy_pairs(draw: st.DrawFn, *, least: int = 20, most: int = 120) -> AlignedPair:
    """Draw a pulse with ringing and noise, and a changed copy of it."""
    samples = draw(st.integers(least, most))
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    time = np.linspace(0.0, 1.0, samples)
    centre, width = random.uniform(0.2, 0.8), random.uniform(0.03, 0.3)
    reference = np.exp(-(((time - centre) / width) ** 2)) + 0.2 * np.sin(random.uniform(2, 40) * time)
    late = random.uniform(-0.15, 0.15)
    candidate = random.uniform(0.5, 1.5) * np.exp(-(((time - centre - late) / (1.2 * width)) ** 2))
    noise = random.choice([0.0, 0.01, 0.2])
    return pair_of(
        reference + noise * random.standard_normal(samples),
        candidate + noise * random.standard_normal(samples),
    )
