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
    "DAMAGE": 60,
    "Nij": 600,
    "neck tension": 1000,
    "neck compression": 1000,
    "neck shear": 1000,
    "neck tension, time-dependent": 1000,
    "neck shear, time-dependent": 1000,
    "NIC": 60,
    "chest 3 ms clip, cumulative": 180,
    "chest 3 ms clip, contiguous": 180,
    "chest deflection": 600,
    "chest deflection rate": 180,
    "viscous criterion": 180,
    "rib deflection": 180,
    "rib viscous criterion": 180,
    "lower spine peak acceleration": 180,
    "abdomen force": 600,
    "pubic force": 600,
    "pelvis force": 600,
    "femur force": 600,
    "femur force, time-dependent": 600,
    "knee slider": 180,
    "tibia compression": 600,
    "tibia index": 600,
}
"""49 CFR 571.214 S11.5, ECE R94 annex 3; the others SAE J211-1 and 49 CFR 571.208, from memory."""


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
        # Tension is positive; 100 ms are beyond the last corners of the limits: 1100, 1100 and 7580 N.
        ("neck tension", {"FOZ": 1650.0}, 1650.0),
        ("neck tension", {"FOZ": -1650.0}, 0.0),
        ("neck compression", {"FOZ": -1650.0}, 1650.0),
        ("neck shear", {"FOX": -1650.0}, 1650.0),
        ("neck tension, time-dependent", {"FOZ": 1650.0}, 1.5),
        ("neck tension, time-dependent", {"FOZ": -1650.0}, 0.0),
        ("neck shear, time-dependent", {"FOX": -1650.0}, 1.5),
        ("femur force, time-dependent", {"FOZ": -3790.0}, 0.5),
        ("femur force, time-dependent", {"FOZ": 3790.0}, 0.0),
        # 50 m/s^2 for 0.1 s: 0.2 · 50 + 5^2.
        ("NIC", {"ACX": 10.0, "T1": 60.0}, 35.0),
        # A rib is pushed in along +y or -y, depending on the side.
        ("rib deflection", {"DSY": -40.0}, 40.0),
        ("rib deflection", {"DSY": 40.0}, 40.0),
        ("lower spine peak acceleration", {"ACR": 70.0}, 70.0),
        ("abdomen force", {"FOY": -800.0, "middle": -900.0, "rear": -700.0}, 2400.0),
        ("pubic force", {"FOY": -2400.0}, 2400.0),
        ("pelvis force", {"FOY": 2400.0, "iliac": 1000.0}, 3400.0),
        ("knee slider", {"DSX": -12.0}, 12.0),
        ("tibia compression", {"FOZ": -6000.0}, 6000.0),
        ("tibia compression", {"FOZ": 6000.0}, 0.0),
        ("tibia index", {"MOX": 90.0, "MOY": -120.0, "FOZ": -3590.0}, 2 / 3 + 0.1),
    ],
)
def test_the_value_of_a_constant_curve(name: str, curves: dict[str, float], expected: float) -> None:
    """Closed forms."""
    assert value(name, **curves) == pytest.approx(expected, rel=1e-9, abs=1e-9)
