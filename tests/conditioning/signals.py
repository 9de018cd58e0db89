"""Signals to condition, made from a few numbers; shared by the tests of the conditioning steps."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from hypothesis import strategies as st

from correlate.signal import Signal, Source, Step

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

READ = Step("read", {"file": "run.csv"})


def signal_of(
    samples: ArrayLike,
    *,
    start_s: float = 0.0,
    step_s: float = 1e-4,
    unit: str = "g",
    channel: str = "head ax",
    history: tuple[Step, ...] = (READ,),
) -> Signal:
    """Return a signal read from an imagined file."""
    return Signal(
        samples=samples,
        start_s=start_s,
        step_s=step_s,
        unit=unit,
        channel=channel,
        source=Source("run.csv"),
        history=history,
    )


def sampled(
    function: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    *,
    start_s: float,
    end_s: float,
    step_s: float,
    unit: str = "g",
    channel: str = "head ax",
) -> Signal:
    """Return a function of time, sampled."""
    count = int(np.floor((end_s - start_s) / step_s + 1e-9)) + 1
    time = start_s + step_s * np.arange(count, dtype=np.float64)
    return signal_of(function(time), start_s=start_s, step_s=step_s, unit=unit, channel=channel)


def tone(frequency_hz: float, *, length_s: float, step_s: float) -> Signal:
    """Return a sine of amplitude 1."""
    return sampled(
        lambda time: np.sin(2 * np.pi * frequency_hz * time), start_s=0.0, end_s=length_s, step_s=step_s
    )


def measured_tone(signal: Signal, frequency_hz: float, *, margin_s: float) -> tuple[float, float]:
    """Return the in-phase and the quadrature amplitude of a tone, by least squares away from the ends."""
    time = signal.time_s
    inside = (time >= time[0] + margin_s) & (time <= time[-1] - margin_s)
    angle = 2 * np.pi * frequency_hz * time[inside]
    basis = np.column_stack((np.sin(angle), np.cos(angle)))
    (in_phase, quadrature), *_ = np.linalg.lstsq(basis, signal.samples[inside], rcond=None)
    return float(in_phase), float(quadrature)


def names(signal: Signal) -> list[str]:
    """Return the names of the steps in the history."""
    return [step.name for step in signal.history]


@st.composite
def sample_rows(draw: st.DrawFn, *, least: int = 2, most: int = 300) -> NDArray[np.float64]:
    """Draw a row of samples between −100 and 100."""
    count = draw(st.integers(least, most))
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    return random.uniform(-100.0, 100.0, count)
