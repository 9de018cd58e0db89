"""The curves that qualification quantities are measured on, computed from channels."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.conditioning import integral, occipital_moment, resultant, turn_sign
from correlate.conditioning.derived import check_same_grid
from correlate.criteria.channels import fitting_channel, prepared
from correlate.errors import ChannelError, CorrelateError, SignalError
from correlate.samples import handed_over
from correlate.signal import Step

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from correlate.criteria.channels import Preparation
    from correlate.criteria.windows import Make, SetUp, SignalPlan, Way
    from correlate.signal import Signal


@dataclass(slots=True, kw_only=True)
class QualificationSignals:
    """Computes each curve once and saves it, or the reason why it cannot be computed.

    Attributes
    ----------
    channels
        Of the recording, under channel codes.
    plans
        How each curve is made.
    set_up
        Of the test.
    preparation
        Time zero and offset; the interval comes from the set-up.
    made
        Curves so far.
    taken
        Channels that they were made of, as recorded.
    """

    channels: Sequence[Signal]
    plans: dict[str, SignalPlan]
    set_up: SetUp
    preparation: Preparation
    made: dict[str, Signal | CorrelateError] = field(default_factory=dict)
    taken: dict[str, Signal] = field(default_factory=dict)

    def get(self, name: str) -> Signal:
        """Return a curve by name.

        Raises
        ------
        CorrelateError
            It cannot be made from this recording; the message says why.
        """
        if name not in self.made:
            try:
                self.made[name] = self._make(self.plans[name])
            except CorrelateError as error:
                self.made[name] = error
        found = self.made[name]
        if isinstance(found, CorrelateError):
            raise found
        return found

    def side(self, name: str) -> int:
        """Return −1 for a curve whose event is a negative peak, else 1."""
        return -1 if name in self.set_up.negative else 1

    def _make(self, plan: SignalPlan) -> Signal:
        preparation = self.preparation
        if self.set_up.interval_ms is not None:
            start_ms, end_ms = self.set_up.interval_ms
            preparation = replace(preparation, start_s=start_ms / 1e3, end_s=end_ms / 1e3)
        way, found = self._way(plan)
        self.taken |= {channel.channel: channel for channel in found}
        cfc = self.set_up.cfc.get(plan.name, plan.cfc)
        ready = [
            prepared(channel, unit=unit, cfc=cfc, preparation=preparation)
            for channel, unit in zip(found, _UNITS.get(way.make, (plan.unit,) * len(found)), strict=True)
        ]
        made = self._combined(way, ready)
        if plan.positive and -made.samples.min() > made.samples.max():
            raise SignalError(
                f"the {plan.name} is mostly negative ({made.samples.min():.5g} {made.unit}), so the channel "
                "seems to have the opposite polarity",
                where=made.place,
                remedy="name it with a minus sign before its code",
            )
        return made

    def _way(self, plan: SignalPlan) -> tuple[Way, list[Signal]]:
        lacking = []
        for way in plan.way:
            found = [fitting_channel(self.channels, pattern) for pattern in way.channels]
            there = [channel for channel in found if channel is not None]
            if len(there) == len(found):
                return way, there
            lacking.append([p for p, channel in zip(way.channels, found, strict=True) if channel is None])
        raise ChannelError(f"no channel {' or '.join(', '.join(patterns) for patterns in lacking)}")

    def _combined(self, way: Way, ready: list[Signal]) -> Signal:
        lever_m = self.set_up.occipital_lever_m
        if way.make == "resultant":
            return resultant(*ready)
        if way.make == "sum":
            return _sum(ready)
        if way.make == "occipital moment":
            return occipital_moment(*ready, distance_m=lever_m)
        if way.make == "lateral occipital moment":
            return occipital_moment(*ready, distance_m=-lever_m, channel="occipital condyle moment X")
        if way.make == "mass times deceleration":
            return self._force(ready[0])
        return _CHANGES[way.make](ready[0])

    def _force(self, acceleration: Signal) -> Signal:
        mass_kg = self.set_up.probe_mass_kg
        if mass_kg is None:
            raise SignalError("the windows give no probe mass", remedy="add probe_mass_kg to the set-up")
        step = Step("mass times deceleration", {"mass_kg": mass_kg})
        return acceleration.then(step, samples=handed_over(0.0 - mass_kg * acceleration.samples), unit="N")


_UNITS: Final[dict[Make, tuple[str, ...]]] = {
    "occipital moment": ("Nm", "N"),
    "lateral occipital moment": ("Nm", "N"),
    "mass times deceleration": ("m/s^2",),
    "velocity change": ("m/s^2",),
}
"""Units of the channels, where they differ from that of the curve."""


def _sum(parts: list[Signal]) -> Signal:
    """Return the sum of curves, turned so that its largest excursion is positive."""
    for other in parts[1:]:
        check_same_grid(parts[0], other)
    step = Step("sum", {"of": [part.channel for part in parts]})
    total = parts[0].then(step, samples=handed_over(np.sum([part.samples for part in parts], axis=0)))
    return _largest_excursion_positive(total)


def _velocity_change(acceleration: Signal) -> Signal:
    """Return by how much the velocity has fallen since time zero."""
    if acceleration.start_s > 0:
        raise SignalError(
            f"the data begin {1e3 * acceleration.start_s:.6g} ms after time zero",
            where=acceleration.place,
            remedy="give data from time zero on, or correct --time-zero",
        )
    fall = integral(turn_sign(acceleration))
    at_zero = float(np.interp(0.0, fall.time_s, fall.samples))
    return fall.then(
        Step("change since time zero", {"at_zero": at_zero}), samples=handed_over(fall.samples - at_zero)
    )


def _as_recorded(signal: Signal) -> Signal:
    return signal


def _absolute_value(signal: Signal) -> Signal:
    return signal.then(Step("absolute value"), samples=handed_over(np.abs(signal.samples)))


def _largest_excursion_positive(signal: Signal) -> Signal:
    return turn_sign(signal) if -signal.samples.min() > signal.samples.max() else signal


_CHANGES: Final[dict[Make, Callable[[Signal], Signal]]] = {
    "as recorded": _as_recorded,
    "turned": turn_sign,
    "absolute value": _absolute_value,
    "largest excursion positive": _largest_excursion_positive,
    "velocity change": _velocity_change,
}
