"""The rated pairs of one channel drawn together over its repeats."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.metrics.iso18571 import Grade, grade_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from correlate.campaign import CampaignPair, PairScore


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelSummary:
    """Means over the repeats of one channel, and the range of the overall rating.

    Attributes
    ----------
    release, load_case, channel
        Names for people.
    corridor, phase, magnitude, slope, overall
        Means of the ratings of the repeats.
    lowest, highest
        Of the overall ratings.
    repeats
        How many.
    grade
        Of the mean.
    """

    release: str
    load_case: str
    channel: str
    corridor: float
    phase: float
    magnitude: float
    slope: float
    overall: float
    lowest: float
    highest: float
    repeats: int
    grade: Grade


def summarise(rated: Iterable[tuple[CampaignPair, PairScore]]) -> list[ChannelSummary]:
    """Group rated pairs by release, load case and channel and average over the repeats.

    Parameters
    ----------
    rated
        Pairs with their scores.

    Returns
    -------
    list of ChannelSummary
        In the order in which each channel first appears.
    """
    groups: dict[tuple[str, str, str], list[PairScore]] = {}
    for pair, score in rated:
        key = (pair.release.name, pair.load_case.name, pair.channel.words)
        groups.setdefault(key, []).append(score)
    return [_one(key, scores) for key, scores in groups.items()]


def _one(key: tuple[str, str, str], scores: list[PairScore]) -> ChannelSummary:
    values = np.array(
        [
            (s.rating.corridor, s.rating.phase, s.rating.magnitude, s.rating.slope, s.rating.overall)
            for s in scores
        ]
    )
    corridor, phase, magnitude, slope, overall = (float(mean) for mean in values.mean(axis=0))
    release, load_case, channel = key
    return ChannelSummary(
        release=release,
        load_case=load_case,
        channel=channel,
        corridor=corridor,
        phase=phase,
        magnitude=magnitude,
        slope=slope,
        overall=overall,
        lowest=float(values[:, 4].min()),
        highest=float(values[:, 4].max()),
        repeats=len(scores),
        grade=grade_of(overall),
    )
