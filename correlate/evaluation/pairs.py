"""One pair on its way: two signals in, conditioned, aligned and rated; and the pairs of a campaign."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from correlate.conditioning import Recipe, condition, pair_conditioned
from correlate.conditioning.offset import offset_flags
from correlate.display import brief, frame, row, short_repr
from correlate.evaluation.tables import ChannelPlan
from correlate.lazy import by_upper_layer
from correlate.metrics import evaluate_measures
from correlate.metrics.iso18571 import Rating, RatingSettings, rate
from correlate.metrics.repeats import align_repeats

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from pandas import DataFrame

    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.tables import LoadCase, Release, ResultantPlan
    from correlate.flag import Flag
    from correlate.metrics import Evaluation
    from correlate.signal import Signal


@dataclass(frozen=True, slots=True, kw_only=True)
class PairScore:
    """The rating of a pair with all that made it.

    Attributes
    ----------
    rating
        Scores, settings, raw ingredients and the aligned pair.
    recipe
        How both signals were conditioned.
    reference, candidate
        The conditioned signals: unit, source, every step.
    """

    rating: Rating
    recipe: Recipe
    reference: Signal
    candidate: Signal

    def __repr__(self) -> str:
        """Say what was compared, and how well it agrees."""
        names = f"reference={brief(self.reference.channel)}, candidate={brief(self.candidate.channel)}"
        rated = f"overall={brief(self.rating.overall)}, grade={brief(self.rating.grade)}"
        return f"PairScore({names}, {rated})"

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Warnings of the rating and of how both curves were conditioned."""
        return (*self.rating.flags, *offset_flags(self.reference), *offset_flags(self.candidate))

    def measures(
        self, names: Sequence[str], *, tests: Sequence[Signal], model: Signal
    ) -> tuple[Evaluation, ...]:
        """Evaluate further measures of the pair.

        Parameters
        ----------
        names
            Of the measures.
        tests
            The test as read, and the other repeats.
        model
            The model as read.

        Returns
        -------
        tuple of Evaluation

        Raises
        ------
        CorrelateError
            There is no measure of a name, or a repeat cannot be brought onto the grid of the pair.
        """
        pair = self.rating.pair
        if len(tests) == 1:
            return evaluate_measures(names, pair)
        interval = replace(self.recipe, start_s=float(pair.time[0]), end_s=float(pair.time[-1]))
        return evaluate_measures(names, pair, repeats=align_repeats(tests, [model], interval))

    def plot(self) -> Any:
        """Draw the pair: both curves in their corridors, and the corridor score of every sample.

        Returns
        -------
        plotly.graph_objects.Figure

        Raises
        ------
        MissingExtraError
            The extra 'report' is not installed.
        """
        return by_upper_layer("pair_figure")(self)

    def to_frame(self) -> DataFrame:
        """Return a data frame with one row: the channels, and the rating as `Rating.to_frame` gives it.

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        names = {"reference": self.reference.channel, "candidate": self.candidate.channel}
        return frame([{**names, **row(self.rating)}])


def score_pair(
    reference: Signal,
    candidate: Signal,
    *,
    recipe: Recipe | None = None,
    settings: RatingSettings | None = None,
) -> PairScore:
    """Condition, align and rate two signals as they were read.

    Parameters
    ----------
    reference
        The test.
    candidate
        The model, or another repeat.
    recipe
        Filter, interval, grid, signs; the whole overlap without a filter when left out.
    settings
        Of the rating; the published ones when left out.

    Returns
    -------
    PairScore

    Raises
    ------
    CorrelateError
        Whatever alignment or rating refuses, with both places named.
    """
    chosen = recipe or Recipe()
    unit = chosen.unit or reference.unit
    return score_conditioned(
        condition(reference, chosen.for_reference(unit)),
        condition(candidate, chosen.for_candidate(unit)),
        recipe=chosen,
        settings=settings,
    )


def score_conditioned(
    reference: Signal, candidate: Signal, *, recipe: Recipe, settings: RatingSettings | None = None
) -> PairScore:
    """Align and rate two signals that are conditioned already."""
    aligned = pair_conditioned(reference, candidate, recipe)
    return PairScore(
        rating=rate(aligned.pair, settings),
        recipe=recipe,
        reference=aligned.reference,
        candidate=aligned.candidate,
    )


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class CampaignPair:
    """One pair of a campaign.

    Attributes
    ----------
    load_case, release
        Entries of the campaign file.
    channel
        Channel or resultant of the load case.
    repeat
        Name of the test; empty for the mean of the repeats.
    test_paths
        Tests behind the reference: one, or all of a mean.
    model_path
        Where the model's output lies.
    """

    load_case: LoadCase
    channel: ChannelPlan | ResultantPlan
    release: Release
    repeat: str
    test_paths: tuple[Path, ...]
    model_path: Path

    @property
    def repeat_words(self) -> str:
        """The repeat in words."""
        return self.repeat or f"mean of {len(self.test_paths)} repeats"

    @property
    def recipe(self) -> Recipe:
        """How the pair is conditioned; of a resultant, how its first axis is."""
        plan = self.channel
        return self.load_case.recipe(
            plan if isinstance(plan, ChannelPlan) else self.load_case.plan(plan.axes[0])
        )


def campaign_pairs(campaign: Campaign) -> Iterator[CampaignPair]:
    """Name every pair: releases, then load cases, then channels and resultants, then repeats.

    Parameters
    ----------
    campaign
        The campaign.

    Yields
    ------
    CampaignPair
        In the order of the file. Where the campaign compares with the mean curve, one per channel.

    Raises
    ------
    FormatError
        A load case names tests that are not there.
    """
    for release in campaign.releases:
        for load_case in campaign.load_cases:
            yield from case_pairs(campaign, release, load_case)


def case_pairs(campaign: Campaign, release: Release, load_case: LoadCase) -> Iterator[CampaignPair]:
    """Name the pairs of one load case of one release, as :func:`campaign_pairs` does.

    Parameters
    ----------
    campaign, release, load_case
        Whose.

    Yields
    ------
    CampaignPair

    Raises
    ------
    FormatError
        The load case names tests that are not there.
    """
    tests = campaign.tests(load_case)
    each = {name: (path,) for name, path in tests.items()}
    references = each if campaign.scoring.repeats == "each" else {"": tuple(tests.values())}
    for channel in load_case.plans:
        for repeat, paths in references.items():
            yield CampaignPair(
                load_case=load_case,
                channel=channel,
                release=release,
                repeat=repeat,
                test_paths=paths,
                model_path=campaign.model_path(release, load_case),
            )
