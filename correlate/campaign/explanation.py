"""Why a release loses rating: costs of channels, shared causes and hints, load case by load case."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.campaign.aggregation import aggregate
from correlate.campaign.hint_channels import HintChannels, minor_axes, sort_channels
from correlate.campaign.pair_explanation import TIME_ZERO_FIRST, SuspectSearch, feigns_material
from correlate.campaign.scatter import case_scatter, within_scatter
from correlate.campaign.time_zero import CaseTiming
from correlate.diagnosis.accounting import LossAccount, account_for_loss
from correlate.diagnosis.clusters import Cluster, cluster_residuals
from correlate.diagnosis.features.pulse import pulse_of
from correlate.diagnosis.hints import EvidenceChannel, Hint, hints
from correlate.display import frame, row, short_repr
from correlate.errors import CorrelateError, SettingsError, SignalError
from correlate.evaluation.case import CaseEvaluation, typical_repeat
from correlate.evaluation.curves import role_of
from correlate.metrics.iso18571 import rate
from correlate.pair import AlignedPair

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from numpy.typing import NDArray
    from pandas import DataFrame

    from correlate.campaign.aggregation import Score
    from correlate.diagnosis.suspects import Suspect
    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.evidence import Unrated
    from correlate.evaluation.record import PairRecord
    from correlate.evaluation.tables import LoadCase, Release
    from correlate.metrics.iso18571 import Weights
    from correlate.reference.scatter import HardwareScatter


COMPONENTS: Final = ("corridor", "phase", "magnitude", "slope")
"""The four parts of the rating."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelCost:
    """What one channel costs the release.

    Attributes
    ----------
    load_case, channel
        Names, as in the campaign file.
    words
        The channel for people.
    region
        Body region it counts for.
    weight
        Its share in the rating of the release: the product of the shares from the channel up.
    rating
        Mean over the repeats; None when it is not rated.
    cost
        ``weight · (1 - rating)``, in rating points of the release. The costs of all channels add up to
        1 minus the rating of the release.
    by_component
        The cost split over corridor, phase, magnitude and slope; it adds up to `cost`. Empty when nothing
        is rated or nothing is lost.
    errors
        Mean over the repeats of what each component calls its error: the lost corridor score, the shift in s
        (positive when the model is late), the relative difference of sizes along the warping path and of
        slopes. A component whose error no repeat could tell is left out.
    repeats
        Rated repeats.
    """

    load_case: str
    channel: str
    words: str
    region: str
    weight: float
    rating: float | None
    cost: float
    by_component: Mapping[str, float]
    errors: Mapping[str, float]
    repeats: int

    @property
    def mostly(self) -> str | None:
        """The component that costs most; None when none is known."""
        return max(self.by_component, key=self.by_component.__getitem__) if self.by_component else None


def channel_costs(
    score: Score, records: Iterable[PairRecord], *, release: str, weights: Weights
) -> tuple[ChannelCost, ...]:
    r"""Share what is missing to 1 among the channels, the most expensive first.

    .. math:: 1 - R = \sum_c W_c (1 - R_c), \qquad \sum_c W_c = 1

    where :math:`W_c` is the product of the shares on the way from channel :math:`c` up to the release.

    Parameters
    ----------
    score
        The tree of a release, training or held out.
    records
        The rated pairs; those of other releases are passed over.
    release
        Its name.
    weights
        Of the components in the rating of a pair.

    Returns
    -------
    tuple of ChannelCost
        Every channel of the tree. A channel that is not rated costs nothing where the campaign leaves it
        out, and its whole weight where the campaign counts it as 0.

    Notes
    -----
    Derived here. Where the campaign combines another measure than the rating, the cost is that of the
    measure, and the components share it as they share the loss of the rating.
    """
    found: dict[tuple[str, str], list[PairRecord]] = {}
    for record in records:
        if record.release == release:
            found.setdefault((record.load_case, record.channel), []).append(record)
    costs = [
        _cost(leaf, place, weight, found.get((place[0], leaf.name), []), weights)
        for place, weight, leaf in _leaves(score, (), 1.0)
    ]
    return tuple(sorted(costs, key=lambda one: -one.cost))


def by_load_case(costs: Sequence[ChannelCost]) -> dict[str, float]:
    """Add up the costs of each load case, the most expensive first."""
    sums: dict[str, float] = {}
    for one in costs:
        sums[one.load_case] = sums.get(one.load_case, 0.0) + one.cost
    return dict(sorted(sums.items(), key=lambda item: -item[1]))


def by_component(costs: Sequence[ChannelCost]) -> dict[str, float]:
    """Add up the costs of each component, the most expensive first."""
    sums = {name: sum(one.by_component.get(name, 0.0) for one in costs) for name in COMPONENTS}
    missing = sum(one.cost for one in costs if not one.by_component)
    if missing:
        sums["not rated"] = missing
    return dict(sorted(sums.items(), key=lambda item: -item[1]))


def _leaves(
    score: Score, place: tuple[str, ...], weight: float
) -> Iterator[tuple[tuple[str, ...], float, Score]]:
    """Yield the names above each channel below the release, its share in the release, and the channel."""
    for part in score.parts:
        share = weight * part.weight
        if part.kind == "channel":
            yield place, share, part
        else:
            yield from _leaves(part, (*place, part.name), share)


def _cost(
    leaf: Score, place: tuple[str, ...], weight: float, records: Sequence[PairRecord], weights: Weights
) -> ChannelCost:
    cost = weight * (1.0 - (leaf.overall or 0.0))
    lost = {name: getattr(weights, name) * _mean_loss(records, name) for name in COMPONENTS}
    total = sum(lost.values())
    return ChannelCost(
        load_case=place[0],
        channel=leaf.name,
        words=leaf.words,
        region=place[1],
        weight=weight,
        rating=leaf.overall,
        cost=cost,
        by_component={name: cost * value / total for name, value in lost.items()} if total > 0 else {},
        errors=_mean_errors(records),
        repeats=leaf.repeats,
    )


def _mean_loss(records: Sequence[PairRecord], component: str) -> float:
    values: list[float] = [1.0 - getattr(record, component) for record in records]
    return sum(values) / len(values) if values else 0.0


def _mean_errors(records: Sequence[PairRecord]) -> dict[str, float]:
    columns: dict[str, list[float]] = {name: [] for name in COMPONENTS}
    for record in records:
        columns["corridor"].append(1.0 - record.corridor)
        columns["phase"].append(record.shift_s)
        for name in ("magnitude", "slope"):
            error = record.ingredients.get(name, {}).get("error")
            if error is not None:
                columns[name].append(error)
    return {name: sum(values) / len(values) for name, values in columns.items() if values}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChannelExplanation:
    """One channel of a release, examined.

    Attributes
    ----------
    cost
        What it costs the release.
    repeat
        The repeat whose rating is nearest to the mean; account and suspects are of the model against it.
        Empty when nothing is rated.
    account
        The loss of that pair over time; None when nothing is rated.
    hardware
        Scatter of the repeats; None with fewer than three.
    suspects
        Data-handling errors that the pair looks like, best first. None are sought for a resultant; its axes
        are examined.
    model_is_zero
        Whether the model is zero throughout: not connected, or the wrong column.
    """

    cost: ChannelCost
    repeat: str
    account: LossAccount | None
    hardware: HardwareScatter | None
    suspects: tuple[Suspect, ...]
    model_is_zero: bool = False

    @property
    def hardware_cost(self) -> float | None:
        """What the channel would cost if the model were as good as the hardware; None when unknown."""
        return None if self.hardware is None else self.cost.weight * (1.0 - self.hardware.rating)


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadCaseExplanation:
    """What the channels of one load case share.

    Attributes
    ----------
    load_case
        Its name.
    cost
        Of its channels together, in rating points of the release.
    step_s
        Time step of the comparison, s.
    clusters
        Channels whose residuals move together, by their names in the campaign file.
    region
        Body region that costs most in it, the rig left out.
    hints
        To the behaviour of the model, the most probable first; the same for all load cases that have to be
        explained together.
    together
        The other load cases of the region that these hints have to explain too.
    time_zero
        The shift in time that all channels have in common, where one is suspected; its ratings are means over
        the channels.
    silence
        Why there are no hints, in words; empty where the curves were asked for some.
    waiting
        Channels that give no hints, because an error is suspected first that feigns a material, or the model
        is zero throughout.
    within_scatter
        Channels in which the model is within the scatter of the hardware; they are evidence beside others,
        and give no hints alone.
    shifted
        Channels that give no hints, because a shift in time alone restores most of their lost rating.
    minor
        Channels that give no hints, because their peak is below a tenth of the resultant of their sensor.
    rated
        Whether anything is rated.
    """

    load_case: str
    cost: float
    step_s: float
    clusters: tuple[Cluster, ...]
    region: str = ""
    hints: tuple[Hint, ...] = ()
    together: tuple[str, ...] = ()
    time_zero: Suspect | None = None
    silence: str = ""
    waiting: tuple[str, ...] = ()
    within_scatter: tuple[str, ...] = ()
    shifted: tuple[str, ...] = ()
    minor: tuple[str, ...] = ()
    rated: bool = True
    evidence: tuple[EvidenceChannel, ...] = field(default=(), repr=False, compare=False)
    """The curves that the hints are made from."""


class CaseExaminer:
    """Examines one load case of one release; its curves are read and conditioned once."""

    def __init__(
        self, campaign: Campaign, load_case: LoadCase, release: Release, records: Sequence[PairRecord]
    ) -> None:
        self._campaign = campaign
        self._release = release
        self._case = CaseEvaluation(campaign, load_case)
        self._timing = CaseTiming(self._case, release)
        self._searches: dict[str, SuspectSearch] = {}
        self._scatter: dict[str, HardwareScatter | None] = {}
        self._records: dict[str, list[PairRecord]] = {}
        for record in records:
            self._records.setdefault(record.channel, []).append(record)

    def channel(self, cost: ChannelCost) -> ChannelExplanation:
        """Examine one channel."""
        pairs = self.pairs.get(cost.channel, {})
        repeat = self._typical(cost.channel)
        rated = repeat in pairs
        return ChannelExplanation(
            cost=cost,
            repeat=repeat if rated else "",
            account=account_for_loss(rate(pairs[repeat], self._campaign.settings)) if rated else None,
            hardware=self._hardware(cost.channel),
            suspects=self._suspects(cost.channel, repeat),
            model_is_zero=rated and not np.any(pairs[repeat].candidate),
        )

    def load_case(
        self, costs: Sequence[ChannelCost], examined: Sequence[ChannelExplanation] = ()
    ) -> LoadCaseExplanation:
        """Say what the channels share."""
        listed = [one.channel for one in costs if one.channel in self.pairs]
        residuals = {name: _mean_residual(list(self.pairs[name].values())) for name in listed}
        sorted_out = self._sorted(listed, examined)
        silence = self._silence(sorted_out)
        regions = {one.channel: one.region for one in costs}
        return LoadCaseExplanation(
            load_case=self._case.load_case.name,
            cost=sum(one.cost for one in costs),
            step_s=self._case.load_case.step_ms / 1e3,
            clusters=cluster_residuals(residuals),
            evidence=() if silence else tuple(self._evidence(sorted_out.evidence, regions)),
            region=_main_region(costs),
            time_zero=self._timing.suspect,
            silence=silence,
            waiting=sorted_out.waiting,
            within_scatter=sorted_out.within_scatter,
            shifted=sorted_out.shifted,
            minor=sorted_out.minor,
            rated=any(one.rating is not None for one in costs),
        )

    def _evidence(self, channels: Iterable[str], regions: Mapping[str, str]) -> Iterator[EvidenceChannel]:
        """Yield channels as the hints read them: the mean of the repeats, which scatters least."""
        for name in channels:
            pairs = list(self.pairs[name].values())
            mean = AlignedPair(
                time=pairs[0].time,
                reference=np.mean([pair.reference for pair in pairs], axis=0),
                candidate=np.mean([pair.candidate for pair in pairs], axis=0),
            )
            role = role_of(name, regions[name], self._unit(name))
            yield EvidenceChannel(name=name, load_case=self._case.load_case.name, role=role, pair=mean)

    def _sorted(self, listed: Sequence[str], examined: Sequence[ChannelExplanation]) -> HintChannels:
        """Say which of the channels may give hints."""
        typical = {
            name: self.pairs[name][self._typical(name)]
            for name in listed
            if self._typical(name) in self.pairs[name]
        }
        plans = self._case.load_case.channel
        tests = {plan.test: typical[plan.test].reference for plan in plans if plan.test in typical}
        return sort_channels(
            typical,
            waiting=[
                one.cost.channel for one in examined if one.model_is_zero or feigns_material(one.suspects)
            ],
            minor=minor_axes(plans, tests, {name: self._unit(name) for name in tests}),
            within_scatter=lambda name: within_scatter(self._hardware(name)),
            shifted=lambda name: self._timing.shift_alone(name, self._typical(name)) is not None,
        )

    def _silence(self, channels: HintChannels) -> str:
        """Say why the load case gives no hints; empty where it may."""
        return channels.silence if self._timing.suspect is None else TIME_ZERO_FIRST

    def _unit(self, channel: str) -> str:
        return next(iter(self._case.tests(channel).values())).unit

    @cached_property
    def pairs(self) -> dict[str, dict[str, AlignedPair]]:
        """Every pair that can be made, by channel and repeat, as it is rated."""
        found: dict[str, dict[str, AlignedPair]] = {}
        # Keeps the curves of tests for which scoring has not done so.
        self._case.condition_tests()
        for pair in self._case.pairs(self._release):
            # The score lists what is not rated, with the reason.
            with suppress(CorrelateError):
                found.setdefault(pair.names.channel, {})[pair.names.repeat] = pair.aligned()
        return found

    def _typical(self, channel: str) -> str:
        """Return the repeat whose rating is nearest to the mean of all; empty when none is rated."""
        return typical_repeat({one.repeat: one.overall for one in self._records.get(channel, [])})

    def _hardware(self, channel: str) -> HardwareScatter | None:
        if channel not in self._scatter:
            self._scatter[channel] = case_scatter(self._case, self._release, channel)
        return self._scatter[channel]

    def _suspects(self, channel: str, repeat: str) -> tuple[Suspect, ...]:
        """Seek suspects in the typical repeat; a mean curve, and what is not rated, in the first there is."""
        tests = self._case.tests(channel)
        if not tests:
            return ()
        named = repeat if repeat in self._case.paths else next(iter(tests))
        try:
            if named not in self._searches:
                self._searches[named] = SuspectSearch.in_case(self._case, self._release, named)
        except CorrelateError:
            return ()  # a file that cannot be read: the score says why
        return self._timing.told_apart(channel, self._searches[named].of(channel))


def _mean_residual(pairs: Sequence[AlignedPair]) -> NDArray[np.float64]:
    """Return model minus test, averaged over the repeats; they share the grid of the load case."""
    return np.asarray(np.mean([pair.candidate - pair.reference for pair in pairs], axis=0))


MOST_CHANNELS = 10
"""Channels that are examined, when the caller does not say."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """Where a release loses its rating.

    Attributes
    ----------
    release
        Its name.
    measure
        The measure that the campaign combines; the costs are in its points.
    overall
        Over the load cases that tuning may use.
    costs
        Every channel of them, the most expensive first; they add up to ``1 - overall``.
    held_out
        Over the others; None when there are none.
    held_out_costs
        Their channels: costs alone, because whoever looks for causes there tunes on them.
    channels
        The most expensive of `costs`, examined.
    unrated
        Channels without a rating that are not among them, examined for suspects.
    load_cases
        What channels of one load case share, the most expensive load case first.
    gaps
        Pairs of the release that could not be rated, with the reason; held-out ones are among them.
    missing_counts_zero
        Whether what is not rated counts as 0; else the weights of the rest grow.
    """

    release: str
    measure: str
    overall: float
    costs: tuple[ChannelCost, ...]
    held_out: float | None
    held_out_costs: tuple[ChannelCost, ...]
    channels: tuple[ChannelExplanation, ...]
    unrated: tuple[ChannelExplanation, ...]
    load_cases: tuple[LoadCaseExplanation, ...]
    gaps: tuple[Unrated, ...] = ()
    missing_counts_zero: bool = False

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row per channel with its cost, held-out ones last.

        Returns
        -------
        pandas.DataFrame
            The cost of each component stands under ``cost_corridor`` and so on.

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        costs = [*((one, False) for one in self.costs), *((one, True) for one in self.held_out_costs)]
        return frame(
            {
                "held_out": held_out,
                **row(one),
                **{f"cost_{name}": cost for name, cost in one.by_component.items()},
            }
            for one, held_out in costs
        )

    @property
    def unrated_load_cases(self) -> tuple[str, ...]:
        """Load cases that tuning may use and of which nothing is rated."""
        return tuple(case.load_case for case in self.load_cases if not case.rated)


def explain(
    campaign: Campaign,
    records: Iterable[PairRecord],
    release: str,
    *,
    top: int = MOST_CHANNELS,
    unrated: Iterable[Unrated] = (),
) -> Explanation:
    """Say which channels cost a release most, and what may lie behind it.

    Parameters
    ----------
    campaign
        The campaign.
    records
        Its rated pairs, from :func:`score_campaign`; those of other releases are passed over.
    release
        Release name.
    top
        How many channels to examine, 1 or more.
    unrated
        Pairs that could not be rated, from :func:`score_campaign`, to be told beside the costs; those of
        other releases are passed over.

    Returns
    -------
    Explanation

    Raises
    ------
    SettingsError
        The release is unknown, or `top` is below 1.
    SignalError
        Nothing of the release that tuning may use is rated.
    FormatError
        A load case names tests that are not there.
    """
    if top < 1:
        raise SettingsError(f"top is {top}", remedy="give 1 or more")
    campaign.release(release)
    kept = [record for record in records if record.release == release]
    score = aggregate(campaign, kept, release)
    if score.training.overall is None:
        raise SignalError(
            f"nothing of release '{release}' is rated in a load case that tuning may use",
            where=str(campaign.path),
            remedy="'correlate score' lists the reasons",
        )
    weights = campaign.settings.weights
    costs = channel_costs(score.training, kept, release=release, weights=weights)
    first = [one for one in costs[:top] if one.cost > 0]
    without = [one for one in costs if one.rating is None and one not in first]
    examined = _examine(campaign, release, costs, kept, wanted=[*first, *without])
    by_place = {(one.cost.load_case, one.cost.channel): one for _, channels in examined for one in channels}
    held_out = score.held_out
    return Explanation(
        release=release,
        measure=campaign.scoring.main,
        overall=score.training.overall,
        costs=costs,
        held_out=None if held_out is None else held_out.overall,
        held_out_costs=()
        if held_out is None
        else channel_costs(held_out, kept, release=release, weights=weights),
        channels=tuple(by_place[one.load_case, one.channel] for one in first),
        unrated=tuple(by_place[one.load_case, one.channel] for one in without),
        load_cases=tuple(case for case, _ in sorted(examined, key=lambda pair: -pair[0].cost)),
        gaps=tuple(one for one in unrated if one.release == release),
        missing_counts_zero=campaign.scoring.missing == "zero",
    )


def _examine(
    campaign: Campaign,
    release: str,
    costs: Sequence[ChannelCost],
    records: Sequence[PairRecord],
    *,
    wanted: Sequence[ChannelCost],
) -> list[tuple[LoadCaseExplanation, list[ChannelExplanation]]]:
    """Go through the load cases one by one, so that the curves of one are held at a time."""
    examined = []
    for case in campaign.load_cases:
        if case.held_out:
            continue
        own = [record for record in records if record.load_case == case.name]
        examiner = CaseExaminer(campaign, case, campaign.release(release), own)
        channels = [examiner.channel(one) for one in wanted if one.load_case == case.name]
        shared = examiner.load_case([one for one in costs if one.load_case == case.name], channels)
        examined.append((shared, channels))
    explained = _with_hints([shared for shared, _ in examined])
    return [(shared, channels) for shared, (_, channels) in zip(explained, examined, strict=True)]


def _with_hints(cases: Sequence[LoadCaseExplanation]) -> list[LoadCaseExplanation]:
    """Give all load cases that one cause has to explain the same hints."""
    groups: list[list[LoadCaseExplanation]] = []
    for case in cases:
        group = next((one for one in groups if _belong_together(one[0], case)), None)
        if group is None:
            groups.append([case])
        else:
            group.append(case)
    found = {}
    for group in groups:
        said = hints(channel for case in group for channel in case.evidence) if group[0].evidence else ()
        names = [case.load_case for case in group]
        for case in group:
            others = tuple(name for name in names if name != case.load_case)
            found[case.load_case] = replace(case, hints=said, together=others)
    return [found[case.load_case] for case in cases]


def _belong_together(one: LoadCaseExplanation, other: LoadCaseExplanation) -> bool:
    """Say whether load cases load the same region with the same sensors in the same direction."""
    signs, others = (
        {channel.name: pulse_of(channel.pair.time, channel.pair.reference).sign for channel in case.evidence}
        for case in (one, other)
    )
    shared = signs.keys() & others.keys()
    return one.region == other.region and bool(shared) and all(signs[name] == others[name] for name in shared)


def _main_region(costs: Sequence[ChannelCost]) -> str:
    """Return the region whose channels cost most together, the rig left out where there is another."""
    by_region: dict[str, float] = {}
    for one in costs:
        by_region[one.region] = by_region.get(one.region, 0.0) + one.cost
    named = {name: cost for name, cost in by_region.items() if name != "rig"} or by_region
    return max(named, key=lambda name: named[name], default="")
