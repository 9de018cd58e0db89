"""Neck pendulum: a link and the head on a base that is stopped by a prescribed pulse and does not turn.

Angles count towards the travel of the pendulum; forces and moment are those of the head on the neck,
compression, rearward shear and backward bending positive.
"""

import math
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from demo_pairs.solver.deck import Materials
from demo_pairs.solver.history import History
from demo_pairs.solver.laws import hardening_joint, loss_damping
from demo_pairs.solver.stepping import Array, advance

GRAVITY = 9.80665e-3
LINK_MASS, LINK_LENGTH, LINK_INERTIA = 1.3, 122.0, 2.0e3
HEAD_MASS, HEAD_INERTIA = 4.54, 2.3e4
HEAD_UP, HEAD_FORWARD = 50.0, 17.0
CELL_ABOVE_JOINT = 17.78
LOSS_FREQUENCY = 5e-3
TIMES = np.round(np.arange(0.0, 200.0 + 1e-9, 0.1), 6)


@dataclass(frozen=True, kw_only=True)
class Direction:
    """One direction of bending.

    Attributes
    ----------
    facing
        +1 when the head faces the travel (flexion), -1 when it faces back (extension).
    speed
        Speed that the pulse takes away [mm/ms].
    pulse
        Corners of the deceleration: times [ms] and heights, the latter scaled to ``speed``.
    lower, upper
        Section constants of the joints [mm^3]: stiffness is modulus times this.
    hardening
        Angle of hardening of the joints [rad].
    """

    facing: float
    speed: float
    pulse: tuple[tuple[float, float], ...]
    lower: float
    upper: float
    hardening: float

    def deceleration(self, time: float) -> float:
        """Deceleration of the base [mm/ms^2] at ``time`` [ms]."""
        for (start, low), (end, high) in pairwise(self.pulse):
            if time < end:
                return self.scale * (low + (high - low) * (time - start) / (end - start))
        return 0.0

    @cached_property
    def scale(self) -> float:
        """Acceleration [mm/ms^2] of one unit of height."""
        area = sum(0.5 * (low + high) * (end - start) for (start, low), (end, high) in pairwise(self.pulse))
        return self.speed / area


FLEXION = Direction(
    facing=1.0, speed=7.0,
    pulse=((0.0, 0.0), (3.0, 24.0), (6.0, 26.0), (18.0, 22.0), (35.0, 10.0), (40.0, 0.0)),
    lower=4_100.0, upper=29_000.0, hardening=0.25,
)  # fmt: skip
EXTENSION = Direction(
    facing=-1.0, speed=6.1,
    pulse=((0.0, 0.0), (3.0, 16.0), (8.0, 19.0), (20.0, 17.0), (40.0, 9.0), (45.0, 0.0)),
    lower=1_950.0, upper=6_800.0, hardening=0.27,
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class _Moved:
    accelerations: tuple[float, float]
    base: float
    upper: float


def _lead(direction: Direction) -> tuple[float, float]:
    """Distance [mm] from joint to the head's centre of gravity, and its angle ahead of the head's axis."""
    return math.hypot(HEAD_UP, HEAD_FORWARD), math.atan2(direction.facing * HEAD_FORWARD, HEAD_UP)


def _move(state: list[float], time: float, direction: Direction, materials: Materials) -> _Moved:
    """Solve for the angular accelerations [rad/ms^2] of link and head."""
    link, head, link_rate, head_rate = state
    radius, lead = _lead(direction)
    modulus, loss = materials.neck_rubber_modulus, materials.neck_rubber_loss_factor
    lower_stiffness, upper_stiffness = modulus * direction.lower, modulus * direction.upper
    lower = hardening_joint(link, stiffness=lower_stiffness, hardening=direction.hardening)
    lower += loss_damping(lower_stiffness, loss, LOSS_FREQUENCY) * link_rate
    upper = hardening_joint(head - link, stiffness=upper_stiffness, hardening=direction.hardening)
    upper += loss_damping(upper_stiffness, loss, LOSS_FREQUENCY) * (head_rate - link_rate)
    base = -direction.deceleration(time)
    carried = (0.5 * LINK_MASS + HEAD_MASS) * LINK_LENGTH
    coupling = HEAD_MASS * LINK_LENGTH * radius
    cosine, sine = math.cos(link - head - lead), math.sin(link - head - lead)
    a = (0.25 * LINK_MASS + HEAD_MASS) * LINK_LENGTH**2 + LINK_INERTIA
    b = coupling * cosine
    c = HEAD_MASS * radius**2 + HEAD_INERTIA
    p = (
        -coupling * sine * head_rate**2
        - carried * (base * math.cos(link) + GRAVITY * math.sin(link))
        - lower
        + upper
    )
    q = (
        coupling * sine * link_rate**2
        - HEAD_MASS * radius * (base * math.cos(head + lead) + GRAVITY * math.sin(head + lead))
        - upper
    )
    determinant = a * c - b * b
    return _Moved(
        accelerations=((c * p - b * q) / determinant, (a * q - b * p) / determinant), base=base, upper=upper
    )


def _load(state: list[float], moved: _Moved, direction: Direction) -> tuple[float, float, float]:
    """Give shear, axial force [kN] and moment at the load cell [kN*mm] of the head on the neck."""
    link, head, link_rate, head_rate = state
    radius, lead = _lead(direction)
    along, down = moved.base, -GRAVITY
    for length, angle, rate, acceleration in (
        (LINK_LENGTH, link, link_rate, moved.accelerations[0]),
        (radius, head + lead, head_rate, moved.accelerations[1]),
    ):
        along += length * (acceleration * math.cos(angle) - rate**2 * math.sin(angle))
        down -= length * (acceleration * math.sin(angle) + rate**2 * math.cos(angle))
    forward = HEAD_MASS * direction.facing * (along * math.cos(head) - down * math.sin(head))
    pull = -HEAD_MASS * (along * math.sin(head) + down * math.cos(head))
    moment = direction.facing * moved.upper + CELL_ABOVE_JOINT * forward
    return -forward, -pull, -moment


def run(materials: Materials, *, direction: Direction) -> History:
    """Swing the pendulum and report its deceleration, head rotation and the load on the upper neck."""

    def rates(state: Array, _closed: bool, time: float) -> list[float]:  # noqa: FBT001
        values = state.tolist()
        return [*values[2:], *_move(values, time, direction, materials).accelerations]

    states, _ = advance(rates, np.zeros(4), TIMES)
    moves = [
        _move(state, time, direction, materials)
        for state, time in zip(states.tolist(), TIMES.tolist(), strict=True)
    ]
    loads = np.array(
        [_load(state, moved, direction) for state, moved in zip(states.tolist(), moves, strict=True)]
    )
    return History(
        time=TIMES,
        columns={
            "pendulum deceleration [mm/ms^2]": np.array([-moved.base for moved in moves]),
            "head rotation [rad]": states[:, 1],
            "neck shear force [kN]": loads[:, 0],
            "neck axial force [kN]": loads[:, 1],
            "neck moment [kN*mm]": loads[:, 2],
        },
    )
