"""The falling head: closed form of the undamped blow, axes, and what an accelerometer feels."""

import math
from dataclasses import replace

import numpy as np
import pytest

from demo_pairs.laboratory.rigs.head import HEAD, Head, simulate
from demo_pairs.laboratory.scatter import NOMINAL

GRAVITY = 9.80665
TIME = np.linspace(-0.01, 0.02, 30_001)
BARE = replace(
    HEAD, skin_damping=0.0, branches=(replace(HEAD.branches[0], stiffness=0.0),) * 2, friction=0.0, lever=0.0
)
"""A head that only springs: no rate effect, no branches, no friction, no turning."""


def resultant(head: Head) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Resultant acceleration of a drop [m/s^2], without the sideways mode."""
    felt = simulate(TIME, NOMINAL, head=replace(head, lateral_share=0.0)).histories
    return np.asarray(np.sqrt(felt["ax"] ** 2 + felt["ay"] ** 2 + felt["az"] ** 2), dtype=np.float64)


def test_impact_speed_is_that_of_free_fall() -> None:
    """From 376 mm the head arrives at sqrt(2 g h), 2.716 m/s."""
    found = simulate(TIME[::100], NOMINAL)
    assert found.impact_speed == pytest.approx(math.sqrt(2 * GRAVITY * 0.376), rel=1e-12)
    assert found.impact_speed == pytest.approx(2.716, abs=5e-4)


def test_undamped_blow_has_the_peak_of_the_closed_form() -> None:
    """All kinetic energy goes into k δ^2.5/2.5; the force there gives the peak (weight adds under 1 %)."""
    speed = math.sqrt(2 * GRAVITY * 0.376)
    depth = (2.5 * 0.5 * BARE.mass * speed**2 / BARE.skin_stiffness) ** 0.4
    expected = BARE.skin_stiffness * depth**1.5 / BARE.mass
    assert resultant(BARE).max() == pytest.approx(expected, rel=0.01)


def test_undamped_blow_turns_the_speed_round() -> None:
    """Without dissipation the felt acceleration integrates to twice the speed, within 1 % (weight)."""
    speed = math.sqrt(2 * GRAVITY * 0.376)
    assert np.trapezoid(resultant(BARE), TIME) == pytest.approx(2 * speed, rel=0.01)


def test_skin_takes_energy() -> None:
    """With its skin the head leaves more slowly than it came, but it does leave."""
    speed = math.sqrt(2 * GRAVITY * 0.376)
    change = float(np.trapezoid(resultant(HEAD), TIME))
    assert 1.1 * speed < change < 1.9 * speed


def test_axes_and_polarity() -> None:
    """The plate pushes the forehead back and down the body: -x and +z, about 27 degrees apart, little y."""
    felt = simulate(TIME, NOMINAL).histories
    at = int(np.argmin(felt["ax"]))
    assert felt["ax"][at] < -1500.0
    assert felt["az"][at] > 700.0
    assert math.degrees(math.atan2(felt["az"][at], -felt["ax"][at])) == pytest.approx(27.0, abs=6.0)
    assert 0.0 < np.abs(felt["ay"]).max() < 0.1 * np.abs(felt["ax"]).max()


def test_nothing_is_felt_in_free_fall() -> None:
    """Before contact and after the rebound every axis reads exactly zero, but for the dying sideways mode."""
    felt = simulate(TIME, NOMINAL).histories
    for axis in ("ax", "ay", "az"):
        assert not felt[axis][TIME < 0.0].any()
    for axis in ("ax", "az"):
        assert not felt[axis][TIME > 0.01].any()
