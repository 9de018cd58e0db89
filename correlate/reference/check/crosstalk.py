"""A part of one channel that belongs to another channel of the same test."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.reference.finding import Finding

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from correlate.reference.check.departures import Departure
    from correlate.reference.check.statistics import ChannelStatistics
    from correlate.reference.check.trials import Trial, Trials

    Floats = NDArray[np.float64]


ODD: Final = 4.5
"""What the other channel explains must be so many times the misfit among the other repeats …"""
LOOK_ALIKE: Final = 0.9
"""Correlation from which another channel measures the same."""
BETTER: Final = 0.5
"""The part must leave no more than this share of what a shift of the channel alone leaves."""
LARGEST_TURN: Final = 0.1
"""A sensor that is turned, or sensitive across its axis, shows up to this share of its other axes."""
COHERENT: Final = 0.6
"""… and this share of the misfit."""
CERTAIN: Final = 0.9
"""Share of the misfit from which it is an error: scatter resembles another channel less."""
COMMON: Final = 0.95
"""What differs in another channel must explain less than this times what that channel explains."""
AS_MUCH: Final = 0.3
"""That other channel differs by so many times the share of energy, or more."""
TRIED: Final = 3
"""Most likely channels that are fitted together with the repeat."""
LEAST_SHARE: Final = 0.03
"""Smallest part of the other channel, as a share of the peak …"""
LARGEST_SHARE: Final = 0.7
"""… and largest: more is a channel that measures the same."""


@dataclass(frozen=True, slots=True)
class _Part:
    """How much of a misfit another channel explains."""

    name: str
    coherence: float
    share: float


def examine_crosstalk(trials: Trials, index: int, names: Sequence[str]) -> Iterator[Finding]:
    """Explain what differs from the other repeats by another channel of the test.

    Size, shift and stretch are taken out of both first, and a part of the other axes of the sensor, because
    they differ among honest repeats.

    References
    ----------
    .. [1] Partial regression: any textbook of statistics. Limits: chosen here.
    """
    for name in names:
        if trials.trials[index].facts[name].is_minor or trials.oddness(index, name) < ODD:
            continue
        part = _part(trials, index, name)
        if part is not None:
            yield _finding(trials.trials[index].facts[name], part)


def _part(trials: Trials, index: int, name: str) -> _Part | None:
    """Return the part of another channel on which the other repeats agree."""
    others = trials.others(index, name)
    rests = _rests(trials, index, name)
    among = [rest.share for one in others for rest in _rests(trials, one, name, without=index)]
    if len(rests) < 2 or not among:
        return None
    likely = sorted(_parts(trials.trials[index], name, rests), key=lambda part: -part.coherence)[:TRIED]
    energy = _typical(rests)
    left = {part.name: _typical(_rests(trials, index, name, foreign=part.name)) for part in likely}
    best = min(likely, key=lambda part: left[part.name], default=None)
    if best is None or left[best.name] > (1 - COHERENT) * energy:
        return None
    if left[best.name] > BETTER * _typical(_rests(trials, index, name, alone=True)):
        return None
    best = replace(best, coherence=1 - left[best.name] / energy)
    if best.coherence * np.median([rest.share for rest in rests]) < ODD * np.median(among):
        return None
    return None if _is_common(trials, index, name, rests, best.coherence) else best


def _rests(
    trials: Trials, index: int, name: str, *, without: int = -1, alone: bool = False, foreign: str = ""
) -> list[Departure]:
    """Return what is left of a channel beside each other repeat."""
    found = (
        trials.departure(index, other, name, alone=alone, foreign=foreign)
        for other in trials.others(index, name)
        if other != without
    )
    return [rest for rest in found if rest is not None]


def _typical(rests: Sequence[Departure]) -> float:
    return float(np.median([rest.energy for rest in rests])) if rests else math.inf


def _parts(trial: Trial, name: str, rests: Sequence[Departure]) -> Iterator[_Part]:
    """Return how much each channel explains that does not look like the channel itself."""
    own = float(np.abs(trial.curves[name].values).max())
    axes = trial.axes_beside(name)
    for candidate, curve in trial.curves.items():
        if candidate == name or not trial.is_loud(candidate) or trial.facts[candidate].is_minor:
            continue
        values = curve.at(rests[0].time_s)
        size = math.sqrt(float(values @ values) * float(rests[0].own @ rests[0].own))
        if size == 0 or abs(float(values @ rests[0].own)) > LOOK_ALIKE * size:
            continue
        found = [_beside(rest, curve.at(rest.time_s)) for rest in rests]
        coherence, factor = (float(value) for value in np.median(found, axis=0))
        share = abs(factor) * float(np.abs(curve.values).max()) / own
        if LEAST_SHARE <= share <= LARGEST_SHARE and not (candidate in axes and abs(factor) < LARGEST_TURN):
            yield _Part(candidate, coherence, share)


def _is_common(trials: Trials, index: int, name: str, rests: Sequence[Departure], coherence: float) -> bool:
    """Say whether another channel differs from its repeats as much and in the same way."""
    trial = trials.trials[index]
    for sibling in trial.facts:
        if sibling == name or trial.facts[sibling].is_minor or trials.oddness(index, sibling) < ODD:
            continue
        found = [
            (
                _beside(rest, np.interp(rest.time_s, beside.time_s, beside.rest[: beside.time_s.size]))[0],
                beside.share,
            )
            for rest, beside in zip(rests, _rests(trials, index, sibling), strict=False)
        ]
        if not found:
            continue
        alike, share = np.median(found, axis=0)
        if alike > COMMON * coherence and share > AS_MUCH * np.median([rest.share for rest in rests]):
            return True
    return False


def _beside(rest: Departure, candidate: Floats) -> tuple[float, float]:
    """Return the share of the rest that a channel explains, and by what factor."""
    free = rest.without_fitted(candidate)
    size = float(free @ free)
    if size < 1e-6 * float(candidate @ candidate) or rest.energy == 0:
        return 0.0, 0.0
    factor = float(rest.rest @ free) / size
    return factor**2 * size / rest.energy, factor


def _finding(facts: ChannelStatistics, part: _Part) -> Finding:
    return Finding(
        kind="cross-talk",
        severity="error" if part.coherence >= CERTAIN else "warning",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the channel contains a part of '{part.name}', {part.share:.0%} of its own peak, that the "
        "other repeats do not show",
        remedy="check cables, connectors and ground; repeat the test",
        evidence={
            "other": part.name,
            "share_of_peak": round(part.share, 4),
            "coherence": round(part.coherence, 4),
        },
        start_s=facts.onset_s,
        end_s=facts.signal.end_s,
    )
