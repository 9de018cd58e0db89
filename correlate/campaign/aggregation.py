"""From ratings of pairs to one number: channel → sensor → body region → load case → release.

Every weight stands in the tree beside the number it belongs to, normalised over its siblings, so that a sum
can be checked by hand.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from correlate.display import frame, row, short_repr
from correlate.evaluation.tables import RATING
from correlate.metrics.iso18571 import Grade, grade_of
from correlate.statistics import mean_and_deviation, mean_estimate, mean_of_repeats, weighted_sum

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

    from pandas import DataFrame

    from correlate.campaign.scoring import Rated
    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.tables import ChannelPlan, LoadCase, ResultantPlan
    from correlate.statistics import Estimate

Kind = Literal["channel", "sensor", "region", "load case", "release"]


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """One number of the tree and everything under it.

    Attributes
    ----------
    measure
        Name of the measure that the numbers are of.
    kind
        What it is the rating of.
    name
        As in the campaign file.
    words
        For people.
    overall
        Weighted mean of the parts, in [0, 1]; None when nothing under it is rated.
    weight
        Share in the number above it; the shares of siblings that count add up to 1.
    rated, expected
        Channels under it that have a rating, and all of them.
    lowest, highest, spread
        Of the repeats of a channel: range and standard deviation; the same weighted means above.
    repeats
        Rated repeats of a channel; 0 above.
    by_repeat
        Rating of each repeat, by its name: of a channel, and the same weighted means up to the load case, for
        the repeats that everything under it has. Empty above: repeats of different tests are no pairs.
    worst, best
        The number if everything that is not rated were rated 0, or 1.
    parts
        What it is made of.
    """

    kind: Kind
    name: str
    words: str
    overall: float | None
    weight: float = 1.0
    rated: int
    expected: int
    lowest: float | None = None
    highest: float | None = None
    spread: float | None = None
    repeats: int = 0
    by_repeat: Mapping[str, float] = field(default_factory=dict)
    worst: float = 0.0
    best: float = 1.0
    parts: tuple[Score, ...] = ()
    measure: str = RATING

    @property
    def estimate(self) -> Estimate | None:
        """The number with what the scatter of the repeats leaves open; None where that is not known.

        Up to a load case it is the mean over the repeats; above, load cases are independent of each other.
        """
        if self.by_repeat or self.kind == "channel":
            return mean_estimate(list(self.by_repeat.values()))
        return weighted_sum((part.weight, part.estimate) for part in self.parts if part.weight)

    @property
    def grade(self) -> Grade | None:
        """Word for the number; None when there is no number, or when it is of a measure without words."""
        return grade_of(self.overall) if self.overall is not None and self.measure == RATING else None

    @property
    def completeness(self) -> str:
        """How much of it could be rated, in words such as ``9 of 10 channels``."""
        return f"{self.rated} of {self.expected} channel{'' if self.expected == 1 else 's'}"

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row a number of the tree, from the top down.

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        return frame(self.rows())

    def rows(self, above: tuple[str, ...] = ()) -> Iterator[dict[str, object]]:
        """Yield the cells of this number and of all under it."""
        place = (*above, self.name)
        yield {"place": " / ".join(place), **row(self), "grade": self.grade}
        for part in self.parts:
            yield from part.rows(place)


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseScore:
    """The ratings of one release.

    Attributes
    ----------
    release
        Its name.
    training
        Over the load cases that tuning may use.
    held_out
        Over the others; None when there are none.
    regions
        Per body region over the load cases of ``training``.
    """

    release: str
    training: Score
    held_out: Score | None
    regions: tuple[Score, ...]

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row a number: training, held-out load cases, regions.

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        trees = [(self.training, False), *([] if self.held_out is None else [(self.held_out, True)])]
        rows = [{"held_out": held, **cells} for score, held in trees for cells in score.rows()]
        rows += [{"held_out": False, **next(region.rows())} for region in self.regions]
        return frame(rows)


def aggregate(
    campaign: Campaign,
    records: Iterable[Rated],
    release: str,
    *,
    places: Collection[tuple[str, str]] | None = None,
) -> ReleaseScore:
    """Combine the ratings of one release.

    Parameters
    ----------
    campaign
        Weights, sensors, regions, and what a missing channel counts as.
    records
        Of this release, or of several; others are passed over.
    release
        Release name.
    places
        Load case and channel of all that is combined, for callers that need the numbers of channels alone:
        every number above them is then one of these channels. All when left out.

    Returns
    -------
    ReleaseScore

    Notes
    -----
    Axes of one sensor are weighted by the share of each axis's peak in the reference, as published
    virtual-testing protocols do (from memory); everything else by the weights of the file.
    """
    of_channel: dict[tuple[str, str], list[Rated]] = {}
    for record in records:
        if record.release == release:
            of_channel.setdefault((record.load_case, record.channel), []).append(record)
    zero = campaign.scoring.missing == "zero"
    planned = campaign.load_cases if places is None else _with_channels(campaign.load_cases, places)
    cases = [(case, _load_case(campaign, case, of_channel, zero=zero)) for case in planned]
    training = [(score, case.weight) for case, score in cases if not case.held_out]
    held_out = [(score, case.weight) for case, score in cases if case.held_out]
    return ReleaseScore(
        release=release,
        training=combine("release", release, release, training, zero=zero),
        held_out=combine("release", release, release, held_out, zero=zero) if held_out else None,
        regions=_regions(training, zero=zero),
    )


def _with_channels(load_cases: Iterable[LoadCase], places: Collection[tuple[str, str]]) -> Iterator[LoadCase]:
    """Yield the load cases in which there is a place, with the channels of the places alone."""
    names: dict[str, set[str]] = {}
    for load_case, channel in places:
        names.setdefault(load_case, set()).add(channel)
    for case in load_cases:
        if wanted := names.get(case.name):
            channels = [plan for plan in case.channel if plan.name in wanted]
            resultants = [plan for plan in case.resultant if plan.name in wanted]
            yield case.model_copy(update={"channel": channels, "resultant": resultants})


def combine(
    kind: Kind, name: str, words: str, parts: Sequence[tuple[Score, float]], *, zero: bool = False
) -> Score:
    """Average parts by weight.

    Examples
    --------
    >>> good = Score(kind="channel", name="a", words="a", overall=0.9, rated=1, expected=1)
    >>> gone = Score(kind="channel", name="b", words="b", overall=None, rated=0, expected=1)
    >>> combined = combine("region", "head", "head", [(good, 1.0), (gone, 1.0)])
    >>> combined.overall, combined.completeness
    (0.9, '1 of 2 channels')
    >>> combine("region", "head", "head", [(good, 1.0), (gone, 1.0)], zero=True).overall
    0.45
    """
    counting = [weight if zero or score.overall is not None else 0.0 for score, weight in parts]
    total = sum(counting)
    shares = [weight / total if total else 0.0 for weight in counting]
    everything = sum(weight for _, weight in parts) or 1.0
    return Score(
        kind=kind,
        name=name,
        words=words,
        overall=_mean(
            [0.0 if zero and score.overall is None else score.overall for score, _ in parts], shares
        ),
        lowest=_mean([score.lowest for score, _ in parts], shares),
        highest=_mean([score.highest for score, _ in parts], shares),
        spread=_mean([score.spread for score, _ in parts], shares),
        by_repeat=_by_repeat([score for score, _ in parts], shares),
        worst=sum(weight * score.worst for score, weight in parts) / everything,
        best=sum(weight * score.best for score, weight in parts) / everything,
        rated=sum(score.rated for score, _ in parts),
        expected=sum(score.expected for score, _ in parts),
        measure=parts[0][0].measure if parts else RATING,
        parts=tuple(replace(score, weight=share) for (score, _), share in zip(parts, shares, strict=True)),
    )


def _mean(values: Sequence[float | None], shares: Sequence[float]) -> float | None:
    """Average the values there are; the shares of the others are spread over them."""
    there = [
        (value, share) for value, share in zip(values, shares, strict=True) if value is not None and share
    ]
    total = sum(share for _, share in there)
    return sum(share * value for value, share in there) / total if there else None


def _by_repeat(parts: Sequence[Score], shares: Sequence[float]) -> dict[str, float]:
    """Average each repeat that all parts have; a part that counts as 0 is 0 in every repeat."""
    if any(part.kind == "load case" for part in parts):
        return {}
    counting = [(part, share) for part, share in zip(parts, shares, strict=True) if share]
    rated = [(part.by_repeat, share) for part, share in counting if part.overall is not None]
    if not rated:
        return {}
    shared = [name for name in rated[0][0] if all(name in one for one, _ in rated)]
    return {name: sum(share * one[name] for one, share in rated) for name in shared}


def _load_case(
    campaign: Campaign, case: LoadCase, found: dict[tuple[str, str], list[Rated]], *, zero: bool
) -> Score:
    regions: dict[str, list[tuple[Score, float]]] = {}
    for sensor in dict.fromkeys(plan.sensor for plan in case.channel if plan.sensor):
        axes = [plan for plan in case.channel if plan.sensor == sensor]
        regions.setdefault(axes[0].region, []).append(
            (_sensor(sensor, axes, case, found, campaign), axes[0].weight)
        )
    alone: list[ChannelPlan | ResultantPlan] = [plan for plan in case.channel if not plan.sensor]
    for plan in [*alone, *case.resultant]:
        records = found.get((case.name, plan.name), [])
        score = _channel(plan.name, plan.words, records, campaign.scoring.main)
        regions.setdefault(plan.region, []).append((score, plan.weight))
    parts = [
        (combine("region", region, region, scores, zero=zero), campaign.region_weight(region))
        for region, scores in regions.items()
    ]
    return combine("load case", case.name, case.title or case.name, parts, zero=zero)


def _sensor(
    sensor: str,
    axes: Sequence[ChannelPlan],
    case: LoadCase,
    found: dict[tuple[str, str], list[Rated]],
    campaign: Campaign,
) -> Score:
    """Combine axes by the share of each axis's peak in the reference."""
    parts = []
    for plan in axes:
        records = found.get((case.name, plan.test), [])
        peaks = [record.ingredients["corridor"]["reference_peak"] for record in records]
        # A missing axis has no peak to weigh it by; it then weighs as much as the largest of the others.
        channel = _channel(plan.test, plan.words, records, campaign.scoring.main)
        parts.append((channel, float(np.mean(peaks)) if peaks else 0.0))
    largest = max(peak for _, peak in parts)
    weighted = [(score, peak if score.rated else (largest or 1.0)) for score, peak in parts]
    return combine("sensor", sensor, sensor, weighted, zero=campaign.scoring.missing == "zero")


def _channel(name: str, words: str, records: Sequence[Rated], main: str) -> Score:
    numbers = {record.repeat: _number(record, main) for record in records}
    by_repeat = {name: value for name, value in numbers.items() if value is not None}
    rated = list(by_repeat.values())
    overall = mean_of_repeats(rated) if rated else None
    return Score(
        kind="channel",
        name=name,
        words=words,
        overall=overall,
        lowest=min(rated, default=None),
        highest=max(rated, default=None),
        spread=mean_and_deviation(rated)[1] if len(rated) > 1 else None,
        rated=1 if rated else 0,
        expected=1,
        repeats=len(rated),
        by_repeat=by_repeat,
        worst=0.0 if overall is None else overall,
        best=1.0 if overall is None else overall,
        measure=main,
    )


def _number(record: Rated, main: str) -> float | None:
    """Return what the main measure says of a pair; None where it refuses."""
    if main == RATING:
        return record.overall
    value: float | None = record.ingredients["also"][main]["value"]
    return value


def _regions(cases: Sequence[tuple[Score, float]], *, zero: bool) -> tuple[Score, ...]:
    """Combine each body region over the load cases, weighted as the load cases are."""
    gathered: dict[str, list[tuple[Score, float]]] = {}
    for case, weight in cases:
        for region in case.parts:
            named = replace(region, kind="load case", name=case.name, words=case.words)
            gathered.setdefault(region.name, []).append((named, weight))
    return tuple(combine("region", region, region, parts, zero=zero) for region, parts in gathered.items())
