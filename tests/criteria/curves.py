"""Curves for the criteria, made from a few numbers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from hypothesis import strategies as st

if TYPE_CHECKING:
    from numpy.typing import NDArray

STEP_S = 1e-4


def half_sine(
    height: float, duration_s: float, *, before_s: float = 0.0, after_s: float = 0.0
) -> NDArray[np.float64]:
    """Return a half-sine pulse with zeros before and after."""
    time = np.arange(round((before_s + duration_s + after_s) / STEP_S) + 1) * STEP_S - before_s
    inside = (time >= 0) & (time <= duration_s + 1e-12)
    return np.where(inside, height * np.sin(np.pi * np.clip(time / duration_s, 0, 1)), 0.0)


@st.composite
def rough_pulses(
    draw: st.DrawFn, *, least: int = 2, most: int = 120, positive: bool = True
) -> NDArray[np.float64]:
    """Draw bumps and noise."""
    size = draw(st.integers(least, most))
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    time = np.linspace(0.0, 1.0, size)
    bumps = random.integers(1, 4)
    curve = random.choice([0.0, 0.5, 20.0]) * random.standard_normal(size)
    for _ in range(bumps):
        curve += random.uniform(5, 120) * np.exp(
            -(((time - random.uniform()) / random.uniform(0.02, 0.3)) ** 2)
        )
    return np.asarray(np.abs(curve) if positive else curve - random.choice([0.0, 30.0]), dtype=np.float64)
