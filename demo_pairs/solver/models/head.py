"""Head drop: one mass on a thin skin layer, no rotation. Axes: x forward, y left, z up."""

import math

import numpy as np

from demo_pairs.solver.deck import Materials
from demo_pairs.solver.history import History
from demo_pairs.solver.laws import layer_indentation, rate_factor
from demo_pairs.solver.stepping import Array, advance

MASS = 4.54
IMPACT_SPEED = 2.716
GRAVITY = 9.80665e-3
RADIUS = 80.0
SKIN_THICKNESS = 11.0
REFERENCE_RATE = 0.1
PITCH = math.radians(28.5)
ROLL = math.radians(2.0)
TIMES = np.round(np.arange(0.0, 40.0 + 1e-9, 0.05), 6)


def skin_force(depth: float, rate: float, materials: Materials) -> float:
    """Give the force of the skin."""
    elastic = layer_indentation(
        depth, modulus=materials.head_skin_modulus, radius=RADIUS, thickness=SKIN_THICKNESS
    )
    return elastic * rate_factor(
        rate, coefficient=materials.head_skin_rate_coefficient, reference=REFERENCE_RATE
    )


def run(materials: Materials) -> History:
    """Drop the head and report accelerations that read zero in free fall.

    Parameters
    ----------
    materials
        Cards of the deck, solver units.

    Returns
    -------
    History
        Head acceleration x, y, z [mm/ms^2], shape ``(801,)`` to 40 ms.

    Raises
    ------
    ArithmeticError
        The integration failed.
    """

    def rates(state: Array, closed: bool, _time: float) -> list[float]:  # noqa: FBT001
        depth, rate = state.tolist()
        force = skin_force(depth, rate, materials) if closed else 0.0
        return [rate, GRAVITY - force / MASS]

    states, closed = advance(
        rates, np.array([0.0, IMPACT_SPEED]), TIMES, depth=lambda state, _: float(state[0])
    )
    felt = np.array(
        [
            skin_force(depth, rate, materials) / MASS if shut else 0.0
            for (depth, rate), shut in zip(states.tolist(), closed.tolist(), strict=True)
        ]
    )
    return History(
        time=TIMES,
        columns={
            "head x acceleration [mm/ms^2]": -felt * math.cos(ROLL) * math.cos(PITCH),
            "head y acceleration [mm/ms^2]": -felt * math.sin(ROLL),
            "head z acceleration [mm/ms^2]": -felt * math.cos(ROLL) * math.sin(PITCH),
        },
    )
