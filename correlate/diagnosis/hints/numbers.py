"""Numbers that describe how a model differs from a test: one curve, a load against a travel, momentum.

All are differences "model minus test" in shares of the test's own peak and duration, without a unit.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.diagnosis.features.pulse import Pulse, falling_through, rising_through
from correlate.errors import SignalError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LARGEST: Final = 2.0
"""Numbers are cut off here: beyond, curves have so little in common that more of it says nothing new."""
LEAST_PEAK: Final = 0.05
"""A model below this share of the test's peak has no pulse to compare."""
LEVELS: Final = (0.1, 0.3, 0.5, 0.7, 0.9)
"""Shares of a curve's own peak at which times are compared."""
BOUNDS: Final = (0.3, 0.7)
"""Shares of the test's peak between the stretches low, middle and high of loading and unloading."""
IMPULSES: Final = (0.05, 0.15, 0.3, 0.5, 0.7, 0.85, 0.95)
"""Shares of the smaller impulse at which curves are compared."""
STRETCHES: Final = (
    "before", "loading low", "loading middle", "loading high",
    "unloading high", "unloading middle", "unloading low",
)  # fmt: skip
"""Names of the stretches, from the beginning of the record to its end."""
DEPTHS: Final = (0.1, 0.25, 0.4, 0.55, 0.7, 0.85, 0.97)
"""Shares of the smaller largest travel at which loads are compared."""


@dataclass(frozen=True, slots=True, eq=False)
class Scaled(Pulse):
    """A curve in shares of the test's peak, turned so that this peak is positive; its time is in samples.

    Attributes
    ----------
    width
        Duration above half of the peak, in samples; at least 2.
    """

    width: float


def scaled(values: Floats) -> Scaled:
    """Describe the main pulse of a curve that is positive there; shape ``(n,)``, peak above 0."""
    pulse = Pulse(np.arange(values.size, dtype=np.float64), values, 1.0, int(np.argmax(values)))
    width = max(2.0, _fall(pulse, 0.5) - _rise(pulse, 0.5))
    return Scaled(pulse.time, values, 1.0, pulse.top, width)


def _peak(values: Floats) -> float:
    """Return the value of the largest size, with its sign."""
    return float(values[int(np.argmax(np.abs(values)))])


def _rise(pulse: Pulse, share: float) -> float:
    """Return the (fractional) sample where a curve last rises through a share of its peak, else 0."""
    try:
        return rising_through(pulse, share)
    except SignalError:
        return 0.0


def _fall(pulse: Pulse, share: float) -> float:
    """Return the (fractional) sample where a curve first falls through a share, else the last one."""
    try:
        return falling_through(pulse, share)
    except SignalError:
        return float(pulse.values.size - 1)


def curve_numbers(reference: Floats, candidate: Floats) -> dict[str, float] | None:
    """Return how one curve of a model differs from that of a test.

    Parameters
    ----------
    reference, candidate
        Shape ``(n,)``, on one time axis; the reference is not zero throughout.

    Returns
    -------
    dict of str to float
        Name to number; None where the model has no pulse of the test's sign.
    """
    peak = _peak(reference)
    if float((candidate / peak).max()) < LEAST_PEAK:
        return None
    test, model = scaled(reference / peak), scaled(candidate / peak)
    found = (
        _of_times(test, model)
        | _of_sizes(test, model)
        | _of_stretches(test, model)
        | _of_moves(test, model)
        | _by_impulse(test, model)
    )
    return {name: _limited(value) for name, value in found.items()}


def _limited(value: float) -> float:
    """Cut a number off; numpy takes ten times as long for it."""
    return float(min(max(value, -LARGEST), LARGEST))


def _of_times(test: Scaled, model: Scaled) -> dict[str, float]:
    found = {"time of peak": (model.top - test.top) / test.width}
    for level in LEVELS:
        found[f"rise through {level:g}"] = (_rise(model, level) - _rise(test, level)) / test.width
        found[f"fall through {level:g}"] = (_fall(model, level) - _fall(test, level)) / test.width
    found["duration"] = np.log(model.width / test.width)
    return found


def _of_sizes(test: Scaled, model: Scaled) -> dict[str, float]:
    areas = [np.maximum(one.values, 0.0).sum() for one in (test, model)]
    dips = [max(0.0, -float(one.values[one.top :].min())) for one in (test, model)]
    before = [max(0.0, -float(one.values[: one.top + 1].min())) for one in (test, model)]
    return {
        "peak": float(np.log(model.values[model.top])),
        "impulse": float(np.log(areas[1] / areas[0])),
        "net impulse": float(model.values.sum() - test.values.sum()) / float(np.abs(test.values).sum()),
        "rebound": dips[1] - dips[0],
        "dip before": before[1] - before[0],
        "roughness": _roughness(model) - _roughness(test),
        "late swings": _late(model, test) - _late(test, test),
    }


def _roughness(one: Scaled) -> float:
    """Return the way up and down of a curve beyond that of one smooth pulse, in peaks."""
    return float(np.abs(np.diff(one.values)).sum() / one.values[one.top]) - 2.0


def _late(one: Scaled, test: Scaled) -> float:
    """Return the root mean square of what comes after the main pulse of the test."""
    late = one.values[min(int(test.top + 2 * test.width), one.values.size - 2) :]
    return float(np.sqrt(np.mean(late**2)))


def _of_stretches(test: Scaled, model: Scaled) -> dict[str, float]:
    """Return the area of the difference within stretches of loading and unloading of the test."""
    difference = (model.values - test.values) / test.width
    sample = np.arange(test.values.size)
    low, high = BOUNDS
    rises = (_rise(test, share) for share in (0.05, low, high))
    falls = (_fall(test, share) for share in (high, low))
    edges = [-1.0, *rises, test.top, *falls, test.values.size]
    found = {
        name: float(difference[(sample > first) & (sample <= last)].sum())
        for name, (first, last) in zip(STRETCHES, pairwise(edges), strict=True)
    }
    size = np.abs(difference)
    whole = float(size.sum()) or 1.0
    found["one-sidedness"] = float(difference.sum()) / whole
    return found


def _of_moves(test: Scaled, model: Scaled) -> dict[str, float]:
    """Return size, shift and stretch of time that bring the test nearest to the model, and what is left."""
    start = max(0, int(_rise(test, 0.02) - 0.3 * test.width))
    end = min(test.values.size, int(_fall(test, 0.02) + 0.7 * test.width) + 1)
    cut, difference = test.values[start:end], (model.values - test.values)[start:end]
    slope = np.gradient(test.values)[start:end] * test.width
    place = (np.arange(start, end) - test.top) / test.width
    moves = np.stack([cut, slope, place * slope, cut**3, np.where(place > 0, cut, 0.0)], axis=1)
    names = ("by size", "by shift", "by stretch", "by height", "by unloading")
    return dict(zip(names, _moved_by(moves, difference, damping=1e-3), strict=True))


def _moved_by(moves: Floats, difference: Floats, *, damping: float) -> list[float]:
    """Return how much of each move, a column each, makes up a difference: least squares, slightly damped."""
    gram = moves.T @ moves
    gram += damping * np.diag(np.diag(gram)) + 1e-9 * np.eye(len(gram))
    found: list[float] = np.linalg.solve(gram, moves.T @ difference).tolist()
    return found


def _by_impulse(test: Scaled, model: Scaled) -> dict[str, float]:
    """Return how the curves differ at equal impulse so far, which time and delay do not enter."""
    sums = [np.cumsum(np.maximum(one.values, 0.0)) for one in (test, model)]
    levels = np.array(IMPULSES) * min(float(one[-1]) for one in sums)
    order = 1e-12 * np.arange(test.values.size)
    at = [
        np.interp(levels, one + order, curve.values) for one, curve in zip(sums, (test, model), strict=True)
    ]
    return {
        f"at impulse {level:g}": float(value) for level, value in zip(IMPULSES, at[1] - at[0], strict=True)
    }


REBOUND: Final = 0.3
"""Share of its speed with which a stopped rig goes back, as far as nothing is known (choice made here)."""


def paths(reference: Floats, candidate: Floats, *, stopped: bool) -> tuple[Floats, Floats]:
    """Return the paths that follow from accelerations, in arbitrary units, from a start at rest.

    Parameters
    ----------
    reference, candidate
        Accelerations of test and model, shape ``(n,)``.
    stopped
        Whether they stop what moves; the speed before is the same for both, and follows from the test.
    """
    peak = _peak(reference)
    speeds = [np.cumsum(one / peak) for one in (reference, candidate)]
    if not stopped:
        test, model = (np.cumsum(one) for one in speeds)
        return test, model
    before = float(speeds[0].max()) / (1.0 + REBOUND)
    start = int(np.argmax(reference / peak >= LEAST_PEAK))
    moving = np.where(np.arange(reference.size) >= start, before, 0.0)
    test, model = (np.cumsum(moving - one) for one in speeds)
    return test, model


def law_numbers(load: tuple[Floats, Floats], travel: tuple[Floats, Floats]) -> dict[str, float] | None:
    """Return how the load differs at equal travel: loading, unloading, work, begin.

    Parameters
    ----------
    load, travel
        Test and model of each, shape ``(n,)``.

    Returns
    -------
    dict of str to float
        None where one of the curves has no pulse of the test's sign.
    """
    if not (np.any(load[0]) and np.any(travel[0])):
        return None
    forces, ways = ([one / _peak(curves[0]) for one in curves] for curves in (load, travel))
    if ways[1].max() < LEAST_PEAK or forces[1].max() < LEAST_PEAK:
        return None
    reach = min(float(one.max()) for one in ways)
    loadings = [_loading(force, way) for force, way in zip(forces, ways, strict=True)]
    depths = reach * np.array(DEPTHS)
    going = [np.interp(depths, way, force) for way, force, _, _ in loadings]
    back = [np.interp(depths, way, force) for _, _, way, force in loadings]
    found = {
        f"load at {depth:g}": float(value) for depth, value in zip(DEPTHS, going[1] - going[0], strict=True)
    }
    ratios = np.log(np.maximum(going[1], 0.02) / np.maximum(going[0], 0.02))
    found |= {f"load ratio at {depth:g}": float(value) for depth, value in zip(DEPTHS, ratios, strict=True)}
    gaps = [there - here for there, here in zip(going, back, strict=True)]
    found |= {
        f"loop at {depth:g}": float(value) for depth, value in zip(DEPTHS, gaps[1] - gaps[0], strict=True)
    }
    works = [float(np.trapezoid(one, depths)) for one in going]
    returned = [float(np.trapezoid(one, depths)) for one in back]
    share = [back_ / max(work, 1e-3) for back_, work in zip(returned, works, strict=True)]
    found["work"] = float(np.log(max(works[1], 1e-3) / max(works[0], 1e-3)))
    found["work returned"] = float(np.clip(share[1], -1, 2) - np.clip(share[0], -1, 2))
    found["travel"] = float(np.log(ways[1].max()))
    found["hardening"] = float((ratios[-1] + ratios[-2] - ratios[2] - ratios[1]) / 2)
    found |= _of_law_moves(loadings, reach)
    begins = [_begin(way, force) for way, force, _, _ in loadings]
    found["travel at begin"] = begins[1] - begins[0]
    speeds = [_speed(way) for way in ways]
    found["speed of travel"] = float(np.log(speeds[1] / speeds[0])) if min(speeds) > 0 else 0.0
    return {name: _limited(value) for name, value in found.items()}


def _loading(force: Floats, way: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return travel and load while the travel grows to its largest value, and while it falls from there."""
    top = int(np.argmax(way))
    grown = np.maximum.accumulate(way[: top + 1])
    fallen = np.maximum.accumulate(way[top:][::-1])
    order = np.arange(grown.size) * 1e-12
    order_back = np.arange(fallen.size) * 1e-12
    return grown + order, force[: top + 1], fallen + order_back, force[top:][::-1]


def _of_law_moves(
    loadings: Sequence[tuple[Floats, Floats, Floats, Floats]], reach: float
) -> dict[str, float]:
    """Return the moves and scalings that bring the loading of the test nearest to the model's."""
    ways = np.linspace(0.02, 1.0, 50) * reach
    test, model = (np.interp(ways, way, force) for way, force, _, _ in loadings)
    top = max(float(test.max()), 1e-3)
    slope = np.gradient(test, ways) * reach
    early = test * np.linspace(1.0, 0.0, 50)
    moves = np.stack([slope / 3.0, test, test**3 / top**2, early, np.full(50, top)], axis=1)
    names = ("law by shift", "law by size", "law by height", "law by early load", "law by offset")
    return dict(zip(names, _moved_by(moves, model - test, damping=3e-3), strict=True))


def _begin(way: Floats, force: Floats) -> float:
    """Return the travel at which the load first reaches a tenth of the test's peak."""
    above = np.flatnonzero(force >= 0.1)
    return float(way[above[0]]) if above.size else 1.0


def _speed(way: Floats) -> float:
    """Return the largest speed of the travel before its largest value, per sample."""
    top = int(np.argmax(way))
    return float(np.diff(way[: top + 1]).max()) if top > 1 else 0.0


def momentum_numbers(force: tuple[Floats, Floats], acceleration: tuple[Floats, Floats]) -> dict[str, float]:
    """Return how the ratio of a force to an acceleration differs: the sign of a changed mass."""
    found = {}
    changes, halves = [], []
    for test, model in (force, acceleration):
        peak = _peak(test)
        one, two = test / peak, model / peak
        areas = float(np.maximum(one, 0).sum()), max(float(np.maximum(two, 0).sum()), 1e-3)
        squares = float(np.sqrt((one**2).mean())), max(float(np.sqrt((two**2).mean())), 1e-3)
        halves.append((one, two))
        changes.append(
            (
                np.log(areas[1] / areas[0]),
                np.log(max(float(two.max()), 0.02)),
                np.log(squares[1] / squares[0]),
            )
        )
    for name, there, here in zip(("areas", "peaks", "squares"), *changes, strict=True):
        found[f"by {name}"] = _limited(there - here)
    # The acceleration of a model may be zero throughout.
    slopes = [
        float(one @ other) / max(float(other @ other), 1e-12) for one, other in zip(*halves, strict=True)
    ]
    found["by slope"] = _limited(slopes[1] - slopes[0])
    return found
