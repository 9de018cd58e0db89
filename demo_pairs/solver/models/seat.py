"""Seat drop: pelvis, torso and head above a seat that moves by a half-sine; up and compression positive.

Positions are those in a frame that falls freely, so weight needs no term of its own.
"""

import math

import numpy as np

from demo_pairs.solver.deck import Materials
from demo_pairs.solver.history import History
from demo_pairs.solver.laws import spring_and_dashpot
from demo_pairs.solver.stepping import Array, advance

GRAVITY = 9.80665e-3
PELVIS_MASS = 26.0
TORSO_MASS = 22.5
HEAD_MASS = 5.4
LUMBAR_AREA = 2800.0
LUMBAR_LENGTH = 150.0
LUMBAR_DAMPING_RATIO = 0.15
NECK_STIFFNESS = 0.22
NECK_DAMPING = 0.30
DURATION = 100.0
TIMES = np.round(np.arange(0.0, 200.0 + 1e-9, 0.1), 6)


def pulse(time: float, peak: float) -> tuple[float, float, float]:
    """Give the motion of the seat: half a sine, then free flight."""
    top, omega = peak * GRAVITY, math.pi / DURATION
    if time < DURATION:
        angle = omega * time
        return (
            top * math.sin(angle),
            top / omega * (1.0 - math.cos(angle)),
            top / omega * (time - math.sin(angle) / omega),
        )
    speed = 2.0 * top / omega
    return 0.0, speed, top / omega * DURATION + speed * (time - DURATION)


def forces(
    state: list[float], seat: tuple[float, float], materials: Materials, *, closed: bool
) -> tuple[float, float, float]:
    """Give cushion, lumbar and neck force [kN]."""
    pelvis, torso, head, pelvis_speed, torso_speed, head_speed = state
    cushion = 0.0
    if closed:
        cushion = max(
            0.0,
            spring_and_dashpot(
                seat[0] - pelvis,
                seat[1] - pelvis_speed,
                stiffness=materials.cushion_stiffness,
                damping=materials.cushion_damping,
            ),
        )
    stiffness = materials.lumbar_rubber_modulus * LUMBAR_AREA / LUMBAR_LENGTH
    carried = TORSO_MASS + HEAD_MASS
    lumbar = spring_and_dashpot(
        pelvis - torso,
        pelvis_speed - torso_speed,
        stiffness=stiffness,
        damping=2.0 * LUMBAR_DAMPING_RATIO * math.sqrt(stiffness * carried),
    )
    neck = spring_and_dashpot(
        torso - head, torso_speed - head_speed, stiffness=NECK_STIFFNESS, damping=NECK_DAMPING
    )
    return cushion, lumbar, neck


def run(materials: Materials, *, peak: float) -> History:
    """Run the slam with a half-sine of ``peak`` g and report accelerations and forces."""

    def rates(state: Array, closed: bool, time: float) -> list[float]:  # noqa: FBT001
        values = state.tolist()
        _, speed, rise = pulse(time, peak)
        cushion, lumbar, neck = forces(values, (rise, speed), materials, closed=closed)
        return [
            *values[3:],
            (cushion - lumbar) / PELVIS_MASS,
            (lumbar - neck) / TORSO_MASS,
            neck / HEAD_MASS,
        ]

    def depth(state: Array, time: float) -> float:
        return pulse(time, peak)[2] - float(state[0])

    states, closed = advance(rates, np.zeros(6), TIMES, depth=depth)
    seat = np.array([pulse(time, peak) for time in TIMES.tolist()])
    pushes = np.array(
        [
            forces(state, (rise, speed), materials, closed=shut)
            for state, (_, speed, rise), shut in zip(
                states.tolist(), seat.tolist(), closed.tolist(), strict=True
            )
        ]
    )
    cushion, lumbar, neck = pushes.T
    return History(
        time=TIMES,
        columns={
            "seat acceleration [mm/ms^2]": seat[:, 0],
            "pelvis acceleration [mm/ms^2]": (cushion - lumbar) / PELVIS_MASS,
            "lumbar force [kN]": lumbar,
            "chest acceleration [mm/ms^2]": (lumbar - neck) / TORSO_MASS,
            "head acceleration [mm/ms^2]": neck / HEAD_MASS,
            "neck force [kN]": neck,
        },
    )
