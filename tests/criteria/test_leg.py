"""Leg criteria."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest
from hypothesis import given

from correlate.criteria import femur_force, tibia_index
from tests.criteria.curves import STEP_S, rough_pulses

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def test_femur_force_is_compression_alone() -> None:
    """Tension does not count; a femur that is never compressed has 0."""
    assert femur_force([0.0, 900.0, -700.0], step_s=STEP_S).value == 700.0
    assert femur_force([5.0, 900.0, 20.0], step_s=STEP_S).value == 0.0


def test_tibia_index_adds_bending_and_force_at_one_instant() -> None:
    """The resultant of both moments counts; peaks at different instants do not add."""
    found = tibia_index([0, 135.0, 0], [0, 180.0, 0], [0, 0, -35_900.0], step_s=STEP_S)
    assert found.value == pytest.approx(1.0)
    together = tibia_index([0, 135.0], [0, -180.0], [0, 35_900.0], step_s=STEP_S)
    assert together.value == pytest.approx(2.0)


@given(
    x=rough_pulses(least=30, most=30, positive=False),
    y=rough_pulses(least=30, most=30, positive=False),
    z=rough_pulses(least=30, most=30, positive=False),
)
def test_tibia_index_equals_the_loop(x: Floats, y: Floats, z: Floats) -> None:
    """Sample by sample the same."""
    expected = max(
        math.sqrt(a * a + b * b) / 100 + abs(c) / 200
        for a, b, c in zip(x.tolist(), y.tolist(), z.tolist(), strict=True)
    )
    found = tibia_index(x, y, z, step_s=STEP_S, critical_moment_Nm=100, critical_force_N=200)
    assert found.value == pytest.approx(expected, rel=1e-12)
