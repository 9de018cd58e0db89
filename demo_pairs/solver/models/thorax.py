"""Thorax impact: probe, sternum, spine; foam block, hardening ribs, one dashpot. Compression is positive."""

import numpy as np

from demo_pairs.solver.deck import Materials
from demo_pairs.solver.history import History
from demo_pairs.solver.laws import block_foam, hardening_rib
from demo_pairs.solver.stepping import Array, advance

PROBE_MASS = 23.4
STERNUM_MASS = 0.6
SPINE_MASS = 26.5
RIB_HARDENING = 75.0
FOAM_AREA = 15_000.0
FOAM_THICKNESS = 25.0
TIMES = np.round(np.arange(0.0, 150.0 + 1e-9, 0.1), 6)


def forces(state: list[float], materials: Materials, *, closed: bool) -> tuple[float, float]:
    """Give foam force and rib force of a state."""
    probe, sternum, spine, _, sternum_speed, spine_speed = state
    foam = 0.0
    if closed:
        foam = block_foam(
            probe - sternum,
            modulus=materials.thorax_foam_modulus,
            area=FOAM_AREA,
            thickness=FOAM_THICKNESS,
            densification=materials.thorax_foam_densification_strain,
        )
    ribs = hardening_rib(sternum - spine, stiffness=materials.rib_stiffness, reference=RIB_HARDENING)
    ribs += materials.rib_damping * (sternum_speed - spine_speed)
    return foam, ribs


def run(materials: Materials, *, speed: float) -> History:
    """Strike the thorax at ``speed`` [mm/ms] and report force, accelerations and compression."""

    def rates(state: Array, closed: bool, _time: float) -> list[float]:  # noqa: FBT001
        values = state.tolist()
        foam, ribs = forces(values, materials, closed=closed)
        return [*values[3:], -foam / PROBE_MASS, (foam - ribs) / STERNUM_MASS, ribs / SPINE_MASS]

    start = np.array([0.0, 0.0, 0.0, speed, 0.0, 0.0])
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
            "sternum compression [mm]": states[:, 1] - states[:, 2],
            "upper spine acceleration [mm/ms^2]": pushes[:, 1] / SPINE_MASS,
        },
    )
