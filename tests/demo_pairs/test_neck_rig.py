"""The neck pendulum: energy, statics, conventions and convergence."""

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.optimize import fsolve

from demo_pairs.laboratory.rigs.neck import (
    EXTENSION,
    FLEXION,
    Neck,
    NeckRig,
    Rubber,
    felt,
    rig_of,
    simulate,
    swing,
)
from demo_pairs.laboratory.scatter import NOMINAL

TIME = np.linspace(-0.02, 0.2, 441)


def springy(rig: NeckRig) -> NeckRig:
    """Give the rig with pure springs in both joints and no honeycomb."""

    def bare(rubber: Rubber) -> Rubber:
        none = replace(rubber.branches[0], stiffness=0.0)
        return replace(rubber, damping=0.0, friction=0.0, branches=(none, none))

    return replace(
        rig,
        neck=Neck(lower=bare(rig.neck.lower), upper=bare(rig.neck.upper)),
        honeycomb=replace(rig.honeycomb, stiffness=1e-9, damping=0.0),
    )


def energy(rig: NeckRig, states: NDArray[np.float64]) -> NDArray[np.float64]:
    """Kinetic, gravity and spring energy over time [J], from positions and speeds of the bodies' centres."""
    b = rig.bodies
    pendulum, link, head, w_pendulum, w_link, w_head = states[:6]

    def tip(length: float, angle: NDArray[np.float64], rate: NDArray[np.float64]) -> NDArray[np.float64]:
        """Rows x, height, x speed, upward speed of the end of a bar."""
        return np.array(
            [
                length * np.sin(angle),
                -length * np.cos(angle),
                length * rate * np.cos(angle),
                length * rate * np.sin(angle),
            ]
        )

    base = tip(b.arm_length, pendulum, w_pendulum)
    neck_centre = base + tip(0.5 * b.neck_length, link, w_link)
    joint = base + tip(b.neck_length, link, w_link)
    up = tip(b.head_up, head, w_head)
    # forward of a head that hangs and faces the travel is the direction in which the angle grows
    forward = tip(rig.facing * b.head_forward, head + 0.5 * math.pi, w_head)
    head_centre = joint + up + forward
    moving = 0.5 * b.arm_inertia * w_pendulum**2
    moving += (
        0.5 * b.neck_mass * (neck_centre[2] ** 2 + neck_centre[3] ** 2) + 0.5 * b.neck_inertia * w_link**2
    )
    moving += (
        0.5 * b.head_mass * (head_centre[2] ** 2 + head_centre[3] ** 2) + 0.5 * b.head_inertia * w_head**2
    )
    height = -b.arm_mass * b.arm_centre * np.cos(pendulum)
    height = height + b.neck_mass * neck_centre[1] + b.head_mass * head_centre[1]
    total = moving + b.gravity * height
    for rubber, angle in ((rig.neck.lower, link - pendulum), (rig.neck.upper, head - link)):
        total = total + 0.5 * rubber.linear * angle**2 + 0.25 * rubber.cubic * angle**4
    return np.asarray(total, dtype=np.float64)


@pytest.mark.parametrize("facing", [FLEXION, EXTENSION])
def test_energy_is_kept_without_dissipation(facing: float) -> None:
    """Three bodies with springs alone keep their energy; moving energy and spring energy really exchange.

    The head starts bent by 1 rad, so that large angles and all couplings take part.
    """
    rig = springy(rig_of(facing, NOMINAL))
    motion = swing(replace(rig, neck=rig.neck), TIME, 7.0, tolerance=1e-8, bend=1.0)
    total = energy(rig, motion.states)
    bent = np.abs(motion.states[2] - motion.states[0])
    scale = 0.5 * rig.bodies.arm_inertia * (7.0 / rig.bodies.arm_sensor) ** 2
    assert np.ptp(total) < 1e-4 * scale
    assert np.ptp(bent) > 0.5


@pytest.mark.parametrize("facing", [FLEXION, EXTENSION])
def test_hanging_at_rest_the_cell_feels_the_weight(facing: float) -> None:
    """In equilibrium the neck pulls the head with its weight, and the joint holds its eccentric centre.

    +Fz is tension; the moment about the joint is weight times the offset of the centre of gravity.
    """
    rig = rig_of(facing, NOMINAL)

    def turning(angles: NDArray[np.float64]) -> list[float]:
        return list(rig.accelerations([*angles.tolist(), *([0.0] * 8)], touching=False))

    angles: NDArray[np.float64] = fsolve(turning, np.zeros(3), xtol=1e-13)
    _, _, shear, axial, moment = felt(rig, [*angles.tolist(), *([0.0] * 8)], touching=False)
    weight = rig.bodies.head_mass * rig.bodies.gravity
    assert axial == pytest.approx(weight * math.cos(angles[2]), rel=1e-9)
    assert shear == pytest.approx(facing * weight * math.sin(angles[2]), rel=1e-6, abs=1e-9)
    offset = math.hypot(rig.bodies.head_up, rig.bodies.head_forward) * math.sin(angles[2] + rig.head_lead)
    assert moment - 0.01778 * shear == pytest.approx(-facing * weight * offset, rel=1e-6)


@pytest.mark.parametrize(("facing", "sign"), [(FLEXION, 1.0), (EXTENSION, -1.0)])
def test_polarity(facing: float, sign: float) -> None:
    """SAE J1733 (from memory): My flexion positive, Fx negative as flexion stops the head, Fz tension."""
    found = simulate(TIME, NOMINAL, facing=facing, speed=6.5).histories
    shear, moment = found["shear"], found["moment"]
    occipital = moment - 0.01778 * shear
    assert sign * occipital[np.argmax(np.abs(occipital))] > 40.0
    assert sign * shear[np.argmax(np.abs(shear))] < -300.0
    assert found["axial"].max() > 500.0
    assert found["rotation"].max() > 60.0
    assert found["pendulum"].min() < -150.0


def test_flexion_moment_hardly_starts_the_wrong_way() -> None:
    """The head's inertia bends its joint back at first, by under 15 % of the moment that follows."""
    found = simulate(TIME, NOMINAL, facing=FLEXION, speed=7.0).histories
    occipital = found["moment"] - 0.01778 * found["shear"]
    assert occipital[TIME > 0.0].max() > 90.0
    assert -0.15 * occipital.max() < occipital[(TIME > 0.0) & (TIME < 0.04)].min() < 0.0


def test_crushed_honeycomb_lets_the_pendulum_ring_for_a_few_cycles() -> None:
    """The axial force of extension swings by over 2 % of its peak until 80 ms, and by under 1 % from 100 ms.

    So nothing is left to break off when the pendulum leaves the block. The swing is what a moving mean of
    26 ms, about one period, takes out, less the curvature that a second mean shows.
    """
    step = 5e-4
    time = np.round(np.arange(-0.02, 0.2, step), 9)
    axial = simulate(time, NOMINAL, facing=EXTENSION, speed=6.1).histories["axial"]
    window = np.ones(53) / 53

    def mean(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.convolve(np.pad(values, 26, mode="edge"), window, mode="valid")

    smooth = mean(axial)
    swing_of = (axial - smooth) - (smooth - mean(smooth))
    early = np.abs(swing_of[(time > 0.060) & (time < 0.080)]).max()
    late = np.abs(swing_of[(time > 0.100) & (time < 0.150)]).max()
    assert early > 0.02 * axial.max()
    assert late < 0.01 * axial.max()


def test_honeycomb_meets_the_pendulum_without_a_jump() -> None:
    """Five microseconds after contact the pendulum feels less than 3 % of its largest deceleration."""
    time = np.array([-0.02, -1e-6, 5e-6, *np.linspace(0.001, 0.04, 40)])
    felt_there = np.abs(simulate(time, NOMINAL, facing=FLEXION, speed=7.0).histories["pendulum"])
    assert felt_there[2] < 0.03 * felt_there.max()


def test_neck_load_is_the_force_that_moves_the_head() -> None:
    """Force in head axes, turned into space, plus weight equals head mass times acceleration of its centre.

    The acceleration comes from second differences of the centre's position, away from contact changes.
    """
    rig = rig_of(FLEXION, NOMINAL)
    step = 5e-5
    time = np.round(np.arange(-0.01, 0.1 + step / 2, step), 9)
    motion = swing(rig, time, 7.0, tolerance=1e-9)
    states = motion.states
    b, (pendulum, link, head) = rig.bodies, states[:3]
    x = b.arm_length * np.sin(pendulum) + b.neck_length * np.sin(link)
    x = x + b.head_up * np.sin(head) + b.head_forward * np.cos(head)
    down = b.arm_length * np.cos(pendulum) + b.neck_length * np.cos(link)
    down = down + b.head_up * np.cos(head) - b.head_forward * np.sin(head)
    loads = np.array([felt(rig, state, touching=closed[0]) for state, closed in motion.rows()])
    along = loads[:, 2] * np.cos(head) - loads[:, 3] * np.sin(head)
    downward = -loads[:, 2] * np.sin(head) - loads[:, 3] * np.cos(head)
    inner = (time[1:-1] > 0.012) & (time[1:-1] < 0.099)
    for jump in motion.contact_changes:
        inner &= np.abs(time[1:-1] - jump) > 2 * step

    def second(values: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.asarray((values[2:] - 2 * values[1:-1] + values[:-2]) / step**2, dtype=np.float64)

    peak = np.abs(along).max()
    assert np.abs(along[1:-1] - b.head_mass * second(x))[inner].max() < 5e-3 * peak
    assert np.abs(downward[1:-1] - b.head_mass * (second(down) - b.gravity))[inner].max() < 5e-3 * peak


def test_tighter_tolerance_converges() -> None:
    """The usual tolerance and one a hundred times tighter agree to 1e-4 of each state's range."""
    rig = rig_of(FLEXION, NOMINAL)
    usual, tight = (swing(rig, TIME, 7.0, tolerance=tolerance).states for tolerance in (1e-8, 1e-10))
    span = np.ptp(tight[:3], axis=1, keepdims=True)
    assert np.abs((usual[:3] - tight[:3]) / span).max() < 1e-4


def test_pendulum_meets_the_honeycomb_at_time_zero_with_the_asked_speed() -> None:
    """At time zero the pendulum passes the vertical at its nominal speed, to 0.1 % and 20 microseconds."""
    rig = rig_of(FLEXION, NOMINAL)
    motion = swing(rig, np.array([-0.06, -0.03, 0.0, 0.001]), 7.0)
    assert motion.states[3, 2] * rig.bodies.arm_sensor == pytest.approx(7.0, rel=1e-3)
    assert abs(motion.contact_changes[0]) < 2e-5
