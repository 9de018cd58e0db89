"""Small signals for the tests of repeats."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from correlate import Signal

if TYPE_CHECKING:
    from numpy.typing import NDArray

STEP_S = 1e-4


def pulse(
    *, late_s: float = 0.0, size: float = 100.0, width_s: float = 0.006, file_end_s: float = 0.06
) -> Signal:
    """Return a bell-shaped pulse around 20 ms, from −20 ms on, at 10 kHz."""
    time = np.arange(round(-0.02 / STEP_S), round(file_end_s / STEP_S) + 1) * STEP_S
    return signal(size * np.exp(-(((time - 0.02 - late_s) / width_s) ** 2)))


def signal(samples: NDArray[np.float64], *, start_s: float = -0.02, unit: str = "g") -> Signal:
    """Return samples as a channel at 10 kHz."""
    return Signal(samples=samples, start_s=start_s, step_s=STEP_S, unit=unit, channel="head ax")
