"""The tests of one load case side by side, each comparison made once."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.reference.check.departures import SHIFT_SCATTER_S, Allowance, coarser, departure
from correlate.reference.check.repeats import ALIKE, SMALL, curve_of, likeness
from correlate.reference.check.sensors import sensor_of
from correlate.reference.check.spectra import energy_spectrum

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from correlate.reference.check.departures import Departure
    from correlate.reference.check.repeats import RepeatCurve, RepeatLikeness
    from correlate.reference.check.spectra import EnergySpectrum
    from correlate.reference.check.statistics import ChannelStatistics


SPENT: Final = 0.97
"""Share of the energy after which the event is nearly over."""
TAIL_STEP_S: Final = 0.002
"""Times from which spectra begin are rounded to this, s, so that few are computed."""
COARSE: Final = 400
"""Points of a curve for the first look."""


class Trial:
    """One test with the statistics, curve and spectrum of every channel."""

    def __init__(self, channels: Sequence[ChannelStatistics]) -> None:
        self.facts: Mapping[str, ChannelStatistics] = {item.signal.channel: item for item in channels}
        self.curves: Mapping[str, RepeatCurve] = {name: curve_of(item) for name, item in self.facts.items()}
        self._sensors: dict[str, list[str]] = {}
        for name in self.facts:
            if sensor_of(name):
                self._sensors.setdefault(sensor_of(name), []).append(name)
        self._coarse: dict[str, RepeatCurve] = {}
        self._spectra: dict[str, EnergySpectrum] = {}

    def coarse(self, name: str) -> RepeatCurve:
        """Return the curve for a first look."""
        if name not in self._coarse:
            self._coarse[name] = coarser(self.curves[name], COARSE)
        return self._coarse[name]

    def spectrum(self, name: str) -> EnergySpectrum:
        """Return the spectrum of a channel."""
        if name not in self._spectra:
            self._spectra[name] = energy_spectrum(self.facts[name])
        return self._spectra[name]

    def most_of_it_s(self, name: str) -> float:
        """Return when the channel has spent nearly all of its energy, s."""
        curve = self.curves[name]
        spent = np.cumsum(curve.values**2)
        return curve.start_s + curve.step_s * int(np.searchsorted(spent, SPENT * spent[-1]))

    def axes_beside(self, name: str) -> list[str]:
        """Return the other axes of the sensor of a channel."""
        return [other for other in self._sensors.get(sensor_of(name), ()) if other != name]

    def is_loud(self, name: str) -> bool:
        """Say whether a channel has a peak that can be compared."""
        facts = self.facts.get(name)
        return facts is not None and abs(facts.peak) > SMALL * facts.grain


class Trials:
    """The repeats of one load case."""

    def __init__(self, trials: Sequence[Trial]) -> None:
        self.trials = tuple(trials)
        self._matches: dict[tuple[int, int, str], RepeatLikeness] = {}
        self._shifts: dict[tuple[int, int], float] = {}
        self._shares: dict[tuple[int, int, str], float] = {}
        self._tails: dict[tuple[int, str, int], EnergySpectrum] = {}

    def others(self, index: int, name: str) -> list[int]:
        """Return the repeats with which a channel can be compared."""
        if not self.trials[index].is_loud(name):
            return []
        return [other for other, trial in enumerate(self.trials) if other != index and trial.is_loud(name)]

    def match(self, index: int, other: int, name: str) -> RepeatLikeness:
        """Return the best match of a channel of one repeat with that of another."""
        first, second = min(index, other), max(index, other)
        if (first, second, name) not in self._matches:
            one, two = self.trials[first].curves[name], self.trials[second].curves[name]
            self._matches[first, second, name] = likeness(one, two)
        found = self._matches[first, second, name]
        return found if index == first else found.turned_round()

    def largest_error(self, index: int, other: int, name: str) -> float:
        """Return a bound of the squared difference over all shifts, over the squares of the other.

        It is the squared difference at the best match, with the sign of the match.
        """
        match = self.match(index, other, name)
        return match.gain**2 + 1 - 2 * match.sign * match.correlation * match.gain

    def shift_s(self, index: int, other: int) -> float:
        """Return how much later most channels of one repeat are than those of another."""
        first, second = min(index, other), max(index, other)
        if (first, second) not in self._shifts:
            one, two = self.trials[first], self.trials[second]
            names = [name for name in one.facts if one.is_loud(name) and two.is_loud(name)]
            names = [name for name in names if not one.facts[name].is_minor] or names
            shifts = [
                match.shift_s
                for name in names
                if (match := self.match(first, second, name)).correlation > ALIKE
            ]
            self._shifts[first, second] = float(np.median(shifts)) if shifts else 0.0
        return self._shifts[first, second] if index == first else -self._shifts[first, second]

    def share(self, index: int, other: int, name: str) -> float:
        """Return the energy that scatter without a fault leaves unexplained between two repeats."""
        first, second = min(index, other), max(index, other)
        if (first, second, name) not in self._shares:
            one, two = self.trials[first], self.trials[second]
            allowed = Allowance(start_s=one.facts[name].onset_s)
            rest = departure(one.coarse(name), two.coarse(name), self.shift_s(first, second), allowed)
            self._shares[first, second, name] = math.nan if rest is None else rest.share
        return self._shares[first, second, name]

    def departure(
        self, index: int, other: int, name: str, *, alone: bool = False, foreign: str = ""
    ) -> Departure | None:
        """Return what is left of a channel beside another repeat, at full resolution.

        The other axes of the sensor may explain a part of it; ``alone`` means that the channel may have
        any shift, ``foreign`` is another channel of the test that may explain any part.
        """
        one, two = self.trials[index], self.trials[other]
        axes = tuple(one.curves[axis] for axis in one.axes_beside(name))
        shift_s = self.match(index, other, name).shift_s if alone else self.shift_s(index, other)
        allowed = Allowance(
            start_s=one.facts[name].onset_s,
            shift_s=math.inf if alone else SHIFT_SCATTER_S,
            axes=axes,
            foreign=(one.curves[foreign],) if foreign else (),
        )
        return departure(one.curves[name], two.curves[name], shift_s, allowed)

    def tail_spectra(self, index: int, others: Sequence[int], name: str) -> list[EnergySpectrum]:
        """Return the spectra of a channel and of other repeats after most of the event.

        When that is, the other repeats tell.
        """
        shifts_s = [self.match(index, other, name).shift_s for other in others]
        ends_s = [self.trials[other].most_of_it_s(name) for other in others]
        start_s = float(np.median(np.add(ends_s, shifts_s)))
        starts_s = [start_s, *(start_s - shift_s for shift_s in shifts_s)]
        return [
            self._tail(number, name, round(begin_s / TAIL_STEP_S))
            for number, begin_s in zip((index, *others), starts_s, strict=True)
        ]

    def _tail(self, number: int, name: str, step: int) -> EnergySpectrum:
        if (number, name, step) not in self._tails:
            facts = self.trials[number].facts[name]
            self._tails[number, name, step] = energy_spectrum(facts, step * TAIL_STEP_S)
        return self._tails[number, name, step]

    def oddness(self, index: int, name: str) -> float:
        """Return how much further a channel is from its repeats than they are from each other, in energy."""
        others = self.others(index, name)
        if len(others) < 2:
            return 0.0
        own = [self.share(index, other, name) for other in others]
        among = [self.share(one, two, name) for one in others for two in others if one < two]
        usual = float(np.nanmedian(among))
        return float(np.nanmedian(own)) / usual if usual > 0 else math.inf
