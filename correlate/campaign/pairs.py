"""The pairs of a campaign: every repeat of every channel against every release."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from correlate.campaign.definition import read_file
from correlate.campaign.matching import model_channel
from correlate.campaign.pair_score import PairScore, score_pair

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from correlate.campaign.definition import Campaign
    from correlate.campaign.tables import ChannelPlan, LoadCase, Release
    from correlate.conditioning import Recipe
    from correlate.formats import Recording
    from correlate.formats.columns import ColumnLayout
    from correlate.signal import Signal


@dataclass(frozen=True, slots=True, kw_only=True)
class CampaignPair:
    """One pair of a campaign, named but not yet read.

    Attributes
    ----------
    load_case, channel, release
        Entries of the campaign file.
    test_path, model_path
        Where the two recordings lie.
    layout
        Of the model's file; None where it says by itself what it is.
    """

    load_case: LoadCase
    channel: ChannelPlan
    release: Release
    test_path: Path
    model_path: Path
    layout: ColumnLayout | None = None

    @property
    def repeat(self) -> str:
        """Name of the test: that of its folder or file."""
        return self.test_path.stem

    @property
    def recipe(self) -> Recipe:
        """How the pair is conditioned."""
        return self.load_case.recipe(self.channel)


@dataclass(slots=True)
class CampaignReader:
    """Reads each recording once and keeps it, because many pairs share one.

    Attributes
    ----------
    recordings
        What has been read, by path.
    """

    recordings: dict[Path, Recording] = field(default_factory=dict)
    _layouts: dict[Path, ColumnLayout | None] = field(default_factory=dict, init=False, repr=False)

    def recording(self, path: Path, layout: ColumnLayout | None = None) -> Recording:
        """Return a recording, read when first asked for, and again by another layout."""
        if path not in self.recordings or self._layouts.get(path) != layout:
            self.recordings[path] = read_file(path, layout)
            self._layouts[path] = layout
        return self.recordings[path]

    def signals(self, pair: CampaignPair) -> tuple[Signal, Signal]:
        """Return the reference and the candidate of a pair as they were read."""
        reference = self.recording(pair.test_path).channel(pair.channel.test)
        candidate = model_channel(pair.channel, self.recording(pair.model_path, pair.layout))
        return reference, candidate

    def score(self, campaign: Campaign, pair: CampaignPair) -> PairScore:
        """Read, condition, align and rate a pair."""
        reference, candidate = self.signals(pair)
        return score_pair(reference, candidate, recipe=pair.recipe, settings=campaign.settings)


def campaign_pairs(campaign: Campaign) -> Iterator[CampaignPair]:
    """Name every pair: releases, then load cases, then channels, then repeats, in the order of the file.

    Parameters
    ----------
    campaign
        The campaign.

    Yields
    ------
    CampaignPair

    Raises
    ------
    FormatError
        A load case names tests that are not there.
    """
    for release in campaign.releases:
        for load_case in campaign.load_cases:
            tests = campaign.test_paths(load_case)
            model = campaign.model_path(release, load_case)
            layout = campaign.model_layout(release, load_case)
            for channel in load_case.channel:
                for test in tests:
                    yield CampaignPair(
                        load_case=load_case,
                        channel=channel,
                        release=release,
                        test_path=test,
                        model_path=model,
                        layout=layout,
                    )
