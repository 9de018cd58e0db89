"""Rated pairs for the tests of pictures and pages, computed from closed forms."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from correlate import Recipe, Signal, Source, score_pair

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate import PairScore

STEP_S = 1e-4


def pulse(time: NDArray[np.float64], *, start_s: float, height: float) -> NDArray[np.float64]:
    """Return a squared half sine, 12 ms long and zero elsewhere."""
    inside = np.clip((time - start_s) / 0.012, 0.0, 1.0)
    return np.asarray(height * np.sin(np.pi * inside) ** 2)


def late_model(
    *,
    late_s: float = 1.2e-3,
    height: float = 170.0,
    test_channel: str = "D0HEAD0000KMACXP",
    model_channel: str = "head x acceleration",
    unit: str = "m/s^2",
    end_s: float = 0.04,
) -> PairScore:
    """Rate a pulse of height 200 against a later one of another height, from 0 on."""
    time = STEP_S * np.arange(-100, round(end_s / STEP_S) + 101, dtype=np.float64)
    test = Signal(
        samples=pulse(time, start_s=0.005, height=200.0),
        start_s=time[0],
        step_s=STEP_S,
        unit=unit,
        channel=test_channel,
        source=Source("laboratory/T1/T1.001", "a1" * 32),
    )
    model = Signal(
        samples=pulse(time, start_s=0.005 + late_s, height=height),
        start_s=time[0],
        step_s=STEP_S,
        unit=unit,
        channel=model_channel,
        source=Source("releases/A1/head-drop.csv", "b2" * 32),
    )
    return score_pair(test, model, recipe=Recipe(cfc=1000, start_s=0.0, end_s=end_s))
