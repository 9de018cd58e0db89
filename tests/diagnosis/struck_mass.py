"""A mass that strikes a spring, a dashpot and a stop: the simplest mechanics, in which the cause is known."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.integrate import solve_ivp

from correlate.diagnosis.hints import EvidenceChannel
from correlate.pair import AlignedPair

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from correlate.diagnosis.hints import Role

    Floats = NDArray[np.float64]

TIME: Final[Floats] = np.arange(1201, dtype=np.float64) * 1e-4
STRUCK_MS: Final = 10.0
ROLES: Final[tuple[Role, ...]] = ("force", "travel")
SPEEDS: Final = (4.0, 6.0)


@dataclass(frozen=True, kw_only=True)
class Struck:
    """A mass and what it meets, in kg, m/s, kN/m, kN·s/m, mm.

    ``kept`` is the share of the elastic force on unloading; ``gap`` is travelled before contact; the spring
    is four times stiffer from ``stop`` on.
    """

    mass: float = 20.0
    speed: float = 5.0
    stiffness: float = 60.0
    damping: float = 0.1
    kept: float = 0.6
    gap: float = 8.0
    stop: float = 70.0

    def force(self, travel: float, speed: float) -> float:
        """Return the force in kN; a contact never pulls."""
        pressed = travel - self.gap
        if pressed <= 0.0:
            return 0.0
        elastic = 1e-3 * self.stiffness * (pressed + 3.0 * max(0.0, pressed - self.stop))
        kept = 0.5 * (1.0 + self.kept) + 0.5 * (1.0 - self.kept) * math.tanh(speed / 0.1)
        return max(0.0, elastic * kept + self.damping * speed * min(1.0, pressed / 2.0))


@cache
def curves(struck: Struck) -> dict[Role, Floats]:
    """Return force in kN, travel in mm and the mass's acceleration in mm/ms² over time, shape ``(n,)``.

    Integrated by scipy in mm and ms.
    """
    times = np.clip(TIME * 1e3 - STRUCK_MS, 0.0, None)
    found = solve_ivp(
        lambda _, state: [state[1], -struck.force(*state) / struck.mass],
        (0.0, 120.0),
        [0.0, struck.speed],
        t_eval=np.unique(times),
        max_step=0.25,
    )
    at = np.searchsorted(found.t, times)
    force = np.array([struck.force(x, v) for x, v in found.y.T])
    return {
        "force": force[at],
        "travel": np.maximum(found.y[0], 0.0)[at],
        "rig": -force[at] / struck.mass,
    }


def evidence(
    test: Struck, model: Struck, *, roles: Sequence[Role] = ROLES, speeds: Sequence[float] = SPEEDS
) -> list[EvidenceChannel]:
    """Return the channels of one load case for each speed of the test; the model keeps its own excess."""
    return [
        EvidenceChannel(
            name=role,
            load_case=f"{speed:g} m/s",
            role=role,
            pair=AlignedPair(
                time=TIME,
                reference=curves(replace(test, speed=speed))[role],
                candidate=curves(replace(model, speed=speed * model.speed / test.speed))[role],
            ),
        )
        for speed in speeds
        for role in roles
    ]
