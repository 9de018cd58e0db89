"""Each row of the table of criteria: its filter class, and its value for curves whose answer is plain."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.criteria.devices import find_device
from correlate.criteria.table import CRITERIA

STEP_S = 1e-4
ROWS = {row.name: row for row in CRITERIA}
CLASSES = {
    "HIC15": 1000,
    "HIC36": 1000,
    "severity index": 1000,
    "head 3 ms clip, cumulative": 1000,
    "head 3 ms clip, contiguous": 1000,
    "head peak acceleration": 1000,
    "BrIC": 60,
    "Nij": 600,
    "chest 3 ms clip, cumulative": 180,
    "chest 3 ms clip, contiguous": 180,
    "chest deflection": 600,
    "chest deflection rate": 180,
    "viscous criterion": 180,
    "femur force": 600,
    "tibia index": 600,
}
"""SAE J211-1 and 49 CFR 571.208, from memory."""


def value(name: str, **curves: float) -> float:
    """Return a criterion of curves that are constant for 0.1 s."""
    samples = {ending: np.full(1001, size) for ending, size in curves.items()}
    return ROWS[name].compute(samples, STEP_S, find_device("adult male, 50th percentile")).value


def test_the_filter_class_of_every_row() -> None:
    """As published."""
    assert {row.name: row.cfc for row in CRITERIA} == CLASSES


@pytest.mark.parametrize(
    ("name", "curves", "expected"),
    [
        # 100 g for 15 or 36 ms: the duration times 100 to the power of 2.5.
        ("HIC15", {"ACR": 100.0}, 1500.0),
        ("HIC36", {"ACR": 100.0}, 3600.0),
        ("severity index", {"ACR": 100.0}, 10_000.0),
        ("head 3 ms clip, cumulative", {"ACR": 70.0}, 70.0),
        ("head 3 ms clip, contiguous", {"ACR": 70.0}, 70.0),
        ("head peak acceleration", {"ACR": 70.0}, 70.0),
        ("chest 3 ms clip, cumulative", {"ACR": 50.0}, 50.0),
        ("chest 3 ms clip, contiguous", {"ACR": 50.0}, 50.0),
        # A sternum that is pushed in is negative along +x.
        ("chest deflection", {"DSX": -40.0}, 40.0),
        ("chest deflection rate", {"DSX": -40.0}, 0.0),
        ("femur force", {"FOZ": -4000.0}, 4000.0),
        # Moments of 90 and 120 Nm are 150 of 225 Nm; 3590 of 35,900 N.
        ("tibia index", {"MOX": 90.0, "MOY": -120.0, "FOZ": -3590.0}, 2 / 3 + 0.1),
    ],
)
def test_the_value_of_a_constant_curve(name: str, curves: dict[str, float], expected: float) -> None:
    """Closed forms."""
    assert value(name, **curves) == pytest.approx(expected, rel=1e-9, abs=1e-9)
