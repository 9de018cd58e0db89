"""The other axes of a sensor, by code, by name and by the campaign file."""

from __future__ import annotations

from pathlib import Path

import pytest

from correlate import Recording, Signal
from correlate.campaign.pair_explanation import planned_sisters, sister_axes
from correlate.evaluation.tables import LoadCase


def recording(*names: str) -> Recording:
    """Return a recording of flat channels."""
    signals = tuple(
        Signal(samples=[0.0, 1.0], start_s=0.0, step_s=1e-4, unit="kN", channel=name) for name in names
    )
    return Recording(signals=signals, path=Path("model.csv"), format="computed", details={})


@pytest.mark.parametrize(
    ("names", "sisters"),
    [
        (
            ["D0HEAD0000KMACXP", "D0HEAD0000KMACYP", "D0HEAD0000KMAVZP", "D0CHST0000KMACZP"],
            ["D0HEAD0000KMACYP"],
        ),
        (["head x acceleration", "head y acceleration", "chest y acceleration"], ["head y acceleration"]),
        (["head_ax", "head_az", "head_vz"], ["head_az"]),
        (["neck Fx", "neck Fz", "neck My"], ["neck Fz"]),
        (["probe force", "probe x force"], []),
        (["x y", "x z"], []),
    ],
)
def test_axes_are_found_by_code_or_letter(names: list[str], sisters: list[str]) -> None:
    """Of the first channel; another sensor, another quantity and a name without an axis are none."""
    found = recording(*names)
    assert list(sister_axes(found.signals[0], found)) == sisters


def test_axes_are_found_by_the_campaign_file() -> None:
    """Shear and axial force are axes of one load cell, whatever the model calls them."""
    channels = [
        {"test": "D0NECKUP00KMFOXP", "model": "shear", "region": "neck"},
        {"test": "D0NECKUP00KMFOZP", "model": "axial", "region": "neck"},
        {"test": "D0NECKUP00KMMOYP", "model": "moment", "region": "neck"},
        {"test": "D0HEAD0000KMACXP", "model": "ax", "region": "head", "sensor": "head"},
        {"test": "spare", "model": "gone", "region": "head", "sensor": "head"},
    ]
    case = LoadCase.model_validate(
        {"name": "drop", "tests": ["t"], "interval_ms": [0, 50], "channel": channels}
    )
    found = recording("shear", "axial", "moment", "ax")
    assert list(planned_sisters(case.channel[0], case, found)) == ["axial"]
    assert planned_sisters(case.channel[2], case, found) == {}
    assert planned_sisters(case.channel[3], case, found) == {}


def test_axes_are_found_by_the_sensor_of_the_campaign_file() -> None:
    """Channels without a code are axes of one sensor when the file says so."""
    channels = [
        {"test": "shear", "model": "a", "region": "neck", "sensor": "neck"},
        {"test": "axial", "model": "b", "region": "neck", "sensor": "neck"},
        {"test": "other", "model": "c", "region": "neck", "sensor": "chest"},
        {"test": "spare", "model": "d", "region": "neck"},
    ]
    case = LoadCase.model_validate(
        {"name": "drop", "tests": ["t"], "interval_ms": [0, 50], "channel": channels}
    )
    found = recording("a", "b", "c", "d")
    assert list(planned_sisters(case.channel[0], case, found)) == ["b"]
    assert planned_sisters(case.channel[3], case, found) == {}
