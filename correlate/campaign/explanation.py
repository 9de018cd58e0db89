"""Where a release loses its rating: costs, hardware scatter, common causes, suspects and hints."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.campaign.aggregation import aggregate
from correlate.campaign.costs import ChannelCost, channel_costs
from correlate.campaign.explained_case import CaseExaminer, ChannelExplanation, LoadCaseExplanation
from correlate.display import short_repr
from correlate.errors import SettingsError, SignalError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from correlate.campaign.block import Unrated
    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.record import PairRecord

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
    return examined
