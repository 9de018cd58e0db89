"""One mistake each to plant in a random sensor whose model is moderately good."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.signal import butter, sosfiltfilt
from scipy.spatial.transform import Rotation

from correlate import CorrelateError, Recipe, Signal, align, rate
from tests.diagnosis.suspects import benches as b

if TYPE_CHECKING:
    from collections.abc import Callable

    Random = np.random.Generator

FACTORS = {
    "m/s^2": (9.80665, 1000.0),
    "g": (9.80665, 1000.0),
    "N": (4.4482216, 1000.0, 9.80665, 2.2046226),
    "N·m": (1000.0, 9.80665),
    "mm": (25.4, 1000.0),
    "deg": (57.29577951,),
    "rad/s": (57.29577951, 1000.0),
}
"""Factors that a channel in this unit may be wrong by."""
LEAST_COST = 0.05
"""Mean loss of rating of the three axes by a mistake in values, axes or time."""
CORNERS_HZ = {60: 124.65, 180: 373.95, 600: 1246.5, 1000: 2077.5}
"""−6 dB frequency of the double pass: CFC times 2.0775 (SAE J211-1)."""


@dataclass(frozen=True, kw_only=True)
class Planted:
    """Raw signals of the three axes of test and model, and how somebody would compare them."""

    reference: tuple[Signal, ...]
    candidate: tuple[Signal, ...]
    recipe: Recipe


def clean(random: Random, *, noisy: bool | None = None) -> tuple[Planted, b.Sensor]:
    """Return a test and a moderately good model without a mistake."""
    test = b.random_test(random)
    model = b.moderate_model(test, random, noisy=noisy)
    return _written(test, model, random), test


def honest(random: Random) -> Planted:
    """Return a test and an honest poor model."""
    test = b.random_test(random)
    return _written(test, b.poor_model(test, random), random)


def _written(test: b.Sensor, model: b.Sensor, random: Random) -> Planted:
    return Planted(
        reference=test.signals(random, "head"),
        candidate=model.signals(random, "model head"),
        recipe=b.fitting_recipe(test, random),
    )


def _costly(change: Callable[[Planted, b.Sensor, Random], Planted]) -> Callable[[Random], Planted]:
    """Plant a mistake that costs at least 0.05: one that costs nothing does not look like a poor model."""

    def plant(random: Random) -> Planted:
        while True:
            pair, test = clean(random)
            wrong = change(pair, test, random)
            if rating(pair) - rating(wrong) >= LEAST_COST:
                return wrong

    return plant


def rating(pair: Planted) -> float:
    """Return the mean rating of the axes; 0 for one that cannot be rated."""
    ratings = []
    for reference, candidate in zip(pair.reference, pair.candidate, strict=True):
        try:
            ratings.append(rate(align(reference, candidate, pair.recipe)).overall)
        except CorrelateError:
            ratings.append(0.0)
    return float(np.mean(ratings))


def sign_turned(pair: Planted, test: b.Sensor, random: Random) -> Planted:  # noqa: ARG001 - the shape of every change
    """Turn the sign of the model's first axis."""
    return _first(pair, lambda item: _with(item, -item.samples))


def unit_wrong(pair: Planted, test: b.Sensor, random: Random) -> Planted:
    """Multiply the model's first axis by a factor between two units, or divide by it."""
    factor = float(random.choice(FACTORS[test.unit])) ** float(random.choice([-1, 1]))
    return _first(pair, lambda item: _with(item, factor * item.samples))


def other_axis(pair: Planted, test: b.Sensor, random: Random) -> Planted:  # noqa: ARG001 - the shape of every change
    """Exchange the model's first axis with one of the others."""
    axes = list(pair.candidate)
    other = int(random.choice([1, 2]))
    # Each keeps its name: the wrong column was exported under it.
    first, second = axes[0], axes[other]
    axes[0], axes[other] = _with(first, second.samples), _with(second, first.samples)
    return replace(pair, candidate=tuple(axes))


def other_class(random: Random) -> Planted:
    """Compare in a class although one side was filtered with a lower one before."""
    pair, test = clean(random, noisy=True)
    lower = int(random.choice([60, 180, 600] if test.axes[0].duration_s < 0.03 else [60, 180]))
    recipe = replace(pair.recipe, cfc=int(random.choice([one for one in CORNERS_HZ if one > lower])))
    return _one_side(replace(pair, recipe=recipe), random, lower)


def filtered_twice(random: Random) -> Planted:
    """Filter one side with the class of the recipe before the recipe does."""
    pair, _ = clean(random, noisy=True)
    return _one_side(pair, random, pair.recipe.cfc or 1000)


def not_filtered(random: Random) -> Planted:
    """Filter one side in advance and the other not at all: the recipe has no class."""
    pair, _ = clean(random, noisy=True)
    side = _one_side(pair, random, pair.recipe.cfc or 1000)
    return replace(side, recipe=replace(pair.recipe, cfc=None))


def time_zero_off(pair: Planted, test: b.Sensor, random: Random) -> Planted:
    """Move the model by 0.5 to 1.5 durations, 10 ms at least, 50 ms at most: another trigger."""
    duration = test.axes[0].duration_s
    by_s = min(max(random.uniform(0.5, 1.5) * duration, 0.010), 0.05) * float(random.choice([-1, 1]))
    moved = [_with(item, item.samples, start_s=item.start_s + by_s) for item in pair.candidate]
    return replace(pair, candidate=tuple(moved))


def interval_cuts(random: Random) -> Planted:
    """End the interval before the main pulse is over, or start it after it began."""
    pair, test = clean(random)
    time = test.time_s
    curve = np.abs(test.axes[0].at(time))
    top = int(curve.argmax())
    low = np.flatnonzero(curve < 0.1 * curve[top])
    before, after = time[low[low < top].max()], time[low[low > top].min()]
    share = random.uniform(0.3, 0.7)
    cut = round(before + share * (after - before), 4)
    late = random.uniform() < 0.3
    interval = {"start_s": cut} if late else {"end_s": max(cut, 0.0021)}
    if late:
        interval["end_s"] = round(float(after) + 0.03, 4)
    return replace(pair, recipe=replace(pair.recipe, **interval))


def frame_turned(pair: Planted, test: b.Sensor, random: Random) -> Planted:  # noqa: ARG001 - the shape of every change
    """Turn the model's sensor by 15 to 180 degrees about a random axis."""
    axis = random.standard_normal(3)
    angle = np.deg2rad(random.uniform(15, 180))
    turned = Rotation.from_rotvec(angle * axis / np.linalg.norm(axis)).apply(
        np.stack([item.samples for item in pair.candidate], axis=1)
    )
    moved = [_with(item, row) for item, row in zip(pair.candidate, turned.T, strict=True)]
    return replace(pair, candidate=tuple(moved))


PLANTS: dict[str, Callable[[Random], Planted]] = {
    "sign turned": _costly(sign_turned),
    "unit wrong": _costly(unit_wrong),
    "other axis": _costly(other_axis),
    "other filter class": other_class,
    "time zero off": _costly(time_zero_off),
    "filtered twice": filtered_twice,
    "not filtered": not_filtered,
    "interval cuts the main pulse": interval_cuts,
    "local frame turned": _costly(frame_turned),
}
"""By the kind that has to be found."""


def low_pass(item: Signal, cfc: int) -> Signal:
    """Filter forward and backward with a general library, leaving no trace in the history."""
    # A two-pole pass at its design frequency keeps 0.7071, so the double pass is at -6 dB there.
    sections = butter(2, CORNERS_HZ[cfc], fs=item.sample_rate_hz, output="sos")
    return _with(item, sosfiltfilt(sections, item.samples, padlen=100))


def _one_side(pair: Planted, random: Random, cfc: int) -> Planted:
    if random.uniform() < 0.5:
        return replace(pair, reference=tuple(low_pass(item, cfc) for item in pair.reference))
    return replace(pair, candidate=tuple(low_pass(item, cfc) for item in pair.candidate))


def _first(pair: Planted, change: Callable[[Signal], Signal]) -> Planted:
    return replace(pair, candidate=(change(pair.candidate[0]), *pair.candidate[1:]))


def _with(item: Signal, samples: b.Floats, *, start_s: float | None = None) -> Signal:
    return Signal(
        samples=samples,
        start_s=item.start_s if start_s is None else start_s,
        step_s=item.step_s,
        unit=item.unit,
        channel=item.channel,
    )
