"""Bare head falling on a rigid plate: skin with rate effect and Maxwell branches, friction."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from demo_pairs.laboratory.chain import Branch
from demo_pairs.laboratory.force_laws import maxwell_rate, rate_dependent_contact, regularised_friction
from demo_pairs.laboratory.motion import Closed, integrate
from demo_pairs.laboratory.rigs.physical import Physical
from demo_pairs.laboratory.scatter import Variation

GRAVITY = 9.80665


@dataclass(frozen=True, kw_only=True)
class Head:
    """Hardware constants, SI units.

    Mass and inertia are round figures for a mid-size adult head, from memory; the skin is fitted so
    that every repeat meets the windows of 49 CFR 572.32; the rest is invented.
    """

    mass: float = 4.54
    inertia: float = 0.022
    drop_height: float = 0.376
    skin_stiffness: float = 4.6e7
    skin_exponent: float = 1.5
    skin_damping: float = 0.10
    branches: tuple[Branch, ...] = (
        Branch(stiffness=1.5e6, relaxation_time=0.0009),
        Branch(stiffness=0.6e6, relaxation_time=0.006),
    )
    friction: float = 0.22
    friction_transition: float = 0.05
    lever: float = 0.006
    height: float = 0.085
    pitch: float = math.radians(27.0)
    roll: float = math.radians(1.6)
    lateral_frequency: float = 620.0
    lateral_damping: float = 0.12
    lateral_share: float = 0.008


HEAD = Head()


def contact(
    state: list[float], head: Head, variation: Variation, *, touching: bool
) -> tuple[float, float, float]:
    """Find the forces between skin and plate."""
    lever = head.lever * variation.alignment
    indentation, rate = state[0] + lever * math.sin(state[2]), state[4] + lever * state[6]
    if not touching:
        return 0.0, 0.0, 0.0
    skin = rate_dependent_contact(
        indentation,
        rate,
        stiffness=head.skin_stiffness * variation.vinyl,
        exponent=head.skin_exponent,
        damping=head.skin_damping,
    )
    normal = max(0.0, skin + state[8] + state[9])
    sliding = state[5] + head.height * state[6]
    rub = regularised_friction(sliding, limit=head.friction * normal, transition=head.friction_transition)
    return normal, rub, rate


def derivative(state: list[float], head: Head, variation: Variation, *, touching: bool) -> list[float]:
    """Right-hand side."""
    normal, rub, rate = contact(state, head, variation, touching=touching)
    mode = 2.0 * math.pi * head.lateral_frequency
    push = head.lateral_share * normal / head.mass
    moment = -(normal * head.lever * variation.alignment + rub * head.height)
    branch_rates = [
        maxwell_rate(
            force,
            rate,
            stiffness=branch.stiffness * variation.vinyl,
            relaxation_time=branch.relaxation_time,
        )
        for force, branch in zip(state[8:10], head.branches, strict=True)
    ]
    return [
        *state[4:8],
        GRAVITY - normal / head.mass,
        -rub / head.mass,
        moment / head.inertia,
        push - 2.0 * head.lateral_damping * mode * state[7] - mode**2 * state[3],
        *branch_rates,
    ]


def simulate(times: NDArray[np.float64], variation: Variation, *, head: Head = HEAD) -> Physical:
    """Run one drop."""
    impact = math.sqrt(2.0 * GRAVITY * head.drop_height) * variation.speed
    after = times[times >= 0.0]
    lever = head.lever * variation.alignment

    def slope(_time: float, state: NDArray[np.float64], closed: Closed) -> list[float]:
        return derivative(state.tolist(), head, variation, touching=closed[0])

    def depth(_time: float, state: NDArray[np.float64]) -> float:
        return float(state[0]) + lever * math.sin(float(state[2]))

    start = np.array([0.0, 0.0, 0.0, 0.0, impact, 0.0, 0.0, 0.0, 0.0, 0.0])
    motion = integrate(slope, start, after, events=[depth])
    axes = np.zeros((3, len(times)))
    axes[:, len(times) - len(after) :] = np.array(
        [_felt(state, head, variation, touching=closed[0]) for state, closed in motion.rows()]
    ).T
    return Physical(
        histories={"ax": axes[0], "ay": axes[1], "az": axes[2]}, impact_speed=impact, moving_mass=head.mass
    )


def _felt(
    state: list[float], head: Head, variation: Variation, *, touching: bool
) -> tuple[float, float, float]:
    """Specific force in head axes [m/s^2]: the plate pushes the forehead backwards and down the body."""
    normal, rub, _ = contact(state, head, variation, touching=touching)
    up, along = normal / head.mass, -rub / head.mass
    pitch, roll = head.pitch * variation.alignment + state[2], head.roll * variation.alignment
    mode = 2.0 * math.pi * head.lateral_frequency
    sideways = up * math.sin(roll) + mode**2 * state[3] + 2.0 * head.lateral_damping * mode * state[7]
    plane = up * math.cos(roll)
    return (
        -plane * math.cos(pitch) + along * math.sin(pitch),
        sideways,
        plane * math.sin(pitch) + along * math.cos(pitch),
    )
