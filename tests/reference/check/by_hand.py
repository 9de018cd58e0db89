"""Channels whose facts are written down, not measured, so that one limit can be looked at alone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from correlate import Signal
from correlate.reference.check.statistics import ChannelStatistics

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import ArrayLike

    from correlate.reference.finding import Finding
    from correlate.signal import Step

Floats = NDArray[np.float64]
HEAD = "D0HEAD0000KMACXP"
STEP_S = 1e-4


def facts(
    samples: ArrayLike,
    *,
    peak: float = 100.0,
    baseline: float = 0.0,
    noise: float = 0.0,
    resolution: float = 0.0,
    quiet: int = 0,
    full_scale: float = 0.0,
    calm: ArrayLike | None = None,
    channel: str = HEAD,
    unit: str = "g",
    step_s: float = STEP_S,
    start_s: float = 0.0,
    file: str = "t1",
    header: Mapping[str, str] | None = None,
    history: tuple[Step, ...] = (),
) -> ChannelStatistics:
    """Return a channel with given facts; its first ``quiet`` samples are the quiet stretch."""
    values = np.array(samples, dtype=np.float64)
    given = dict(header or {})
    if full_scale:
        given["Channel amplitude class"] = f"{full_scale}"
    return ChannelStatistics(
        signal=Signal(
            samples=values, start_s=start_s, step_s=step_s, unit=unit, channel=channel, history=history
        ),
        header=given,
        file=file,
        calm=values if calm is None else np.array(calm, dtype=np.float64),
        quiet=slice(0, quiet),
        baseline=baseline,
        noise=noise,
        resolution=resolution,
        peak=peak,
        peak_s=0.03,
        onset_s=0.01,
    )


def severities(found: Iterable[Finding]) -> list[str]:
    """Return how severe each finding is."""
    return [one.severity for one in found]


def kinds(found: Iterable[Finding]) -> list[tuple[str, str]]:
    """Return kind and severity of each finding."""
    return [(one.kind, one.severity) for one in found]


def alternating(count: int, size: float, *, about: float = 0.0) -> Floats:
    """Return a level with the sign of a deviation turned at every sample; the first is above."""
    return np.asarray(about + size * (-1.0) ** np.arange(count), dtype=np.float64)
