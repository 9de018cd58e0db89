"""The rules of hints, and the evidence they judge."""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final, Literal, get_args

import numpy as np

from correlate.diagnosis.features.corrections import Features, features
from correlate.errors import SettingsError
from correlate.metrics.iso18571 import rate

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    from correlate.metrics.iso18571 import RatingSettings
    from correlate.pair import AlignedPair

    Floats = NDArray[np.float64]


NEAR_PEAK: Final = 0.9
"""Loading ends where the test first reaches this share of its peak, so that a flat top is no loading."""
LARGE: Final = 0.5
"""The difference is large where it is at least this share of its own largest value."""
SMALL: Final = 0.1
"""Curves have begun to depart where the difference is this share of its largest value."""
FOLLOWING: Final = 0.5
"""A later peak counts as a second phase when it begins this many half durations after the main one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """What speaks for or against a rule, for one pair.

    Attributes
    ----------
    test, model
        Features of both curves.
    cost
        Rating that the pair has lost, in [0, 1].
    size
        Largest difference as a share of the test's peak.
    numbers
        Name to pure number, see :data:`CHANGES` and :data:`PROPERTIES`; absent where it cannot be told.
    """

    test: Features
    model: Features
    cost: float
    size: float
    numbers: dict[str, float]


def evidence_of(pair: AlignedPair, settings: RatingSettings | None = None) -> Evidence | None:
    """Gather the evidence of one pair.

    Changes of features are given as a share of the largest difference between the curves, so that they
    describe the pattern of a difference and not its size.
    """
    cost = 1.0 - rate(pair, settings).overall
    test = features(pair.time, pair.reference)
    difference = (pair.candidate - pair.reference) / test.peak
    size = float(np.abs(difference).max())
    if size == 0.0 or not np.any(pair.candidate):
        return None
    model = features(pair.time, pair.candidate)
    numbers = _of_difference(pair, test, difference)
    numbers["flat top"] = _flat_top(pair.candidate, model.peak) - _flat_top(pair.reference, test.peak)
    for names, scale in ((_CHANGES, size), (_OF_TAIL, 1.0)):
        for name, change in names.items():
            value = change(test, model)
            if value is not None:
                numbers[name] = value / scale
    second = _second_phase(pair, test, model)
    if second is not None:
        numbers["second phase"] = second / size
    numbers["main peak differs"] = max(abs(numbers.get(name, 0.0)) for name in ("peak", "time of peak"))
    return Evidence(test=test, model=model, cost=cost, size=size, numbers=numbers)


def _of_difference(pair: AlignedPair, test: Features, difference: Floats) -> dict[str, float]:
    """Describe the difference itself: one-sided or not, brief or not, where it lies."""
    level = pair.reference / test.peak
    absolute = np.abs(difference)
    area = float(absolute.sum())
    large = absolute >= LARGE * absolute.max()
    end, test_top = int(np.argmax(level >= NEAR_PEAK)), int(np.argmax(level))
    width = test.half_duration or 0.25 * float(pair.time[-1] - pair.time[0])
    first = int(np.argmax(large))
    return {
        "first difference": float(np.sign(difference[first])),
        "one-sidedness": abs(float(difference.sum())) / area,
        "brevity": float(large.sum()) * pair.step_s / width,
        "share while loading": float(absolute[:end].sum()) / area,
        "level of parting": float(level[first]),
        "level of departure": _departure(level, absolute, test_top),
        "share after peak": float(absolute[test_top:].sum()) / area,
        "time of largest difference": float(pair.time[int(np.argmax(absolute))] - test.peak_time) / width,
    }


def _departure(level: Floats, absolute: Floats, top: int) -> float:
    """Return the share of the peak up to which both curves load alike; 0 when they part only after it."""
    first = int(np.argmax(absolute >= SMALL * absolute.max()))
    return float(level[first]) if first < top else 0.0


def _flat_top(values: Floats, peak: float) -> float:
    """Return which share of the samples above half of the peak are above 90 % of it; half a sine has 0.43."""
    level = values / peak
    return float((level >= NEAR_PEAK).sum()) / float((level >= 0.5).sum())


def _log_ratio(test: float | None, model: float | None) -> float | None:
    """Return ln(model / test); None where one is missing or they differ in sign."""
    if not test or not model or model / test <= 0.0:
        return None
    return math.log(model / test)


def _log(name: str) -> Callable[[Features, Features], float | None]:
    return lambda test, model: _log_ratio(getattr(test, name), getattr(model, name))


def _in_durations(name: str) -> Callable[[Features, Features], float | None]:
    def change(test: Features, model: Features) -> float | None:
        before, after = getattr(test, name), getattr(model, name)
        if before is None or after is None or not test.half_duration:
            return None
        return float(after - before) / test.half_duration

    return change


def _second_phase(pair: AlignedPair, test: Features, model: Features) -> float | None:
    """Return by how much the model exceeds the test at the largest later peak, as a share of the main one."""
    if not test.half_duration:
        return None
    gap = FOLLOWING * test.half_duration
    later = [peak for found in (test, model) for peak in found.peaks if peak.time > found.peak_time + gap]
    if not later:
        return None
    time = max(later, key=lambda peak: abs(peak.value)).time
    around = np.abs(pair.time - time) <= 0.5 * gap
    # Both are read in one window, because a peak of one curve may be a shoulder of the other.
    levels = [float((curve[around] / test.peak).max()) for curve in (pair.reference, pair.candidate)]
    return levels[1] - levels[0]


def _relative_damping(test: Features, model: Features) -> float | None:
    """Return the change of the tail's damping ratio as a share of the test's."""
    if model.tail_damping is None or not test.tail_damping or test.tail_damping < 0.0:
        return None
    return model.tail_damping / test.tail_damping - 1.0


_CHANGES: Final[dict[str, Callable[[Features, Features], float | None]]] = {
    "onset": _in_durations("onset_time"),
    "peak": _log("peak"),
    "time of peak": _in_durations("peak_time"),
    "rise rate": _log("rise_rate"),
    "fall rate": _log("fall_rate"),
    "duration": _log("half_duration"),
    "impulse": _log("impulse"),
}
"""Given as a share of the largest difference."""
_OF_TAIL: Final[dict[str, Callable[[Features, Features], float | None]]] = {
    "tail frequency": _log("tail_frequency"),
    "tail damping": _relative_damping,
}
"""Given as they are: a tail may be small and still tell."""

CHANGES: Final = (*_CHANGES, *_OF_TAIL, "second phase", "first difference", "flat top")
"""Numbers with a sign: they turn when test and model change places."""
PROPERTIES: Final = (
    "one-sidedness",
    "brevity",
    "share while loading",
    "share after peak",
    "level of parting",
    "level of departure",
    "time of largest difference",
    "main peak differs",
)
"""Numbers without: they describe where and how the curves differ."""


Group = Literal["stiffness", "damping", "hysteresis", "contact or densification", "inertia"]
GROUPS: Final[tuple[Group, ...]] = get_args(Group)
"""Groups of material behaviour."""
Quantity = Literal["load", "travel", "any"]
Side = Literal["too little", "too much", "unclear"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """What a rule expects of one number.

    Attributes
    ----------
    number
        One of ``CHANGES`` or ``PROPERTIES``.
    none, full
        Where the number does not speak for the rule at all, and where it does so fully; straight in between.
    needed
        The rule is silent as far as this fails; otherwise the condition is one of several that are averaged.
    """

    number: str
    none: float
    full: float
    needed: bool = False

    def holds(self, value: float, direction: float) -> float:
        """Return how far it holds, in [-1, 1]; below 0 (never when needed) the number speaks against it."""
        seen = value * direction if self.number in CHANGES else value
        share = (seen - self.none) / (self.full - self.none)
        return min(1.0, max(0.0 if self.needed else -1.0, share))


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What a rule says when its pattern is met one way round.

    Attributes
    ----------
    side
        Whether the model may have too little or too much of the behaviour.
    seen
        The pattern in words.
    may
        What may be behind it, worded as a hint.
    """

    side: Side
    seen: str
    may: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule and its opposite.

    Attributes
    ----------
    group
        Behaviour it hints at.
    quantity
        ``load`` for forces, moments and accelerations; ``travel`` for displacements and angles; ``any``.
    forward, backward
        What is said when the pattern is met, and when it is met with every change turned.
    conditions
        All of them.
    """

    group: Group
    quantity: Quantity
    forward: Reading
    backward: Reading
    conditions: tuple[Condition, ...]

    def met(self, numbers: Mapping[str, float], direction: float) -> float:
        """Return how far the rule is met: the mean of its conditions, times each needed one."""
        gate, shares = 1.0, []
        for condition in self.conditions:
            value = numbers.get(condition.number)
            if condition.needed:
                gate *= 0.0 if value is None else condition.holds(value, direction)
            elif value is not None:
                shares.append(condition.holds(value, direction))
        if all(condition.needed for condition in self.conditions):
            return gate
        return gate * max(0.0, sum(shares) / len(shares)) if shares else 0.0


@cache
def rules() -> tuple[Rule, ...]:
    """Return the rules in the order of the file."""
    return parse_rules(files("correlate.diagnosis.hints").joinpath("hints.toml").read_text(encoding="utf-8"))


def parse_rules(text: str) -> tuple[Rule, ...]:
    """Read a table of rules."""
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(
            f"the table of hints cannot be read: {error}", remedy="install the package again"
        ) from None
    return tuple(_rule(one, index) for index, one in enumerate(content.get("rule", []), start=1))


def _rule(one: dict[str, Any], index: int) -> Rule:
    try:
        rule = Rule(
            group=one["group"],
            quantity=one["quantity"],
            forward=Reading(**one["forward"]),
            backward=Reading(**one["backward"]),
            conditions=tuple(Condition(**condition) for condition in one["conditions"]),
        )
    except (KeyError, TypeError) as error:
        raise SettingsError(
            f"rule {index} of the table of hints lacks or misspells a key: {error}",
            remedy="correct hints.toml",
        ) from None
    for word, known in (
        (rule.group, GROUPS),
        (rule.quantity, get_args(Quantity)),
        (rule.forward.side, get_args(Side)),
        (rule.backward.side, get_args(Side)),
        *((condition.number, (*CHANGES, *PROPERTIES)) for condition in rule.conditions),
    ):
        if word not in known:
            raise SettingsError(
                f"rule {index} of the table of hints has '{word}', which is unknown",
                remedy=f"use one of {', '.join(known)}",
            )
    return rule
