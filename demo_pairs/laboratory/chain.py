"""Masses in a row, joined by force laws and Maxwell branches; integrated between contact events."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from demo_pairs.laboratory.force_laws import maxwell_rate
from demo_pairs.laboratory.motion import Closed, Event, Motion, integrate

GROUND = -1
Law = Callable[[float, float], float]
"""Force [N] of deformation [m] and rate [m/s]."""


@dataclass(frozen=True, kw_only=True)
class Branch:
    """A Maxwell branch: ``stiffness`` [N/m] in series with a dashpot, by its ``relaxation_time`` [s]."""

    stiffness: float
    relaxation_time: float


@dataclass(frozen=True, kw_only=True)
class Joint:
    """What acts between two masses (or a mass and the ground).

    Attributes
    ----------
    near, far
        Numbers of the masses; ``GROUND`` is the immovable end. Deformation is ``x[near] - x[far] - gap``.
    force
        Function of deformation [m] and rate [m/s], giving a force [N]; positive pushes apart.
    branches
        Maxwell branches beside it.
    gap
        Distance before the two touch [m].
    contact
        A contact acts only while it is closed (the deformation is positive), and never pulls.
    """

    near: int
    far: int
    force: Law
    branches: tuple[Branch, ...] = ()
    gap: float = 0.0
    contact: bool = False

    def push(self, deformation: float, rate: float, branch_forces: list[float], *, closed: bool) -> float:
        """Give the total force [N] of the law and its branches; only contacts can be open."""
        if not closed:
            return 0.0
        total = self.force(deformation, rate) + sum(branch_forces)
        return max(0.0, total) if self.contact else total

    def branch_rates(self, forces: list[float], rate: float) -> list[float]:
        """Give the rates of the branch forces [N/s] while the joint deforms at ``rate`` [m/s]."""
        return [
            maxwell_rate(force, rate, stiffness=branch.stiffness, relaxation_time=branch.relaxation_time)
            for branch, force in zip(self.branches, forces, strict=True)
        ]


@dataclass(frozen=True, kw_only=True)
class Chain:
    """Masses [kg] that move along one line, positive in the direction of the blow.

    Attributes
    ----------
    masses
        One a body [kg].
    joints
        What acts between them.
    body_force
        Constant force a body [N], such as weight.
    """

    masses: tuple[float, ...]
    joints: tuple[Joint, ...]
    body_force: tuple[float, ...]

    def evaluate(self, state: list[float], closed: Closed) -> tuple[list[float], list[float], list[float]]:
        """Give accelerations [m/s^2], joint forces [N] and branch force rates [N/s] of one state.

        ``closed`` says of each contact, in the order of the joints, whether it is closed.
        """
        n = len(self.masses)
        total = list(self.body_force)
        pushes: list[float] = []
        rates: list[float] = []
        cursor, contacts = 2 * n, iter(closed)
        for joint in self.joints:
            shut = next(contacts) if joint.contact else True
            near, far = joint.near, joint.far
            deformation, rate = state[near] - joint.gap, state[n + near]
            if far != GROUND:
                deformation, rate = deformation - state[far], rate - state[n + far]
            forces = state[cursor : cursor + len(joint.branches)]
            cursor += len(forces)
            push = joint.push(deformation, rate, forces, closed=shut)
            if forces:
                rates += joint.branch_rates(forces, rate if shut else 0.0)
            total[near] -= push
            if far != GROUND:
                total[far] += push
            pushes.append(push)
        return [force / mass for force, mass in zip(total, self.masses, strict=True)], pushes, rates

    def derivative(self, _time: float, state: NDArray[np.float64], closed: Closed) -> list[float]:
        """Right-hand side for the integrator."""
        values = state.tolist()
        n = len(self.masses)
        accelerations, _, rates = self.evaluate(values, closed)
        return [*values[n : 2 * n], *accelerations, *rates]

    def contact_events(self) -> list[Event]:
        """Functions that cross zero where a contact begins or ends."""

        def event(joint: Joint) -> Event:
            def deformation(_time: float, state: NDArray[np.float64]) -> float:
                far = 0.0 if joint.far == GROUND else float(state[joint.far])
                return float(state[joint.near]) - far - joint.gap

            return deformation

        return [event(joint) for joint in self.joints if joint.contact]

    def start(self, position: tuple[float, ...], velocity: tuple[float, ...]) -> NDArray[np.float64]:
        """Give the state vector of the given positions [m] and velocities [m/s], branches relaxed."""
        branches = sum(len(joint.branches) for joint in self.joints)
        return np.array([*position, *velocity, *([0.0] * branches)])

    def run(
        self, start: NDArray[np.float64], times: NDArray[np.float64], *, tolerance: float = 1e-8
    ) -> "ChainMotion":
        """Integrate and give motion, accelerations and joint forces at ``times`` [s]."""
        motion = integrate(self.derivative, start, times, events=self.contact_events(), tolerance=tolerance)
        evaluated = [self.evaluate(state, closed) for state, closed in motion.rows()]
        n = len(self.masses)
        return ChainMotion(
            time=times,
            position=motion.states[:n],
            velocity=motion.states[n : 2 * n],
            acceleration=np.array([row[0] for row in evaluated]).T,
            push=np.array([row[1] for row in evaluated]).T,
            motion=motion,
        )


@dataclass(frozen=True, kw_only=True)
class ChainMotion:
    """Time histories of a chain: arrays of shape ``(bodies, n)`` and ``(joints, n)``, SI units."""

    time: NDArray[np.float64]
    position: NDArray[np.float64]
    velocity: NDArray[np.float64]
    acceleration: NDArray[np.float64]
    push: NDArray[np.float64]
    motion: Motion
