"""Outcomes of emulated curves: the same rating, aggregation, features and windows as those of runs."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.campaign.aggregation import aggregate
from correlate.errors import CorrelateError
from correlate.formats.recording import Recording
from correlate.metrics.iso18571.many import COMPONENTS, scores_many
from correlate.pair import AlignedPair
from correlate.signal import Signal
from correlate.tuning.definition import LOSS_RATIO, WORST_CHANNEL
from correlate.tuning.rating import curve_features_of, measurements
from correlate.tuning.runs import HELD_OUT, OVERALL, TRAIN, outcome_name

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from correlate.tuning.rating import RunRater
    from correlate.tuning.traces import TraceChannel

    Floats = NDArray[np.float64]


SAMPLES: Final = 100
"""Number of samples of a curve that a search rates; for printed values the whole curve is rated."""
MEASURED: Final = ("window/", "criterion/")
"""Outcomes that are measured on recorded, unconditioned curves."""
_CANDIDATE: Final = "emulated"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pair:
    """One channel against one test, as the aggregation takes it; the overall rating is set pair by pair."""

    load_case: str
    channel: str
    repeat: str
    ingredients: Mapping[str, Any]
    overall: float = 0.0
    release: str = _CANDIDATE


class CurveRater:
    """Rates curves of the channels of a project, many points at a time.

    Ratings of load cases, of the training and held-out sets, of repeats and of channels are weighted means of
    the ratings of pairs. The weights are obtained once from the aggregation itself, one pair after the other.

    Parameters
    ----------
    rater
        What rates the runs of the project.
    channels
        Of the curves, in their order.
    """

    def __init__(self, rater: RunRater, channels: Sequence[TraceChannel]) -> None:
        self._rater = rater
        self.channels = tuple(channels)
        self.settings = rater.campaign.settings
        rated = [place for place, one in enumerate(channels) if not one.recorded]
        self._pairs = [(place, repeat) for place in rated for repeat in channels[place].tests]
        self._weights, self._constants = self._ask_weights()
        self._worst = [
            name
            for name in self._weights
            if name.startswith(tuple(outcome_name("channel", case, "") for case in rater.tuning.goal.train))
        ]

    @property
    def ratings(self) -> tuple[str, ...]:
        """Names of the outcomes that are ratings."""
        return (*self._weights, *((WORST_CHANNEL,) if self._worst else ()))

    def strides(self, *, thin: bool) -> list[int]:
        """Return the stride of each channel: 1 for all samples, or such that about 100 are left."""
        return [max(1, one.time.size // SAMPLES) if thin and not one.recorded else 1 for one in self.channels]

    def needed(self, names: Sequence[str]) -> list[int]:
        """Return the positions of the channels that outcomes depend on."""
        rated = {self._pairs[number][0] for number in self._needed_pairs(names)}
        cases = {name.split("/")[1] for name in names if name.startswith(MEASURED)}
        recorded = {
            place for place, one in enumerate(self.channels) if one.recorded and one.load_case in cases
        }
        features = {
            place
            for place, one in enumerate(self.channels)
            if any(name.startswith(outcome_name("feature", one.load_case, one.channel, "")) for name in names)
        }
        return sorted(rated | recorded | features)

    def _needed_pairs(self, names: Sequence[str]) -> list[int]:
        weights = [self._weights[name] != 0 for name in names if name in self._weights]
        weights += [self._weights[name] != 0 for name in self._worst if WORST_CHANNEL in names]
        parts = {tuple(name.split("/")[1:3]) for name in names if name.startswith("component/")}
        of_parts = [
            (self.channels[place].load_case, self.channels[place].channel) in parts
            for place, _ in self._pairs
        ]
        return np.flatnonzero(np.any([*weights, of_parts], axis=0)).tolist()

    def scores(self, curves: Mapping[int, Floats], names: Sequence[str], *, thin: bool = False) -> Floats:
        """Rate curves against every test that outcomes depend on.

        Parameters
        ----------
        curves
            Of each needed channel by its position, shape ``(m, t)``, thinned as :meth:`strides` says.
        names
            Of the outcomes.
        thin
            Whether the curves are thinned.

        Returns
        -------
        numpy.ndarray
            Shape ``(m, p, 5)``: of every pair overall, corridor, phase, magnitude and slope; 0 for pairs that
            are not needed.
        """
        count = len(next(iter(curves.values())))
        found = np.zeros((count, len(self._pairs), 1 + len(COMPONENTS)))
        strides = self.strides(thin=thin)
        # Pairs of one length go together: a call for each would take longer than the rating of short curves.
        together: dict[tuple[int, int, int], list[int]] = {}
        for number in self._needed_pairs(names):
            place, _ = self._pairs[number]
            together.setdefault(
                (strides[place], curves[place].shape[1], _nanoseconds(self.channels[place])), []
            ).append(number)
        for (stride, size, _), numbers in together.items():
            chosen = [self._pairs[number] for number in numbers]
            tests = np.stack([self.channels[place].tests[repeat][::stride] for place, repeat in chosen])
            candidates = np.stack([curves[place] for place, _ in chosen], axis=1)
            scores = scores_many(
                np.broadcast_to(tests, candidates.shape).reshape(-1, size),
                candidates.reshape(-1, size),
                step_s=self.channels[chosen[0][0]].step_s * stride,
                settings=self._thinned(stride),
            )
            found[:, numbers] = scores.reshape(count, len(numbers), -1)
        return found

    def outcomes(
        self, curves: Mapping[int, Floats], names: Sequence[str], *, thin: bool = False
    ) -> dict[str, Floats]:
        """Return outcomes of curves.

        Parameters
        ----------
        curves
            As for :meth:`scores`.
        names
            Of the outcomes; those that cannot be computed from curves are left out.
        thin
            As for :meth:`scores`; features and windows are measured on whole curves alone.

        Returns
        -------
        dict of str to numpy.ndarray
            By name, shape ``(m,)``; nan where a curve has no such outcome.
        """
        found: dict[str, Floats] = {}
        if any(name in self.ratings or name.startswith("component/") for name in names):
            found |= self._rated(self.scores(curves, names, thin=thin), names)
        if any(name.startswith("feature/") for name in names):
            found |= self._features(curves, names)
        if any(name.startswith(MEASURED) for name in names):
            found |= self._measured(curves, names)
        return found

    def _rated(self, scores: Floats, names: Sequence[str]) -> dict[str, Floats]:
        overall = scores[:, :, 0]
        found = {
            name: self._constants[name] + overall @ self._weights[name]
            for name in names
            if name in self._weights
        }
        if WORST_CHANNEL in names and self._worst:
            found[WORST_CHANNEL] = np.min([overall @ self._weights[name] for name in self._worst], axis=0)
        components = {name for name in names if name.startswith("component/")}
        for place in dict.fromkeys(place for place, _ in self._pairs) if components else ():
            channel = self.channels[place]
            mine = [number for number, (one, _) in enumerate(self._pairs) if one == place]
            for column, component in enumerate(COMPONENTS, start=1):
                name = outcome_name("component", channel.load_case, channel.channel, component)
                if name in components:
                    found[name] = scores[:, mine, column].mean(axis=1)
        return found

    def _features(self, curves: Mapping[int, Floats], names: Sequence[str]) -> dict[str, Floats]:
        wanted = {name for name in names if name.startswith("feature/")}
        found: dict[str, Floats] = {}
        for place, channel in enumerate(self.channels):
            prefix = outcome_name("feature", channel.load_case, channel.channel, "")
            if channel.recorded or not any(name.startswith(prefix) for name in wanted):
                continue
            test = next(iter(channel.tests.values()))
            for row, curve in enumerate(curves[place]):
                pair = AlignedPair(time=channel.time, reference=test, candidate=curve)
                for name, value in curve_features_of(pair).items():
                    column = found.setdefault(prefix + name, np.full(len(curves[place]), np.nan))
                    column[row] = value
        return {name: values for name, values in found.items() if name in wanted}

    def _measured(self, curves: Mapping[int, Floats], names: Sequence[str]) -> dict[str, Floats]:
        wanted = {name for name in names if name.startswith(MEASURED)}
        count = len(next(iter(curves.values())))
        found = {name: np.full(count, np.nan) for name in wanted}
        for load_case, measured in measurements(self._rater.tuning):
            places = [
                place
                for place, one in enumerate(self.channels)
                if one.recorded and one.load_case == load_case and place in curves
            ]
            channels = [self.channels[place] for place in places]
            for row in range(count if places else 0):
                try:
                    values = measured(_recording(channels, [curves[place][row] for place in places]))
                except CorrelateError:
                    continue  # an emulated curve that cannot be measured has no such outcome
                for name in wanted & set(values):
                    found[name][row] = values[name]
        return {name: values for name, values in found.items() if np.isfinite(values).any()}

    def _thinned(self, stride: int) -> Any:
        """Return settings whose slope is averaged over about the same time on every ``stride``-th sample."""
        if stride == 1:
            return self.settings
        samples = max(1, 2 * round((self.settings.slope_average_samples / stride - 1) / 2) + 1)
        return replace(self.settings, slope_average_samples=samples)

    def _ask_weights(self) -> tuple[dict[str, Floats], dict[str, float]]:
        """Return the weight of each pair in each outcome, and the outcome when all pairs are rated 0."""
        pairs = [self._pair(place, repeat) for place, repeat in self._pairs]
        nothing = self._rater.ratings(aggregate(self._rater.campaign, pairs, _CANDIDATE))
        rows = []
        for number in range(len(pairs)):
            records = [replace(one, overall=float(place == number)) for place, one in enumerate(pairs)]
            rows.append(self._rater.ratings(aggregate(self._rater.campaign, records, _CANDIDATE)))
        kinds = tuple(outcome_name(kind, "") for kind in ("load case", "channel", "repeat"))
        names = [
            name
            for name in rows[0]
            if name in {TRAIN, HELD_OUT, OVERALL, LOSS_RATIO} or name.startswith(kinds)
        ]
        weights = {name: np.array([row[name] - nothing[name] for row in rows]) for name in names}
        return weights, {name: nothing[name] for name in names}

    def _pair(self, place: int, repeat: str) -> _Pair:
        channel = self.channels[place]
        peak = float(np.abs(channel.tests[repeat]).max())
        return _Pair(
            load_case=channel.load_case,
            channel=channel.channel,
            repeat=repeat,
            ingredients={"corridor": {"reference_peak": peak}},
        )


def _nanoseconds(channel: TraceChannel) -> int:
    return round(1e9 * channel.step_s)


def _recording(channels: Sequence[TraceChannel], curves: Sequence[Floats]) -> Recording:
    """Return curves as a recording of the model."""
    signals = tuple(
        Signal(
            samples=curve,
            start_s=float(channel.time[0]),
            step_s=channel.step_s,
            unit=channel.unit,
            channel=channel.channel,
        )
        for channel, curve in zip(channels, curves, strict=True)
    )
    return Recording(signals=signals, path=Path(_CANDIDATE), format=_CANDIDATE)
