"""Limits of the virtual model's force laws."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from demo_pairs.solver import laws

DEPTHS = st.floats(-5.0, 20.0)


@given(depth=DEPTHS)
def test_contacts_are_unilateral(depth: float) -> None:
    """Layer, pad and foam never pull, and give nothing without indentation."""
    for force in (
        laws.layer_indentation(depth, modulus=0.05, radius=80.0, thickness=11.0),
        laws.elastic_pad(depth, modulus=0.01, area=2000.0, thickness=12.0),
        laws.block_foam(depth, modulus=4e-4, area=15e3, thickness=25.0, densification=0.6),
    ):
        assert force >= 0.0
        if depth <= 0.0:
            assert force == 0.0


def test_layer_grows_with_the_square_of_depth() -> None:
    """Worked by hand: E = 0.05, R = 80, h = 10, depth 2 mm gives pi 0.05 80 4/10 kN."""
    assert laws.layer_indentation(2.0, modulus=0.05, radius=80.0, thickness=10.0) == pytest.approx(
        1.6 * math.pi
    )


def test_pad_follows_hooke() -> None:
    """Worked by hand: 10 MPa on 2000 mm² and 12 mm, pressed by 3 mm, gives 5 kN."""
    assert laws.elastic_pad(3.0, modulus=0.01, area=2000.0, thickness=12.0) == pytest.approx(5.0)


def test_foam_is_linear_first_and_e_times_that_at_densification() -> None:
    """At small strain F = E A strain; at the densification strain e times the linear force; then bounded."""

    def force(strain: float) -> float:
        return laws.block_foam(25.0 * strain, modulus=4e-4, area=15e3, thickness=25.0, densification=0.6)

    assert force(0.01) == pytest.approx(6.0 * 0.01, rel=1e-5)
    assert force(0.6) == pytest.approx(6.0 * 0.6 * math.e)
    assert math.isfinite(force(1e6))


@given(rate=st.floats(-20.0, 20.0))
def test_rate_factor_stiffens_loading_and_softens_unloading(rate: float) -> None:
    """One at standstill, above one going in, below one coming out, never negative, mirror images."""
    factor = laws.rate_factor(rate, coefficient=0.1, reference=0.1)
    assert factor >= 0.0
    assert (factor - 1.0) * rate >= 0.0
    assert laws.rate_factor(0.0, coefficient=0.1, reference=0.1) == 1.0
    assert factor + laws.rate_factor(-rate, coefficient=0.1, reference=0.1) == pytest.approx(2.0)


def test_rib_is_twice_as_strong_at_its_reference() -> None:
    """At the reference compression the force is twice the linear one; the law is odd."""
    assert laws.hardening_rib(75.0, stiffness=0.04, reference=75.0) == pytest.approx(6.0)
    assert laws.hardening_rib(-75.0, stiffness=0.04, reference=75.0) == pytest.approx(-6.0)
    assert laws.hardening_rib(0.1, stiffness=0.04, reference=75.0) == pytest.approx(0.004, rel=1e-5)


def test_joint_hardens_and_never_overflows() -> None:
    """Linear for small angles, k phi0 sinh(1) at the hardening angle, finite for absurd angles."""
    assert laws.hardening_joint(1e-5, stiffness=60.0, hardening=0.25) == pytest.approx(6e-4)
    assert laws.hardening_joint(0.25, stiffness=60.0, hardening=0.25) == pytest.approx(15.0 * math.sinh(1.0))
    assert math.isfinite(laws.hardening_joint(1e4, stiffness=60.0, hardening=0.25))


def test_loss_factor_is_the_energy_lost_in_a_cycle() -> None:
    """A cycle at the reference frequency loses pi eta k a²: the textbook meaning of a loss factor."""
    stiffness, loss, frequency, amplitude = 30.0, 0.4, 5e-3, 0.3
    damping = laws.loss_damping(stiffness, loss, frequency)
    lost = math.pi * damping * 2.0 * math.pi * frequency * amplitude**2
    assert lost == pytest.approx(math.pi * loss * stiffness * amplitude**2)


def test_spring_and_dashpot_add() -> None:
    """Worked by hand: 2 mm at 0.1 kN/mm and 3 mm/ms at 0.05 kN ms/mm give 0.35 kN."""
    assert laws.spring_and_dashpot(2.0, 3.0, stiffness=0.1, damping=0.05) == pytest.approx(0.35)
