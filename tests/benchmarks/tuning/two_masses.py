"""Two masses: an impactor strikes mass 1 through foam, a hardening spring joins it to mass 2 on rubber.

Units are mm, ms, kg and kN. The tests come from a richer model, so no card matches them exactly. Everything
is invented.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.compiling import compiled
from tests.benchmarks.tuning.invented import (
    build_project,
    deck_values,
    scattered,
    smooth_noise,
    write_curves,
)
from tests.benchmarks.tuning.problem import ProblemKind

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

NAME: Final = "two-masses"
SPEEDS: Final = {"slow": 3.0, "fast": 5.0, "faster": 6.5}
"""Load cases and their speeds of impact, mm/ms; ``faster`` is held out."""
REPEATS: Final = 4
SEED: Final = 20260

IMPACTOR, MASS_1, MASS_2 = 10.0, 2.0, 20.0
THICKNESS: Final = 40.0
"""Of the foam."""
HARDENING: Final = 30.0
"""Deflection at which the spring carries twice the linear force."""
MOUNT: Final = 0.05
"""Long-term stiffness of the mount, kN/mm."""
STEP, EVERY, END = 0.02, 5, 90.0

CARDS: Final = (
    "foam_stiffness", "foam_densification_strain", "foam_damping", "spring_stiffness", "spring_damping",
    "rubber_stiffness", "rubber_time",
)  # fmt: skip
MODEL: Final = {"foam_exponent": 6.0, "fast_rubber_stiffness": 0.0, "fast_rubber_time": 1.0, "friction": 0.0}
"""What the model leaves out of the hardware, or simplifies."""
HARDWARE: Final = {
    "foam_stiffness": 2.2,
    "foam_densification_strain": 0.5,
    "foam_damping": 0.12,
    "spring_stiffness": 0.1,
    "spring_damping": 0.12,
    "rubber_stiffness": 0.15,
    "rubber_time": 15.0,
    "foam_exponent": 4.5,
    "fast_rubber_stiffness": 0.06,
    "fast_rubber_time": 3.0,
    "friction": 0.12,
}
SCATTER, SPEED_SCATTER, NOISE = 0.03, 0.01, 0.01
"""Of the hardware and of the speed from repeat to repeat, and noise as a share of the peak."""

COLUMNS: Final = (
    "impactor acceleration [mm/ms^2]", "mass 1 acceleration [mm/ms^2]", "mass 2 acceleration [mm/ms^2]",
    "deflection [mm]", "mount force [kN]",
)  # fmt: skip


@compiled
def foam_force(depth: float, rate: float, card: Floats) -> float:
    """Return the force of the foam, kN: after Hunt and Crossley, J. Appl. Mech. 42 (1975), from memory."""
    if depth <= 0.0:
        return 0.0
    strain = depth / THICKNESS
    elastic = card[0] * strain * (1.0 + (strain / card[1]) ** card[7])
    return float(elastic * max(0.0, 1.0 + card[2] * rate))


@compiled
def forces(state: Floats, card: Floats) -> tuple[float, float, float]:
    """Return forces of foam, spring and mount, kN."""
    foam = foam_force(state[0] - state[1], state[3] - state[4], card)
    deflection, rate = state[1] - state[2], state[4] - state[5]
    spring = card[3] * deflection * (1.0 + (deflection / HARDENING) ** 2) + card[4] * rate
    spring += card[10] * np.tanh(rate / 0.1)
    return foam, spring, MOUNT * state[2] + state[6] + state[7]


@compiled
def set_rates(state: Floats, card: Floats, found: Floats) -> None:
    """Set the rates of the state: three positions, three speeds, forces of two branches of the mount."""
    foam, spring, mount = forces(state, card)
    found[:3] = state[3:6]
    found[3] = -foam / IMPACTOR
    found[4] = (foam - spring) / MASS_1
    found[5] = (spring - mount) / MASS_2
    found[6] = card[5] * state[5] - state[6] / card[6]
    found[7] = card[8] * state[5] - state[7] / card[9]


@compiled
def integrated(card: Floats, speed: float) -> Floats:
    """Integrate with the classical method of Runge and Kutta; states of shape ``(n, 8)``, every 0.1 ms."""
    count = round(END / (STEP * EVERY))
    states = np.zeros((count + 1, 8))
    stage = np.zeros((4, 8))
    states[0, 3] = speed
    state, moved = states[0].copy(), np.empty(8)
    for row in range(1, count + 1):
        for _ in range(EVERY):
            set_rates(state, card, stage[0])
            for number, share in ((1, 0.5), (2, 0.5), (3, 1.0)):
                for place in range(8):
                    moved[place] = state[place] + share * STEP * stage[number - 1, place]
                set_rates(moved, card, stage[number])
            for place in range(8):
                middle = stage[1, place] + stage[2, place]
                state[place] += STEP / 6.0 * (stage[0, place] + 2.0 * middle + stage[3, place])
        states[row] = state
    return states


@compiled
def forces_of_all(states: Floats, card: Floats) -> Floats:
    """Return the forces of each state, shape ``(n, 3)``."""
    found = np.empty((len(states), 3))
    for row in range(len(states)):
        found[row] = forces(states[row], card)
    return found


def card_of(values: Mapping[str, float]) -> Floats:
    """Return the numbers of a model or of the hardware in the order of the compiled code."""
    return np.array([values[name] for name in (*CARDS, *MODEL)])


def curves_of(card: Floats, speed: float) -> tuple[Floats, dict[str, Floats]]:
    """Return times, shape ``(n,)``, and what is measured, each of shape ``(n,)``."""
    states = integrated(card, speed)
    foam, spring, mount = forces_of_all(states, card).T
    measured = (
        -foam / IMPACTOR,
        (foam - spring) / MASS_1,
        (spring - mount) / MASS_2,
        states[:, 1] - states[:, 2],
        mount,
    )
    time = np.arange(float(len(states))) * (STEP * EVERY)
    return time, dict(zip(COLUMNS, measured, strict=True))


def solve(deck: str, output: Path) -> None:
    """Run every load case of a deck."""
    card = card_of(deck_values(deck) | MODEL)
    for case, speed in SPEEDS.items():
        time, columns = curves_of(card, speed)
        if not all(np.isfinite(values).all() for values in columns.values()):
            raise ArithmeticError(f"load case '{case}' did not stay finite")
        write_curves(output / f"{case}.csv", time, columns)


def write_tests(folder: Path) -> None:
    """Write the repeats of every load case."""
    for number, (case, speed) in enumerate(SPEEDS.items()):
        for repeat in range(1, REPEATS + 1):
            random = np.random.default_rng([SEED, number, repeat])
            card = card_of(scattered(HARDWARE, SCATTER, random))
            time, columns = curves_of(card, speed * (1.0 + SPEED_SCATTER * random.standard_normal()))
            for name, values in columns.items():
                noise = smooth_noise(len(values), 3.0, random)
                columns[name] = values + NOISE * np.abs(values).max() * noise
            write_curves(folder / case / f"repeat-{repeat}.csv", time, columns)


def build(folder: Path) -> None:
    """Write the project."""
    build_project(NAME, folder, write_tests=write_tests, solve=solve)


KIND: Final = ProblemKind(name=NAME, build=build, solve=solve)
