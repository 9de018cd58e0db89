"""Tests and models of an invented world, in which it is known what is wrong with the model.

Five families of tests, none of which the demo contains: an impactor on a chest (`chest`), a head on a neck on
a stopped pendulum (`neck`), a belted occupant on a sled (`sled`), an impactor on a knee (`knee`; only for
judging), a body dropped onto a plate (`drop`). Every system is drawn anew: stiffness by a factor of 2 to 3,
masses by up to 40 %, and exponents, gaps, friction and the rest as widely.

The laws are textbook laws: hardening springs, densifying foams, forces that grow with the rate, dashpots,
unloading below loading by a share that sets in with the depth below the largest compression, gaps, friction.

A test has three repeats. Its parameters scatter (speed 0.7 %, stiffness 2.5 %, masses 0.3 %, others 3 %), so
do the gain of a channel (0.7 %) and time zero (0.1 ms); noise is 0.3 to 0.5 % of the peak before the filter.
A model is honest: its parameters lie within 1.5 % of the nominal ones, its exponents within 4 %, and its
contacts, unloading and friction are smoother. Then zero, one or two faults are planted, the same at the lower
and the higher speed (1.3 to 1.6 times), if they are felt: the loss of rating (ISO/TS 18571, against the mean
of the repeats, mean over channels) grows by 0.03 or more at one of the speeds. Part and size are drawn up to
four times for one side and up to four for the other; a system in which none is felt is left out. Two faults
are of different kinds, never timing, and each is felt alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.signal import sosfiltfilt

from correlate.conditioning.filters import PAD_S, cfc_coefficients
from correlate.metrics.iso18571 import rate_many
from correlate.pair import AlignedPair
from tests.diagnosis.worlds.families import CFC, FAMILIES, LEAD_S, Family, Quantity, simulate
from tests.diagnosis.worlds.faults import KINDS, Fault, draw_fault, plant
from tests.diagnosis.worlds.mechanics import SAMPLE_S

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

REPEATS: Final = 3
RATIO: Final = (1.3, 1.6)
"""Higher over lower speed."""
LEAST_GROWTH: Final = 0.03
"""Growth of the mean loss from which a fault is felt."""
TRIES: Final = 8
"""Half of them to the side that is drawn, half to the other."""
SCATTER: Final = {
    "speed": 0.007,
    "pulse_duration": 0.007,
    "stiffness": 0.025,
    "mass": 0.003,
    "inertia": 0.003,
}
"""Standard deviation of a test's parameters, by the end of their names; 3 % for others."""
OTHER_SCATTER: Final = 0.03
GAIN_SCATTER: Final = 0.007
JITTER_S: Final = 1e-4
NOISE: Final = (0.003, 0.005)
HONEST: Final = 0.015
"""Half width of the deviation of a model's parameters."""
HONEST_SPEED: Final = 0.003
HONEST_EXPONENT: Final = 0.04
FORM: Final = {"smoothing": (1.0, 5.0), "fade": (0.8, 1.25), "creep": (1.0, 2.0)}
"""Factors by which a model's form differs from the hardware's."""
MOST_ROWS: Final = 250
"""Systems that are drawn and simulated together, to bound the memory."""


@dataclass(frozen=True, kw_only=True)
class WorldChannel:
    """One channel of one load case: ``tests`` ``(3, n)`` and ``model`` ``(n,)``, filtered, SI units."""

    name: str
    quantity: Quantity
    unit: str
    tests: Floats
    model: Floats


@dataclass(frozen=True, kw_only=True)
class WorldLoadCase:
    """One speed (m/s, nominal) with its channels on one time grid ``(n,)``, s."""

    name: str
    speed: float
    time: Floats
    channels: tuple[WorldChannel, ...]


@dataclass(frozen=True, kw_only=True)
class WorldCase:
    """One system, the faults of its model (none: honest), and the load cases at low and high speed."""

    family: str
    faults: tuple[Fault, ...]
    load_cases: tuple[WorldLoadCase, ...]


@dataclass(frozen=True, kw_only=True)
class Systems:
    """Systems drawn together: nominal and honest parameters ``(m,)``, tests at both speeds."""

    family: Family
    nominal: NDArray[np.void]
    honest: NDArray[np.void]
    ratio: Floats
    tests: tuple[Floats, Floats]
    """Low and high speed, each ``(m, 3, channels, n)``."""


def cases(
    family: str, count: int, *, seed: int, faults: int = 1, kinds: Sequence[str] | None = None
) -> list[WorldCase]:
    """Return cases of a family, the same for the same arguments.

    Parameters
    ----------
    family
        One of `FAMILIES`.
    count
        Systems to be drawn. Fewer cases are returned where a fault could not be planted so that it is felt.
    seed
        Of all random numbers.
    faults
        0, 1 or 2 for each model.
    kinds
        To draw from, evenly; all of `KINDS`, for two faults without timing.

    Returns
    -------
    list of WorldCase
    """
    allowed = tuple(kinds or KINDS)
    if faults > 1:
        allowed = tuple(kind for kind in allowed if kind != "timing")
    found: list[WorldCase] = []
    for start in range(0, count, MOST_ROWS):
        rng = np.random.default_rng([seed, start, faults, list(FAMILIES).index(family)])
        size = min(MOST_ROWS, count - start)
        found += block(family, FAMILIES[family], size, rng, _kinds_of(allowed, start, size, faults, rng))
    return found


def _kinds_of(
    allowed: tuple[str, ...], start: int, size: int, faults: int, rng: np.random.Generator
) -> list[tuple[str, ...]]:
    """Return the kinds of faults of each system: in turn for one fault, different ones for two."""
    if faults == 1:
        return [(allowed[(start + row) % len(allowed)],) for row in range(size)]
    return [tuple(str(kind) for kind in rng.choice(allowed, faults, replace=False)) for _ in range(size)]


def block(
    name: str, family: Family, size: int, rng: np.random.Generator, wanted: Sequence[tuple[str, ...]]
) -> list[WorldCase]:
    """Return systems of a family that are simulated together, those in which the wanted faults are felt."""
    systems = draw_systems(family, size, rng)
    rows = list(range(size))
    planted: list[list[Fault]] = [[] for _ in rows]
    if any(wanted):
        honest = models(systems, rows, [() for _ in rows])
        before = losses(systems, rows, honest)
        for turn in range(len(wanted[0])):
            alone = _felt(systems, rows, [kinds[turn] for kinds in wanted], before, rng)
            for row, fault in alone.items():
                planted[row].append(fault)
            rows = sorted(alone)
    faults = [tuple(planted[row]) for row in rows]
    curves = models(systems, rows, faults)
    return [
        _case(name, systems, row, faults=faults[at], curves=(curves[0][at], curves[1][at]))
        for at, row in enumerate(rows)
    ]


def draw_systems(family: Family, size: int, rng: np.random.Generator) -> Systems:
    """Draw hardware, its tests and an honest model of each."""
    nominal = np.zeros(size, family.dtype)
    for name, limits in family.ranges.items():
        # What a rig does not have is 0 in all of its systems.
        low, high = np.log(limits) if limits[0] > 0.0 else (-np.inf, -np.inf)
        nominal[name] = np.exp(rng.uniform(low, high, size)) if low < high else limits[0]
    honest = nominal.copy()
    for name in family.ranges:
        honest[name] *= _deviation(name, size, rng)
    ratio = rng.uniform(*RATIO, size)
    slow, fast = (_tests(family, at_speed(nominal, factor), rng) for factor in (np.ones(size), ratio))
    return Systems(family=family, nominal=nominal, honest=honest, ratio=ratio, tests=(slow, fast))


def at_speed(parameters: NDArray[np.void], factor: Floats) -> NDArray[np.void]:
    """Return the same systems at another speed."""
    faster = parameters.copy()
    faster["speed"] *= factor
    return faster


def _deviation(name: str, size: int, rng: np.random.Generator) -> Floats:
    """Return the factors by which a parameter of a model deviates from the hardware's."""
    if name in FORM:
        return rng.uniform(*FORM[name], size)
    if name.endswith(("exponent", "steepness")):
        return 1.0 + rng.uniform(-HONEST_EXPONENT, HONEST_EXPONENT, size)
    half = HONEST_SPEED if name in {"speed", "pulse_duration"} else HONEST
    return 1.0 + rng.uniform(-half, half, size)


def _scatter(name: str) -> float:
    return next((share for end, share in SCATTER.items() if name.endswith(end)), OTHER_SCATTER)


def _tests(family: Family, nominal: NDArray[np.void], rng: np.random.Generator) -> Floats:
    """Return the repeats, ``(m, 3, channels, n)``."""
    parameters = np.repeat(nominal, REPEATS)
    for name in family.ranges:
        if name not in FORM:
            parameters[name] *= 1.0 + _scatter(name) * np.clip(
                rng.standard_normal(parameters.size), -2.5, 2.5
            )
    raw = recorded(family, parameters, rng.normal(0.0, JITTER_S, parameters.size))
    raw *= 1.0 + GAIN_SCATTER * rng.standard_normal((*raw.shape[:2], 1))
    noise = rng.uniform(*NOISE, (*raw.shape[:2], 1)) * np.abs(raw).max(axis=2, keepdims=True)
    filtered = filter_channels(family, raw + noise * rng.standard_normal(raw.shape))
    return filtered.reshape(-1, REPEATS, *filtered.shape[1:])


def recorded(family: Family, parameters: NDArray[np.void], shifts: Floats) -> Floats:
    """Return the channels ``(m, channels, n)`` on the record's grid, each system later by its shift, s."""
    curves = simulate(family, parameters)[:, : len(family.channels)]
    times = np.arange(curves.shape[2]) * SAMPLE_S
    grid = time_grid(family)
    moved = np.empty((*curves.shape[:2], grid.size))
    for row, shift in enumerate(shifts):
        for channel in range(curves.shape[1]):
            # Nothing has happened before time zero.
            moved[row, channel] = np.interp(grid - shift, times, curves[row, channel], left=0.0)
    return moved


def time_grid(family: Family) -> Floats:
    """Return the record's times ``(n,)``, s."""
    lead, end = round(LEAD_S / SAMPLE_S), round(family.end_s / SAMPLE_S)
    return np.arange(-lead, end + 1, dtype=np.float64) * SAMPLE_S


def filter_channels(family: Family, raw: Floats) -> Floats:
    """Filter every channel by its class; the same as `filter_cfc`, for many rows at once."""
    filtered = np.empty_like(raw)
    for at, (_, quantity, _) in enumerate(family.channels):
        one = cfc_coefficients(CFC[quantity], SAMPLE_S)
        section = np.array([[one.a0, one.a1, one.a2, 1.0, -one.b1, -one.b2]])
        filtered[:, at] = sosfiltfilt(section, raw[:, at], padtype="odd", padlen=round(PAD_S / SAMPLE_S))
    return filtered


def models(
    systems: Systems, rows: Sequence[int], faults: Sequence[tuple[Fault, ...]]
) -> tuple[Floats, Floats]:
    """Return the models' curves of some systems with faults at both speeds, each ``(rows, channels, n)``."""
    parameters = systems.honest[list(rows)]
    for at, planted in enumerate(faults):
        for fault in planted:
            plant(fault, parameters[at : at + 1])
    shifts = np.array([sum(fault.shift_s for fault in planted) for planted in faults])
    ratio = systems.ratio[list(rows)]
    low, high = (
        filter_channels(systems.family, recorded(systems.family, at_speed(parameters, factor), shifts))
        for factor in (np.ones(len(rows)), ratio)
    )
    return low, high


def losses(systems: Systems, rows: Sequence[int], curves: tuple[Floats, Floats]) -> Floats:
    """Return 1 − rating against the mean of the repeats, mean over channels, ``(2, rows)``."""
    at_each_speed = [
        ratings(systems.family, tests[list(rows)], model)
        for tests, model in zip(systems.tests, curves, strict=True)
    ]
    return np.asarray(1.0 - np.stack(at_each_speed).mean(axis=2))


def ratings(family: Family, tests: Floats, model: Floats) -> Floats:
    """Return the ratings ``(rows, channels)`` of models against the means of their repeats."""
    grid = time_grid(family)
    means = tests.mean(axis=1)
    pairs = [
        AlignedPair(time=grid, reference=means[row, channel], candidate=model[row, channel])
        for row, channel in np.ndindex(*model.shape[:2])
    ]
    return np.array([rating.overall for rating in rate_many(pairs)]).reshape(model.shape[:2])


def _felt(
    systems: Systems, rows: Sequence[int], kinds: Sequence[str], before: Floats, rng: np.random.Generator
) -> dict[int, Fault]:
    """Return a fault of the wanted kind for each row in which one is felt alone."""
    felt: dict[int, Fault] = {}
    more = rng.random(len(systems.honest)) < 0.5
    for turn in range(TRIES):
        drawn = {
            row: draw_fault(
                systems.family,
                kinds[row],
                systems.honest[row : row + 1][0],
                rng,
                more=bool(more[row] != (turn >= TRIES // 2)),
            )
            for row in rows
            if row not in felt
        }
        tried = {row: fault for row, fault in drawn.items() if fault is not None}
        if not tried:
            continue
        after = losses(
            systems, list(tried), models(systems, list(tried), [(fault,) for fault in tried.values()])
        )
        growth = (after - before[:, list(tried)]).max(axis=0)
        felt |= {row: tried[row] for row, grown in zip(tried, growth, strict=True) if grown >= LEAST_GROWTH}
    return felt


def _case(
    name: str, systems: Systems, row: int, *, faults: tuple[Fault, ...], curves: tuple[Floats, Floats]
) -> WorldCase:
    """Put one system together; ``curves`` are its model's, ``(channels, n)`` at low and high speed."""
    speed = float(systems.nominal["speed"][row])
    speeds = (speed, speed * float(systems.ratio[row]))
    load_cases = tuple(
        WorldLoadCase(
            name=f"{name} {label}",
            speed=speeds[which],
            time=time_grid(systems.family),
            channels=tuple(
                WorldChannel(
                    name=channel, quantity=quantity, unit=unit,
                    tests=systems.tests[which][row, :, index].copy(), model=curves[which][index].copy(),
                )
                for index, (channel, quantity, unit) in enumerate(systems.family.channels)
            ),
        )
        for which, label in enumerate(("low", "high"))
    )  # fmt: skip
    return WorldCase(family=name, faults=faults, load_cases=load_cases)
