"""Parts of the neck rig: rubber joints, honeycomb, masses, with the constants of both directions."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from demo_pairs.laboratory.chain import Branch
from demo_pairs.laboratory.force_laws import (
    bending_rubber,
    honeycomb_yield,
    maxwell_rate,
    regularised_friction,
)
from demo_pairs.laboratory.motion import Closed, Motion, integrate
from demo_pairs.laboratory.rigs.physical import Physical

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from demo_pairs.laboratory.scatter import Variation

GRAVITY = 9.80665


@dataclass(frozen=True, kw_only=True)
class Rubber:
    """One rubber joint in one bending direction; moments [N m] of angles [rad].

    ``branches`` hold stiffness [N m/rad] and relaxation time [s].
    """

    linear: float
    cubic: float
    damping: float
    friction: float
    branches: tuple[Branch, Branch]

    def scaled(self, factor: float) -> Rubber:
        """Give the joint with every stiffness and damping multiplied; relaxation times stay."""
        return Rubber(
            linear=self.linear * factor,
            cubic=self.cubic * factor,
            damping=self.damping * factor,
            friction=self.friction,
            branches=(self._branch(0, factor), self._branch(1, factor)),
        )

    def _branch(self, index: int, factor: float) -> Branch:
        branch = self.branches[index]
        return Branch(stiffness=branch.stiffness * factor, relaxation_time=branch.relaxation_time)


@dataclass(frozen=True, kw_only=True)
class Neck:
    """Lower and upper joint of the neck in one direction."""

    lower: Rubber
    upper: Rubber


@dataclass(frozen=True, kw_only=True)
class Honeycomb:
    """What stops the pendulum: yield force along the crush, elastic stiffness, flow time of the yielding.

    ``damping`` [N s/m per m] is that of the folded foil: it grows with the crush, so a fresh block meets
    the pendulum without a jump of force, and a crushed one lets it ring on for a few cycles only.
    """

    plateau: float
    decline: float
    ramp: float
    stiffness: float
    flow_time: float
    damping: float


@dataclass(frozen=True, kw_only=True)
class Bodies:
    """Masses [kg], lengths [m] and inertias [kg m^2].

    Pendulum after the drawing in 49 CFR 572.33 and a mid-size adult head and neck, in round figures
    from memory.
    """

    arm_inertia: float = 33.2
    arm_mass: float = 29.57
    arm_centre: float = 0.957
    arm_sensor: float = 1.657
    arm_length: float = 1.83
    neck_mass: float = 1.2
    neck_length: float = 0.125
    neck_inertia: float = 0.0021
    head_mass: float = 4.54
    head_inertia: float = 0.024
    head_up: float = 0.051
    head_forward: float = 0.018
    cell_above_joint: float = 0.01778
    gravity: float = GRAVITY


FLEXION_NECK = Neck(
    lower=Rubber(
        linear=96.7, cubic=129.4, damping=2.964, friction=2.0,
        branches=(
            Branch(stiffness=2.82, relaxation_time=0.0122), Branch(stiffness=1.93, relaxation_time=0.05)
        ),
    ),
    upper=Rubber(
        linear=68.0, cubic=902.9, damping=0.775, friction=1.0,
        branches=(
            Branch(stiffness=2.98, relaxation_time=0.0122), Branch(stiffness=2.04, relaxation_time=0.05)
        ),
    ),
)  # fmt: skip
"""Fitted by least squares to meet the flexion windows of 49 CFR 572.33.

The joint of the head is soft about its middle, as nodding blocks are, and stiffens: were it stiff from
the start, the neck, which turns before the head does, would bend it far the wrong way.
"""

FLEXION_STOP = Honeycomb(
    plateau=3454.0, decline=1.18, ramp=0.0299, stiffness=1.5e6, flow_time=1.5e-4, damping=3e4
)
"""Fitted with it to a pulse of about 25, 20 and 15 g at 10, 20 and 30 ms (from memory of the regulation)."""

EXTENSION_NECK = Neck(
    lower=Rubber(
        linear=33.6, cubic=64.2, damping=1.003, friction=2.0,
        branches=(
            Branch(stiffness=6.03, relaxation_time=0.006), Branch(stiffness=8.4, relaxation_time=0.05)
        ),
    ),
    upper=Rubber(
        linear=22.83, cubic=441.1, damping=1.755, friction=1.0,
        branches=(
            Branch(stiffness=9.76, relaxation_time=0.006), Branch(stiffness=5.7, relaxation_time=0.05)
        ),
    ),
)  # fmt: skip
"""Fitted by least squares to meet the extension windows of 49 CFR 572.33; the slit front is softer."""

EXTENSION_STOP = Honeycomb(
    plateau=2681.7, decline=0.364, ramp=0.0493, stiffness=1.5e6, flow_time=1.5e-4, damping=3e4
)
"""Fitted with it to a pulse of about 19, 17 and 13 g at 10, 20 and 30 ms (from memory of the regulation)."""


FLEXION, EXTENSION = 1.0, -1.0


@dataclass(frozen=True, kw_only=True)
class NeckRig:
    """The whole rig for one direction."""

    facing: float
    neck: Neck
    honeycomb: Honeycomb
    bodies: Bodies
    friction_speed: float = 0.8

    @property
    def head_radius(self) -> float:
        """Distance from the upper joint to the centre of gravity of the head [m]."""
        return math.hypot(self.bodies.head_up, self.bodies.head_forward)

    @property
    def head_lead(self) -> float:
        """Angle by which that centre lies ahead of the head's own axis [rad]."""
        return math.atan2(self.facing * self.bodies.head_forward, self.bodies.head_up)

    def joint(self, rubber: Rubber, angle: float, rate: float, branches: list[float]) -> float:
        """Moment of one joint [N m]."""
        elastic = bending_rubber(angle, linear=rubber.linear, cubic=rubber.cubic)
        dry = regularised_friction(rate, limit=rubber.friction, transition=self.friction_speed)
        return elastic + rubber.damping * rate + dry + sum(branches)

    def stop(self, state: list[float], *, touching: bool) -> tuple[float, float]:
        """Give honeycomb force [N] and rate of lasting crush [m/s] of a state."""
        bodies, comb = self.bodies, self.honeycomb
        reach = bodies.arm_sensor * state[0] - state[10]
        if not touching:
            return 0.0, 0.0
        elastic = comb.stiffness * reach
        excess = elastic - honeycomb_yield(
            state[10], plateau=comb.plateau, decline=comb.decline, ramp=comb.ramp
        )
        flow = max(0.0, excess) / (comb.stiffness * comb.flow_time)
        squeeze = comb.damping * state[10] * (bodies.arm_sensor * state[3] - flow)
        return max(0.0, elastic + squeeze), flow

    def moments(self, state: list[float]) -> tuple[float, float]:
        """Give the moments of lower and upper joint [N m], positive when they pull the outer body back."""
        pendulum, link, head, pendulum_rate, link_rate, head_rate = state[:6]
        lower = self.joint(self.neck.lower, link - pendulum, link_rate - pendulum_rate, state[6:8])
        upper = self.joint(self.neck.upper, head - link, head_rate - link_rate, state[8:10])
        return lower, upper

    def accelerations(self, state: list[float], *, touching: bool) -> tuple[float, float, float]:
        """Solve the equations of motion of the three bodies for their angular accelerations [rad/s^2].

        Derived here from Lagrange's equations; gravity, joint moments and honeycomb are the loads.
        """
        b, radius = self.bodies, self.head_radius
        p, n, h = state[0], state[1], state[2] + self.head_lead
        wp, wn, wh = state[3] ** 2, state[4] ** 2, state[5] ** 2
        lower, upper = self.moments(state)
        force, _ = self.stop(state, touching=touching)
        pn = (0.5 * b.neck_mass + b.head_mass) * b.neck_length * b.arm_length
        ph = b.head_mass * b.arm_length * radius
        nh = b.head_mass * b.neck_length * radius
        outer = b.neck_mass + b.head_mass
        loads = (
            -pn * math.sin(p - n) * wn
            - ph * math.sin(p - h) * wh
            - b.gravity * (b.arm_mass * b.arm_centre + outer * b.arm_length) * math.sin(p)
            + lower
            - force * b.arm_sensor,
            pn * math.sin(p - n) * wp
            - nh * math.sin(n - h) * wh
            - b.gravity * (0.5 * b.neck_mass + b.head_mass) * b.neck_length * math.sin(n)
            - lower
            + upper,
            ph * math.sin(p - h) * wp
            + nh * math.sin(n - h) * wn
            - b.gravity * b.head_mass * radius * math.sin(h)
            - upper,
        )
        return _solve(
            (
                b.arm_inertia + outer * b.arm_length**2,
                (0.25 * b.neck_mass + b.head_mass) * b.neck_length**2 + b.neck_inertia,
                b.head_mass * radius**2 + b.head_inertia,
            ),
            (pn * math.cos(p - n), ph * math.cos(p - h), nh * math.cos(n - h)),
            loads,
        )

    def derivative(self, _time: float, state: NDArray[np.float64], closed: Closed) -> list[float]:
        """Right-hand side: three angles, three rates, four branch moments, lasting crush."""
        values = state.tolist()
        _, flow = self.stop(values, touching=closed[0])
        lower_rate, upper_rate = values[4] - values[3], values[5] - values[4]
        branch_rates = [
            maxwell_rate(
                values[6 + index], rate, stiffness=branch.stiffness, relaxation_time=branch.relaxation_time
            )
            for index, (branch, rate) in enumerate(
                [(branch, lower_rate) for branch in self.neck.lower.branches]
                + [(branch, upper_rate) for branch in self.neck.upper.branches]
            )
        ]
        return [*values[3:6], *self.accelerations(values, touching=closed[0]), *branch_rates, flow]


def _solve(
    diagonal: tuple[float, float, float],
    pairs: tuple[float, float, float],
    load: tuple[float, float, float],
) -> tuple[float, float, float]:
    """Solve a symmetric system of three equations by Cramer's rule; ``pairs`` are elements 12, 13, 23."""
    a, b, c = diagonal
    ab, ac, bc = pairs
    p, q, r = b * c - bc * bc, ac * bc - ab * c, ab * bc - ac * b
    determinant = a * p + ab * q + ac * r
    u, v, w = load
    return (
        (p * u + q * v + r * w) / determinant,
        (q * u + (a * c - ac * ac) * v + (ab * ac - a * bc) * w) / determinant,
        (r * u + (ab * ac - a * bc) * v + (a * b - ab * ab) * w) / determinant,
    )


def felt(rig: NeckRig, state: list[float], *, touching: bool) -> tuple[float, float, float, float, float]:
    """Give what the sensors feel in one state."""
    b = rig.bodies
    accelerations = rig.accelerations(state, touching=touching)
    right = down = 0.0
    for length, angle, rate, acceleration in (
        (b.arm_length, state[0], state[3], accelerations[0]),
        (b.neck_length, state[1], state[4], accelerations[1]),
        (rig.head_radius, state[2] + rig.head_lead, state[5], accelerations[2]),
    ):
        sine, cosine = math.sin(angle), math.cos(angle)
        right += length * (acceleration * cosine - rate**2 * sine)
        down += length * (-acceleration * sine - rate**2 * cosine)
    down -= b.gravity
    sine, cosine = math.sin(state[2]), math.cos(state[2])
    shear = b.head_mass * rig.facing * (right * cosine - down * sine)
    axial = -b.head_mass * (right * sine + down * cosine)
    moment = rig.facing * rig.moments(state)[1] + b.cell_above_joint * shear
    pendulum = b.arm_sensor * accelerations[0] + b.gravity * math.sin(state[0])
    return pendulum, math.degrees(state[2] - state[0]), shear, axial, moment


def swing(
    rig: NeckRig,
    times: NDArray[np.float64],
    speed: float,
    *,
    bend: float = 0.0,
    tolerance: float = 1e-8,
) -> Motion:
    """Integrate a swing that reaches the honeycomb at time zero."""
    b = rig.bodies

    def reach(_time: float, state: NDArray[np.float64]) -> float:
        return b.arm_sensor * float(state[0]) - float(state[10])

    def freely(time: float, state: NDArray[np.float64], _closed: Closed) -> list[float]:
        return rig.derivative(time, state, (False,))

    # the neck bends a little on the way down, which a first try measures and a second one allows for
    first = _start(rig, float(times[0]), speed, 0.0, bend)
    arrival = integrate(freely, first, np.array([float(times[0]), 0.0])).states[:, -1]
    late = float(-arrival[0] / arrival[3])
    faster = speed**2 / (b.arm_sensor * float(arrival[3]))
    start = _start(rig, float(times[0]), faster, late, bend)
    return integrate(rig.derivative, start, times, events=[reach], tolerance=tolerance)


def _start(rig: NeckRig, time: float, speed: float, ahead: float, bend: float) -> NDArray[np.float64]:
    """Give the state at ``time`` of a stiff pendulum that passes the vertical at ``-ahead``."""
    b = rig.bodies
    outer, length = b.neck_mass + b.head_mass, b.arm_length + b.neck_length
    inertia = b.arm_inertia + outer * length**2
    weight = b.gravity * (b.arm_mass * b.arm_centre + outer * length)

    def backwards(_time: float, state: NDArray[np.float64], _closed: Closed) -> list[float]:
        return [-float(state[1]), weight / inertia * math.sin(float(state[0]))]

    before = np.array([0.0, -ahead - time])
    angle, rate = integrate(backwards, np.array([0.0, speed / b.arm_sensor]), before).states[:, -1].tolist()
    return np.array([angle, angle, angle + bend] + [rate] * 3 + [0.0] * 5)


def rig_of(facing: float, variation: Variation) -> NeckRig:
    """Give the rig of one direction with the factors of one repeat.

    Rubber scales with ``rubber``, honeycomb with ``metal``, the forward seat of the head's centre of
    gravity with ``alignment``.
    """
    neck, stop = (FLEXION_NECK, FLEXION_STOP) if facing > 0.0 else (EXTENSION_NECK, EXTENSION_STOP)
    bodies = Bodies()
    return NeckRig(
        facing=facing,
        neck=Neck(lower=neck.lower.scaled(variation.rubber), upper=neck.upper.scaled(variation.rubber)),
        honeycomb=replace(stop, plateau=stop.plateau * variation.metal),
        bodies=replace(bodies, head_forward=bodies.head_forward * variation.alignment),
    )


def simulate(times: NDArray[np.float64], variation: Variation, *, facing: float, speed: float) -> Physical:
    """Run one pendulum test."""
    impact = speed * variation.speed
    rig = rig_of(facing, variation)
    motion = swing(rig, times, impact)
    rows = np.array([felt(rig, state, touching=closed[0]) for state, closed in motion.rows()]).T
    names = ("pendulum", "rotation", "shear", "axial", "moment")
    return Physical(
        histories=dict(zip(names, rows, strict=True)), impact_speed=impact, moving_mass=rig.bodies.arm_mass
    )
