"""Limits of the hardware's force laws: what each must do at its ends, whatever its constants."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from demo_pairs.laboratory import force_laws as laws

DEPTHS = st.floats(-0.02, 0.02)
RATES = st.floats(-10.0, 10.0)


@given(depth=DEPTHS, rate=RATES)
def test_contact_never_pulls(depth: float, rate: float) -> None:
    """A contact law gives no negative force, and none at all without indentation."""
    force = laws.rate_dependent_contact(depth, rate, stiffness=1e7, exponent=1.5, damping=0.3)
    foam = laws.densifying_foam(depth, stiffness=1e5, thickness=0.05, densification=0.5, power=4.0)
    assert force >= 0.0
    assert foam >= 0.0
    if depth <= 0.0:
        assert force == 0.0
        assert foam == 0.0


def test_contact_is_a_power_of_depth_at_standstill() -> None:
    """At rate zero the contact force is k times depth to the power n."""
    force = laws.rate_dependent_contact(0.004, 0.0, stiffness=2e7, exponent=1.5, damping=0.3)
    assert force == pytest.approx(2e7 * 0.004 * math.sqrt(0.004))


@pytest.mark.parametrize("depth", [1e-4, 1e-3, 5e-3])
def test_contact_is_stiffer_going_in(depth: float) -> None:
    """Going in at 1 m/s adds the share d, coming out at 1 m/s takes it away."""
    still, into, out = (
        laws.rate_dependent_contact(depth, rate, stiffness=1e7, exponent=1.5, damping=0.25)
        for rate in (0.0, 1.0, -1.0)
    )
    assert into == pytest.approx(1.25 * still)
    assert out == pytest.approx(0.75 * still)


def test_foam_is_linear_first_and_twice_as_stiff_at_densification() -> None:
    """The tangent stiffness is k at zero strain and 2 k at the densification strain, whatever the power."""

    def tangent(depth: float, power: float) -> float:
        low, high = (
            laws.densifying_foam(x, stiffness=5e4, thickness=0.1, densification=0.6, power=power)
            for x in (depth - 1e-7, depth + 1e-7)
        )
        return (high - low) / 2e-7

    for power in (3.0, 5.0, 8.0):
        assert tangent(1e-4, power) == pytest.approx(5e4, rel=1e-4)
        assert tangent(0.06, power) == pytest.approx(1e5, rel=1e-5)


def test_spring_changes_stiffness_at_its_knee() -> None:
    """Slope k1 far below the knee, k1 + k2 far above; at the knee the force exceeds k1 x by w k2 ln 2."""

    def force(x: float) -> float:
        return laws.stiffening_spring(x, first=4e4, extra=7e4, knee=0.038, smoothing=0.002)

    assert (force(0.002) - force(0.001)) / 0.001 == pytest.approx(4e4, rel=1e-6)
    assert (force(0.081) - force(0.080)) / 0.001 == pytest.approx(1.1e5, rel=1e-6)
    assert force(0.038) == pytest.approx(4e4 * 0.038 + 7e4 * 0.002 * math.log(2.0))
    assert force(-0.05) == pytest.approx(-4e4 * 0.05)


@given(rate=RATES)
def test_damping_opposes_motion(rate: float) -> None:
    """The dashpot always takes energy out; going in fast it has one coefficient, coming out the other."""
    force = laws.two_way_damping(rate, loading=300.0, unloading=760.0, transition=0.3)
    assert force * rate >= 0.0
    assert laws.two_way_damping(9.0, loading=300.0, unloading=760.0, transition=0.3) == pytest.approx(2700.0)
    assert laws.two_way_damping(-9.0, loading=300.0, unloading=760.0, transition=0.3) == pytest.approx(
        -6840.0
    )


@given(speed=RATES)
def test_friction_is_odd_and_limited(speed: float) -> None:
    """Friction never exceeds its limit, turns its sign with the speed and vanishes at standstill."""
    force = laws.regularised_friction(speed, limit=90.0, transition=0.05)
    assert abs(force) <= 90.0
    assert force == -laws.regularised_friction(-speed, limit=90.0, transition=0.05)
    assert laws.regularised_friction(0.0, limit=90.0, transition=0.05) == 0.0
    assert laws.regularised_friction(5.0, limit=90.0, transition=0.05) == pytest.approx(90.0)


def test_maxwell_branch_is_a_spring_at_once_and_a_dashpot_for_long() -> None:
    """From rest the force rises as in a spring; at constant rate it settles at the dashpot's k tau v."""
    assert laws.maxwell_rate(0.0, 2.0, stiffness=1e4, relaxation_time=0.01) == pytest.approx(2e4)
    settled = 1e4 * 0.01 * 2.0
    assert laws.maxwell_rate(settled, 2.0, stiffness=1e4, relaxation_time=0.01) == pytest.approx(0.0)


@given(angle=st.floats(-2.0, 2.0))
def test_rubber_joint_is_odd(angle: float) -> None:
    """A joint pulls back equally to both sides and is linear for small angles."""
    moment = laws.bending_rubber(angle, linear=70.0, cubic=80.0)
    assert moment == -laws.bending_rubber(-angle, linear=70.0, cubic=80.0)
    assert laws.bending_rubber(1e-6, linear=70.0, cubic=80.0) == pytest.approx(7e-5)
    assert laws.bending_rubber(1.0, linear=70.0, cubic=80.0) == pytest.approx(150.0)


def test_honeycomb_rises_to_its_plateau_and_declines() -> None:
    """Past the first rise the yield force is the plateau times the area that is left, and never negative."""

    def force(crush: float) -> float:
        return laws.honeycomb_yield(crush, plateau=4000.0, decline=2.0, ramp=0.005)

    assert force(0.0) < 0.05 * 4000.0
    assert force(0.1) == pytest.approx(4000.0 * 0.8, rel=1e-6)
    assert force(1.0) == 0.0
