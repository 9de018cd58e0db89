"""Faults: what is wrong with a model, how much, and how it is planted into the parameters."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from tests.diagnosis.worlds.families import Family

Side = Literal["too much", "too little"]
KINDS: Final = (
    "stiffness", "damping", "mass", "hysteresis", "densification", "gap", "friction", "speed", "timing",
)  # fmt: skip
FACTORS: Final[dict[str, tuple[float, float]]] = {
    "stiffness": (1.2, 1.9), "damping": (1.2, 1.9), "mass": (1.15, 1.6), "densification": (1.15, 1.6),
    "friction": (2.0, 5.0), "speed": (1.06, 1.2),
}  # fmt: skip
"""A parameter is multiplied or divided by a factor between these, uniform in its logarithm (chosen here)."""
SHARE_CHANGE: Final = (0.2, 0.45)
"""Absolute change of the share of force that is lost on unloading."""
SHARE_LIMITS: Final = (0.02, 0.9)
TIMING_S: Final = (0.003, 0.025)
SMALLEST_GAP: Final = 0.05
"""Share of a gap that is left at least, where it is too small."""
MOST_FRICTION: Final = 2.5
"""A friction that is too large is at most this multiple of the largest in the family."""


@dataclass(frozen=True, kw_only=True)
class Fault:
    """One fault of a model.

    Attributes
    ----------
    kind
        One of `KINDS`.
    side
        Of the behaviour in the model. A gap that is too large, a model that is too fast or too late is "too
        much"; a foam that densifies too late is "too little" densification.
    part
        Parameter that carries it, several joined by ``+``; ``"time zero"`` for timing.
    amount
        Factor of the parameter; for a hysteresis the change of its share; for a gap the change in its unit;
        for timing the shift in s, later is positive.
    """

    kind: str
    side: Side
    part: str
    amount: float

    @property
    def shift_s(self) -> float:
        """Shift of all channels."""
        return self.amount if self.kind == "timing" else 0.0


def draw_fault(
    family: Family, kind: str, system: NDArray[np.void], rng: np.random.Generator, *, more: bool
) -> Fault | None:
    """Draw part and size of a fault; None where the part has no room for it.

    ``more`` says whether the amount grows: parameter, gap, share or time zero.
    """
    if kind == "timing":
        shift = rng.uniform(*TIMING_S)
        return Fault(kind=kind, side=_side(more), part="time zero", amount=float(shift if more else -shift))
    part = "speed" if kind == "speed" else str(rng.choice(family.parts[kind]))
    values = np.array([float(system[name]) for name in part.split("+")])
    if kind in FACTORS:
        factor = float(np.exp(rng.uniform(*np.log(FACTORS[kind]))))
        if kind == "friction" and more and factor * values.max() > MOST_FRICTION * family.ranges[part][1]:
            return None
        much = more if kind != "densification" else not more
        return Fault(kind=kind, side=_side(much), part=part, amount=factor if more else 1.0 / factor)
    least, most = SHARE_CHANGE if kind == "hysteresis" else family.gap_change
    low, high = SHARE_LIMITS if kind == "hysteresis" else (SMALLEST_GAP * values.min(), np.inf)
    room = float(min(most, high - values.max() if more else values.min() - low))
    if room < least:
        return None
    change = float(rng.uniform(least, room))
    return Fault(kind=kind, side=_side(more), part=part, amount=change if more else -change)


def plant(fault: Fault, system: NDArray[np.void]) -> None:
    """Change the parameters of one model, in place; timing changes none."""
    if fault.kind == "timing":
        return
    for name in fault.part.split("+"):
        system[name] = system[name] * fault.amount if fault.kind in FACTORS else system[name] + fault.amount


def _side(more: bool) -> Side:  # noqa: FBT001 - the one word it translates
    return "too much" if more else "too little"
