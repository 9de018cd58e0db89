"""Neck criteria."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given

from correlate.criteria import NeckIntercepts, nic, nij
from correlate.errors import SettingsError
from tests.criteria.curves import STEP_S, rough_pulses
from tests.oracles import criteria_literal as literal

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SHORT = {
    "tension-extension": "te",
    "tension-flexion": "tf",
    "compression-extension": "ce",
    "compression-flexion": "cf",
}


@pytest.mark.parametrize(
    ("force", "moment", "case"),
    [
        (6806.0, 0.0, "tension-extension"),
        (-6160.0, 0.0, "compression-extension"),
        (0.0, 310.0, "tension-flexion"),
        (0.0, -135.0, "tension-extension"),
        (3403.0, 155.0, "tension-flexion"),
        (3403.0, -67.5, "tension-extension"),
        (-3080.0, 155.0, "compression-flexion"),
        (-3080.0, -67.5, "compression-extension"),
    ],
)
def test_nij_is_one_at_the_intercepts(force: float, moment: float, case: str) -> None:
    """Each intercept alone, and half of two together, give 1 in the case of their signs (adult male)."""
    found = nij([0.0, force, 0.0], [0.0, moment, 0.0], step_s=STEP_S)
    assert found.value == pytest.approx(1.0)
    assert found.case == case
    assert found.start_s == pytest.approx(STEP_S)


@given(
    force=rough_pulses(least=40, most=40, positive=False),
    moment=rough_pulses(least=40, most=40, positive=False),
)
def test_nij_equals_the_loop_over_four_cases(force: Floats, moment: Floats) -> None:
    """The largest value of each case is that of the loop, and the largest of them is the criterion."""
    limits = NeckIntercepts(tension_N=60, compression_N=50, flexion_Nm=90, extension_Nm=30)
    found = nij(force, moment, step_s=STEP_S, intercepts=limits)
    expected = literal.nij(force.tolist(), moment.tolist(), (60, 50, 90, 30))
    for case, value in found.cases.items():
        assert value == pytest.approx(expected[SHORT[case]], rel=1e-12), case
    assert found.value == max(found.cases.values()) == found.cases[found.case]


def test_an_intercept_of_zero_is_refused() -> None:
    """A division by zero is prevented at the border."""
    with pytest.raises(SettingsError, match="extension_Nm is 0"):
        NeckIntercepts(tension_N=1, compression_N=1, flexion_Nm=1, extension_Nm=0)


def test_nic_of_a_constant_relative_acceleration() -> None:
    """An acceleration a for T gives 0.2·a + (a·T)²: 50 m/s² for 0.1 s give 35 m²/s²."""
    found = nic([60.0] * 101, [10.0] * 101, step_s=1e-3)
    assert found.value == pytest.approx(0.2 * 50 + (50 * 0.1) ** 2)
    assert found.start_s == pytest.approx(0.1)


@given(
    lower=rough_pulses(least=30, most=30, positive=False),
    head=rough_pulses(least=30, most=30, positive=False),
)
def test_nic_equals_the_loop(lower: Floats, head: Floats) -> None:
    """Sample by sample the same; what both share does not count, and zeros before only move it."""
    found = nic(lower, head, step_s=STEP_S)
    assert found.value == pytest.approx(
        literal.nic(lower.tolist(), head.tolist(), STEP_S), rel=1e-9, abs=1e-9
    )
    shared = nic(lower + 40.0, head + 40.0, step_s=STEP_S)
    assert shared.value == pytest.approx(found.value, rel=1e-9, abs=1e-9)


def test_nic_has_a_direction() -> None:
    """A head that runs ahead of the vertebra has a negative relative acceleration: only its square counts."""
    assert nic([0.0, 0.0], [0.0, 30.0], step_s=1e-3).value == pytest.approx(0.0)
    assert nic([0.0, 30.0], [0.0, 0.0], step_s=1e-3).value == pytest.approx(6.0 + 0.015**2)
