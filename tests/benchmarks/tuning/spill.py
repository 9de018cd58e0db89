"""The spill of a chemical into a long channel, a published test function whose output is curves.

Bliznyuk, Ruppert, Shoemaker, Regis, Wild, Mugunthan, J. Comput. Graph. Stat. 17 (2008) 270-294; function and
ranges from memory. Two spills of mass M, at place 0 and time 0 and at place L and time tau, diffuse with the
coefficient D. A second of the paper is a millisecond here, as curves of impacts have; the tests differ from
the function by a small smooth discrepancy, by scatter from repeat to repeat, and by noise, all invented.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from tests.benchmarks.tuning.invented import (
    build_project,
    deck_values,
    scattered,
    smooth_noise,
    write_curves,
)
from tests.benchmarks.tuning.problem import ProblemKind

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

NAME: Final = "spill"
PLACES: Final = {"measured": (0.0, 1.0, 2.5), "elsewhere": (0.5, 1.75)}
"""Load cases and the places of their channels; ``elsewhere`` is held out."""
TIMES: Final = np.round(np.arange(1.0, 60.0 + 1e-9, 0.1), 6)
REPEATS: Final = 4
SEED: Final = 20261
TRUTH: Final = {"mass": 10.0, "diffusion": 0.07, "place": 1.505}
TRUE_DELAY: Final = 30.1525
SCATTER, DELAY_SCATTER, NOISE, DISCREPANCY = 0.02, 0.03, 0.01, 0.06


def concentration(
    place: float, time: Floats, *, mass: float, diffusion: float, other_place: float, delay: float
) -> Floats:
    r"""Return the concentration after both spills.

    .. math:: C = \frac{M}{\sqrt{4 \pi D t}} e^{-s^2 / 4 D t}
        + \frac{M}{\sqrt{4 \pi D (t - \tau)}} e^{-(s - L)^2 / 4 D (t - \tau)} \, [\tau < t]

    Parameters
    ----------
    place
        ``s``.
    time
        ``t``, shape ``(n,)``, above 0.
    mass, diffusion, other_place, delay
        ``M``, ``D``, ``L`` and ``tau``.

    Returns
    -------
    numpy.ndarray
        Shape ``(n,)``.
    """
    found = mass / np.sqrt(4 * np.pi * diffusion * time) * np.exp(-(place**2) / (4 * diffusion * time))
    late = time > delay
    spread = 4 * diffusion * (time[late] - delay)
    found[late] += mass / np.sqrt(np.pi * spread) * np.exp(-((place - other_place) ** 2) / spread)
    return np.asarray(found)


def curves_of(values: dict[str, float], delay: float, places: tuple[float, ...]) -> dict[str, Floats]:
    """Return the channels of a load case, each of shape ``(n,)``."""
    return {
        f"concentration at {place:g} [kg/m^3]": concentration(
            place,
            TIMES,
            mass=values["mass"],
            diffusion=values["diffusion"],
            other_place=values["place"],
            delay=delay,
        )
        for place in places
    }


def solve(deck: str, output: Path) -> None:
    """Run both load cases of a deck."""
    values = deck_values(deck)
    for case, places in PLACES.items():
        write_curves(output / f"{case}.csv", TIMES, curves_of(values, values["delay"], places))


def write_tests(folder: Path) -> None:
    """Write the repeats of both load cases."""
    for number, (case, places) in enumerate(PLACES.items()):
        for repeat in range(1, REPEATS + 1):
            random = np.random.default_rng([SEED, number, repeat])
            values = scattered(TRUTH, SCATTER, random)
            delay = TRUE_DELAY + DELAY_SCATTER * float(random.standard_normal())
            columns = curves_of(values, delay, places)
            for place, (name, curve) in zip(places, columns.items(), strict=True):
                lost = 1.0 - DISCREPANCY * np.sin(2 * np.pi * (TIMES / 37.0 + 0.2 * place))
                noise = smooth_noise(curve.size, 5.0, random)
                columns[name] = curve * lost + NOISE * curve.max() * noise
            write_curves(folder / case / f"repeat-{repeat}.csv", TIMES, columns)


def build(folder: Path) -> None:
    """Write the project."""
    build_project(NAME, folder, write_tests=write_tests, solve=solve)


KIND: Final = ProblemKind(name=NAME, build=build, solve=solve)
