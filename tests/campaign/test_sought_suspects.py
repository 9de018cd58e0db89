"""Suspects are sought in what was read, with the axes of the sensor at hand."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from correlate import LoadCase, Recording, Signal
from correlate.campaign.pair_explanation import SuspectSearch
from correlate.metrics.iso18571 import RatingSettings

if TYPE_CHECKING:
    from numpy.typing import NDArray

TIME = np.arange(601) * 1e-4
CODES = tuple(f"D0HEAD0000KMAC{axis}P" for axis in "XYZ")


def axes() -> NDArray[np.float64]:
    """Return three unlike pulses, shape ``(3, n)``."""
    bumps = [
        ((TIME - start) / length).clip(0, 1) for start, length in ((0.01, 0.02), (0.015, 0.035), (0.02, 0.01))
    ]
    return np.asarray(np.array([[100.0], [60.0], [80.0]]) * np.sin(np.pi * np.array(bumps)) ** 2)


def recording(rows: NDArray[np.float64], names: tuple[str, ...]) -> Recording:
    """Return three channels as read."""
    signals = tuple(
        Signal(samples=row, start_s=0.0, step_s=1e-4, unit="g", channel=name)
        for row, name in zip(rows, names, strict=True)
    )
    return Recording(signals=signals, path=Path("r.csv"), format="computed", details={})


def search(model: NDArray[np.float64], *, sensor: str = "head") -> SuspectSearch:
    """Search a test of three axes and a model of other names."""
    channels = [
        {"test": code, "model": name, "region": "head", "sensor": sensor}
        for code, name in zip(CODES, ("forward", "right", "down"), strict=True)
    ]
    content = {"name": "drop", "tests": ["t"], "interval_ms": [0, 60], "channel": channels}
    case = LoadCase.model_validate(content)
    test = recording(axes(), CODES)
    return SuspectSearch(case, test, recording(model, ("forward", "right", "down")), RatingSettings())


def test_a_turned_frame_is_told_for_every_axis() -> None:
    """50 degrees about z: no single axis is to blame, the sensor is."""
    turned = Rotation.from_euler("z", 50, degrees=True).as_matrix() @ axes()
    found = search(turned)
    assert [found.of(code)[0].kind for code in CODES] == ["local frame turned"] * 3


@pytest.mark.parametrize("sensor", ["head", ""])
def test_exchanged_axes_are_found_with_and_without_a_sensor(sensor: str) -> None:
    """Forward holds what is down: the codes say that they are axes of one sensor."""
    found = search(axes()[[2, 1, 0]] * [[1.0], [1.0], [-1.0]], sensor=sensor)
    kinds = [suspect.kind for suspect in found.of(CODES[0])]
    assert "other axis" in kinds or "local frame turned" in kinds
    assert found.of("head resultant") == ()


def test_a_channel_that_the_model_lacks_has_no_suspects() -> None:
    """The score says what is missing; here nothing can be compared."""
    lacking = search(axes())
    case = LoadCase.model_validate(
        {
            "name": "drop",
            "tests": ["t"],
            "interval_ms": [0, 60],
            "channel": [{"test": CODES[0], "model": "gone", "region": "head"}],
        }
    )
    model = recording(axes(), ("forward", "right", "down"))
    assert SuspectSearch(case, recording(axes(), CODES), model, RatingSettings()).of(CODES[0]) == ()
    assert [lacking.of(code) for code in CODES] == [(), (), ()]
