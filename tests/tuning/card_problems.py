"""Tuning problems with known cards: curves in closed form, tests that scatter, and emulators of few runs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import qmc

from correlate.tuning.coarse_curves import CoarseCurves, coarse_curves
from correlate.tuning.emulator import CurveEmulator, fit_emulator
from correlate.tuning.parameters import Parameter, ParameterSpace
from correlate.tuning.traces import TraceChannel, TraceTable

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

TIME = np.arange(160, dtype=np.float64) * np.float64(5e-4)
SPACE = ParameterSpace(
    tuple(
        Parameter(name=name, unit=unit, lower=start / 2, upper=start * 2, scale="log", start=start)
        for name, unit, start in (
            ("foam_modulus", "MPa", 0.5),
            ("rib_stiffness", "N/mm", 40.0),
            ("rib_damping", "N*s/m", 300.0),
            ("neck_modulus", "MPa", 4.0),
            ("neck_loss", "1", 0.3),
        )
    )
)
"""Five parameters from half to twice their start."""
COUNTS = {"thorax": 2, "neck": 2}
"""Channels of each load case whose curves know only the two springs together."""


def responses(point: Floats) -> dict[tuple[str, str], Floats]:
    """Return the curves of a point in sides of the cube, by load case and channel.

    A mass on two springs in series with a damper, hit once, and another on one spring; angle and force of
    each. The deflection of the first spring alone is a third curve of the first.
    """
    foam, rib, damping, neck, loss = 2.0 ** (2.0 * point - 1.0)
    series = 2.0 * foam * rib / (foam + rib)
    found = {}
    for case, stiffness, damped, rate in (("thorax", series, damping, 90.0), ("neck", neck, loss, 60.0)):
        frequency = rate * np.sqrt(stiffness)
        decay = 14.0 * damped
        travel = np.exp(-decay * TIME) * np.sin(frequency * TIME) / frequency * 60.0
        speed = np.gradient(travel, TIME)
        found[case, "travel"] = travel
        found[case, "force"] = 1.2 * stiffness * travel + 0.006 * damped * speed
    found["foam", "deflection"] = found["thorax", "travel"] * series / (2.0 * foam)
    return found


@dataclass(frozen=True, slots=True)
class Problem:
    """An emulator whose tests can be drawn.

    Attributes
    ----------
    emulator
        Of the curves.
    runs
        Curves that it was fitted to, by channel.
    truth
        Curves of a point by load case and channel.
    """

    emulator: CurveEmulator
    runs: tuple[Floats, ...]
    truth: Callable[[Floats], Mapping[tuple[str, str], Floats]]

    def tested(
        self,
        point: Floats,
        random: np.random.Generator,
        *,
        repeats: int = 4,
        scatter: float = 0.03,
        wrong: Mapping[tuple[str, str], Floats] | None = None,
    ) -> CoarseCurves:
        """Draw tests of a point, some of which the model cannot follow, and take the curves with them."""
        curves = self.truth(point)
        names = [f"R{number + 1}" for number in range(repeats)]
        cases = dict.fromkeys(case for case, _ in curves)
        common = {case: random.standard_normal((repeats, 2)) for case in cases}
        tests = {
            key: curve + (wrong or {}).get(key, 0.0) + _scattered(curve, common[key[0]], scatter, random)
            for key, curve in curves.items()
        }
        channels = tuple(
            replace(
                one,
                channel=replace(
                    one.channel,
                    tests=dict(zip(names, tests[one.channel.load_case, one.channel.channel], strict=True)),
                ),
            )
            for one in self.emulator.channels
        )
        return coarse_curves(replace(self.emulator, channels=channels), self.runs, set(cases))


def _scattered(curve: Floats, common: Floats, scatter: float, random: np.random.Generator) -> Floats:
    """Draw what repeats differ by: harder or softer, earlier or later, and slow noise of each channel."""
    size = np.abs(curve).max()
    harder = common[:, :1] * curve
    later = common[:, 1:] * np.gradient(curve) * 2.0
    kernel = np.exp(-0.5 * (np.arange(-30, 31) / 10.0) ** 2)
    raw = random.standard_normal((len(common), curve.size + 60))
    slow = np.array([np.convolve(one, kernel, mode="valid") for one in raw]) / np.sqrt(np.sum(kernel**2))
    return np.asarray(scatter * (harder + later + 0.3 * size * slow))


def problem(*, determined: bool, seed: int, runs: int = 30) -> Problem:
    """Emulate a Latin hypercube of runs; if ``determined``, the first spring is measured by itself."""

    def truth(point: Floats) -> dict[tuple[str, str], Floats]:
        return {key: one for key, one in responses(point).items() if determined or key[0] != "foam"}

    cube = qmc.LatinHypercube(len(SPACE.names), rng=np.random.default_rng(seed)).random(runs)
    curves = [truth(point) for point in cube]
    keys = list(curves[0])
    traces = TraceTable(
        rows=np.arange(runs),
        cube=cube,
        channels=tuple(
            TraceChannel(
                load_case=case, channel=name, unit="1", time=TIME, tests={"R1": curves[0][case, name]}
            )
            for case, name in keys
        ),
        curves=tuple(np.array([one[key] for one in curves]) for key in keys),
    )
    return Problem(fit_emulator(traces), traces.curves, truth)
