"""Two exchanged channels of one test."""

from __future__ import annotations

import math
from itertools import combinations
from typing import TYPE_CHECKING, Final

from correlate.channel import ChannelCode, is_channel_code
from correlate.reference.check.repeats import middle, squared_error
from correlate.reference.finding import Finding, Kind, RepairProposal
from correlate.units import parse_unit

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from correlate.reference.check.statistics import ChannelStatistics
    from correlate.reference.check.trials import Trials


BETTER: Final = 0.25
"""Exchanging two channels must leave no more than this share of the squared error."""
NOTABLE: Final = 0.1
"""Squared error, over the squares of the curves, below which nothing needs an explanation."""


def examine_exchanges(trials: Trials, index: int) -> Iterator[Finding]:
    """Exchange two channels of one quantity and see whether they then fit the other repeats.

    Only channels that differ from their repeats are tried, so that the pairs stay few.

    References
    ----------
    .. [1] Criterion derived here.
    """
    trial = trials.trials[index]
    straight = {
        name: error
        for name, facts in trial.facts.items()
        if facts.peak and (error := _straight(trials, index, name)) >= NOTABLE
    }
    for one, other in combinations(straight, 2):
        small = trial.facts[one].is_minor and trial.facts[other].is_minor
        if not small and _one_quantity(trial.facts[one], trial.facts[other]):
            crossed = [_crossed(trials, index, mine, theirs) for mine, theirs in ((one, other), (other, one))]
            if crossed[1] <= BETTER * straight[one] and crossed[0] <= BETTER * straight[other]:
                yield _finding(
                    trial.facts[one], other, (straight[one] + straight[other], crossed[0] + crossed[1])
                )


def _straight(trials: Trials, index: int, name: str) -> float:
    """Return how far a channel is from the other repeats; 0 with fewer than two."""
    others = [
        other
        for other, trial in enumerate(trials.trials)
        if other != index and name in trial.facts and trial.facts[name].peak
    ]
    # The match is at hand; its error is too large at most, because it may be that of the turned curve.
    if (
        len(others) < 2
        or middle([trials.largest_error(index, other, name) for other in others], 0.0) < NOTABLE
    ):
        return 0.0
    return _apart(trials, index, others, (name, name), favoured=0.0)


def _crossed(trials: Trials, index: int, mine: str, theirs: str) -> float:
    """Return how far a channel is from another channel of the other repeats."""
    others = [other for other, trial in enumerate(trials.trials) if other != index and theirs in trial.curves]
    return _apart(trials, index, others, (mine, theirs), favoured=math.inf)


def _apart(
    trials: Trials, index: int, others: Sequence[int], names: tuple[str, str], *, favoured: float
) -> float:
    """Return the middle squared error of a channel against a channel of other repeats."""
    mine, theirs = names
    curve = trials.trials[index].curves[mine]
    return middle(
        [squared_error(curve, trials.trials[other].curves[theirs]) for other in others], favoured=favoured
    )


def _one_quantity(one: ChannelStatistics, other: ChannelStatistics) -> bool:
    return parse_unit(one.signal.unit).exponents == parse_unit(other.signal.unit).exponents


def _kind(one: str, other: str) -> Kind:
    """Return whether the two are axes of one sensor."""
    if not (is_channel_code(one) and is_channel_code(other)):
        return "exchanged channels"
    a, b = ChannelCode(one), ChannelCode(other)
    axes = a.sensor == b.sensor and {a.direction, b.direction} <= set("XYZ")
    return "axes" if axes and a.direction != b.direction else "exchanged channels"


def _finding(one: ChannelStatistics, other: str, errors: tuple[float, float]) -> Finding:
    straight, crossed = errors
    return Finding(
        kind=_kind(one.signal.channel, other),
        severity="error",
        file=one.file,
        channel=one.signal.channel,
        what=f"the channel and '{other}' are exchanged: each resembles the other one of the repeats",
        remedy="check the cables; accept the exchange of the two channels",
        evidence={
            "squared_error": round(straight, 4),
            "squared_error_exchanged": round(crossed, 4),
            "other": other,
        },
        start_s=one.signal.start_s,
        end_s=one.signal.end_s,
        repair=RepairProposal("exchange channels", {"with": other}),
    )
