"""The pairs of a campaign, named but not yet read: every repeat of every channel against every release."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.display import short_repr
from correlate.evaluation.tables import ChannelPlan

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from correlate.conditioning import Recipe
    from correlate.evaluation.definition import Campaign
    from correlate.evaluation.tables import LoadCase, Release, ResultantPlan


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
        In the order of the file. Where the campaign compares with the mean curve, one a channel.

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
