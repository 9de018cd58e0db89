"""Repeatability of the tests of a campaign, channel by channel."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.campaign.aggregation import ReleaseScore, aggregate
from correlate.conditioning import Recipe
from correlate.display import short_repr
from correlate.evaluation.case import CaseEvaluation
from correlate.evaluation.curves import Curve, curve_of
from correlate.evaluation.record import hash_of_settings, rating_key, settings_words
from correlate.evaluation.tables import RATING
from correlate.reference.channel_repeats import ChannelRepeats, channel_repeats
from correlate.reference.repeatability import LEAST_REPEATS, rated_against_the_others

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.tables import LoadCase, Release

HARDWARE: Final = "the tests against each other"
"""What stands in the place of a release where the hardware is rated."""
METHOD: Final = "each repeat against the mean of the others"
"""Part of the key, so that ceilings of another meaning are not taken for these."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelCeiling:
    """How well the repeats of one channel agree: each against the mean of the others.

    Attributes
    ----------
    key
        Hash of everything it depends on; equal keys mean equal ceilings.
    campaign, load_case, channel
        Names.
    median, lowest, highest
        Of the overall rating of each repeat against the mean of the others.
    reference_peak
        Largest absolute value in the interval of the mean of the other repeats, averaged over the repeats;
        axes are weighed by it.
    repeats
        Number of repeats.
    """

    key: str
    campaign: str
    load_case: str
    channel: str
    median: float
    lowest: float
    highest: float
    reference_peak: float
    repeats: int

    @property
    def release(self) -> str:
        """Name that stands for the hardware."""
        return HARDWARE

    @property
    def repeat(self) -> str:
        """Name that stands for all of them."""
        return f"all {self.repeats}"

    @property
    def overall(self) -> float:
        """The median, which is what a model as good as the hardware may expect."""
        return self.median

    @property
    def ingredients(self) -> dict[str, Any]:
        """What weighs the axes of a sensor."""
        return {"corridor": {"reference_peak": self.reference_peak}}


def campaign_ceilings(
    campaign: Campaign,
    *,
    load_cases: Sequence[str] = (),
    known: Mapping[str, ChannelCeiling] | None = None,
) -> Iterator[ChannelCeiling]:
    """Rate the repeats of every channel and resultant against each other.

    Parameters
    ----------
    campaign
        The campaign; its conditioning and its settings of the rating are used.
    load_cases
        Names; all when empty.
    known
        By key; what is there is not rated again.

    Yields
    ------
    ChannelCeiling
        Of every channel with three repeats or more that can be read.

    Raises
    ------
    SettingsError
        A load case is unknown.
    FormatError
        A load case names tests that are not there.
    SignalError
        Two repeats cannot be compared.

    Notes
    -----
    Repeats are not moved in time first, because the model is not either.

    References
    ----------
    .. [1] Rating: ISO/TS 18571:2014, from memory. Median over repeats: chosen here.
    """
    held = known or {}
    names = load_cases or [case.name for case in campaign.load_cases]
    for load_case in [campaign.load_case(name) for name in names]:
        for repeats in _repeats(campaign, load_case):
            key = repeats.key(campaign)
            if len(repeats.curves) < LEAST_REPEATS:
                continue
            if key in held:
                yield replace(held[key], load_case=load_case.name, channel=repeats.channel)
            else:
                yield _ceiling(campaign, load_case.name, repeats)


def ceiling_scores(campaign: Campaign, ceilings: Iterable[ChannelCeiling]) -> ReleaseScore | None:
    """Combine the ceilings of channels as the ratings of a release are combined.

    Parameters
    ----------
    campaign
        Its weights.
    ceilings
        Of its channels.

    Returns
    -------
    ReleaseScore or None
        None where none is known, or where another measure than the rating is combined.
    """
    listed = list(ceilings)
    if not listed or campaign.scoring.main != RATING:
        return None
    return aggregate(campaign, listed, HARDWARE)


@dataclass(frozen=True, slots=True)
class _Repeats:
    """The conditioned repeats of one channel or resultant."""

    channel: str
    recipe: Recipe
    curves: Sequence[Curve]

    def key(self, campaign: Campaign) -> str:
        """Return the hash of everything the ceiling depends on."""
        origins = [origin for curve in self.curves for origin in curve.origins]
        how = hash_of_settings({"ceiling": METHOD, **settings_words(self.recipe, campaign.settings)})
        return rating_key(reference=origins, candidate=(), how=how)


def _repeats(campaign: Campaign, load_case: LoadCase) -> Iterator[_Repeats]:
    case = CaseEvaluation(campaign, load_case)
    for name in case.channels:
        curves = [one for one in case.repeats(name).values() if isinstance(one, Curve)]
        yield _Repeats(name, case.recipe(name), curves)


def _ceiling(campaign: Campaign, load_case: str, repeats: _Repeats) -> ChannelCeiling:
    signals = [curve.signal for curve in repeats.curves]
    ratings = rated_against_the_others(signals, repeats.recipe, campaign.settings)
    overall = [rating.overall for rating in ratings]
    return ChannelCeiling(
        key=repeats.key(campaign),
        campaign=campaign.title,
        load_case=load_case,
        channel=repeats.channel,
        median=float(np.median(overall)),
        lowest=min(overall),
        highest=max(overall),
        reference_peak=float(np.mean([one.ingredients.corridor.reference_peak for one in ratings])),
        repeats=len(repeats.curves),
    )


def repeats_of(campaign: Campaign, load_case: str, releases: Sequence[str] = ()) -> list[ChannelRepeats]:
    """Compare the repeats of every channel and resultant of a load case, once for each release."""
    case = CaseEvaluation(campaign, campaign.load_case(load_case))
    wanted: list[Release | None] = [campaign.release(release) for release in releases]
    nobody: list[Release | None] = [None]
    return [_compared(case, channel, release) for channel in case.channels for release in wanted or nobody]


def _compared(case: CaseEvaluation, channel: str, release: Release | None) -> ChannelRepeats:
    """Compare the conditioned repeats of a channel with each other and with a release."""
    repeats = [curve_of(one) for one in case.repeats(channel).values()]
    model = None if release is None else curve_of(case.candidate(channel, release, repeats[0]))
    recipe = case.recipe(channel)
    return channel_repeats(
        [one.signal for one in repeats],
        None if model is None else model.signal,
        # The curves are conditioned already: only the interval is still to be cut.
        recipe=Recipe(start_s=recipe.start_s, end_s=recipe.end_s, step_s=recipe.step_s),
        settings=case.campaign.settings,
        load_case=case.load_case.name,
        release="" if release is None else release.name,
    )
