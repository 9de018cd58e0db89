"""Knee impact: probe and knee; flesh as an elastic pad, femur as a spring. Compression is positive."""

import numpy as np

from demo_pairs.solver.deck import Materials
from demo_pairs.solver.history import History
from demo_pairs.solver.laws import elastic_pad, rate_factor, spring_and_dashpot
from demo_pairs.solver.stepping import Array, advance

PROBE_MASS = 5.0
KNEE_MASS = 1.0
SPEED = 2.1
FLESH_AREA = 2000.0
FLESH_THICKNESS = 12.0
RATE_COEFFICIENT = 0.07
REFERENCE_RATE = 0.1
FEMUR_STIFFNESS = 6.0
FEMUR_DAMPING = 2.5
TIMES = np.round(np.arange(0.0, 60.0 + 1e-9, 0.05), 6)


def forces(state: list[float], materials: Materials, *, closed: bool) -> tuple[float, float]:
    """Give contact force and femur force of a state."""
    probe, knee, probe_speed, knee_speed = state
    contact = 0.0
    if closed:
        elastic = elastic_pad(
            probe - knee, modulus=materials.knee_flesh_modulus, area=FLESH_AREA, thickness=FLESH_THICKNESS
        )
        contact = elastic * rate_factor(
            probe_speed - knee_speed, coefficient=RATE_COEFFICIENT, reference=REFERENCE_RATE
        )
    femur = spring_and_dashpot(knee, knee_speed, stiffness=FEMUR_STIFFNESS, damping=FEMUR_DAMPING)
    return contact, femur


def run(materials: Materials) -> History:
    """Strike the knee and report probe force, probe deceleration and femur force.

    Parameters
    ----------
    materials
        Cards of the deck, solver units.

    Returns
    -------
    History
        Probe force [kN], probe deceleration [mm/ms^2], femur force [kN], shape ``(1201,)`` to 60 ms.

    Raises
    ------
    ArithmeticError
        The integration failed.
    """

    def rates(state: Array, closed: bool, _time: float) -> list[float]:  # noqa: FBT001
        values = state.tolist()
        contact, femur = forces(values, materials, closed=closed)
        return [*values[2:], -contact / PROBE_MASS, (contact - femur) / KNEE_MASS]

    start = np.array([0.0, 0.0, SPEED, 0.0])
    states, closed = advance(rates, start, TIMES, depth=lambda state, _: float(state[0] - state[1]))
    pushes = np.array(
        [
            forces(state, materials, closed=shut)
            for state, shut in zip(states.tolist(), closed.tolist(), strict=True)
        ]
    )
    return History(
        time=TIMES,
        columns={
            "probe force [kN]": pushes[:, 0],
            "probe deceleration [mm/ms^2]": pushes[:, 0] / PROBE_MASS,
            "femur force [kN]": pushes[:, 1],
        },
    )
