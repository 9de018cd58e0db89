"""What the document of a release is made of: the kept ratings, checked against the present data."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import load_campaign, window_book
from correlate.errors import SettingsError
from correlate.report.release_contents import Yardsticks, rated_releases, release_contents
from tests.report.conftest import DAY, kept_results

if TYPE_CHECKING:
    from pathlib import Path

    from correlate import Campaign
    from correlate.report.release_contents import ReleaseContents


def test_every_load_case_and_channel_is_in_it(small_contents: ReleaseContents) -> None:
    """The document has the load cases and channels of the campaign file, in its order."""
    found = {case.load_case.name: [one.score.name for one in case.channels] for case in small_contents.cases}
    assert found == {
        case.name: [plan.test for plan in case.channel] for case in small_contents.campaign.load_cases
    }


def test_the_pair_that_is_drawn_is_the_typical_one(small_contents: ReleaseContents) -> None:
    """Rated again for its corridors, it has the kept rating, and no repeat is nearer to the mean."""
    channel = small_contents.cases[0].channels[0]
    overall = {record.repeat: record.overall for record in channel.records}
    assert channel.shown is not None
    assert channel.shown.rating.overall == pytest.approx(overall[channel.repeat])
    mean = np.mean(list(overall.values()))
    assert abs(overall[channel.repeat] - mean) == min(abs(value - mean) for value in overall.values())


def test_what_could_not_be_rated_is_told(small_contents: ReleaseContents) -> None:
    """A channel without rating has no pair to draw, and its reason is kept."""
    unrated = {(one.load_case, one.channel) for one in small_contents.scores.unrated if one.release == "A2"}
    bare = {
        (case.load_case.name, one.score.name)
        for case in small_contents.cases
        for one in case.channels
        if one.shown is None
    }
    assert bare == unrated
    assert unrated


def test_two_repeats_give_no_ceiling_and_the_reason(small_contents: ReleaseContents) -> None:
    """How good the hardware is cannot be said from two repeats."""
    assert small_contents.no_ceilings == "no channel has three repeats"
    assert small_contents.board.total.ceiling is None


def test_the_first_release_has_no_baseline(small_campaign: Campaign) -> None:
    """Nothing is before it, unless another release is named."""
    records = kept_results(small_campaign, "A1").records
    assert rated_releases(small_campaign, records, "A1", "") == ["A1"]
    assert rated_releases(small_campaign, records, "A1", "A2") == ["A1", "A2"]
    assert rated_releases(small_campaign, records, "", "") == ["A2", "A1"]


def test_a_release_is_not_compared_with_itself(small_campaign: Campaign) -> None:
    """That would be no comparison."""
    records = kept_results(small_campaign, "A1").records
    with pytest.raises(SettingsError, match="'A1' cannot be compared with itself"):
        rated_releases(small_campaign, records, "A1", "A1")


def test_an_unrated_release_is_named(small_campaign: Campaign) -> None:
    """The sentence says which release, and how to rate it."""
    records = [record for record in kept_results(small_campaign, "A1").records if record.release == "A1"]
    with pytest.raises(SettingsError, match=r"'A2' is not rated yet; run: correlate score .* --release A2"):
        rated_releases(small_campaign, records, "A2", "")


def test_ratings_of_other_data_are_refused(small_campaign: Campaign, tmp_path: Path) -> None:
    """A model file that changed since makes no document: its curves would not be those of the ratings."""
    folder = tmp_path / "moved"
    shutil.copytree(small_campaign.folder, folder)
    changed = folder / "releases/A2/drop.csv"
    lines = changed.read_text(encoding="utf-8").splitlines()
    changed.write_text("\n".join(lines[:-1]) + "\n", encoding="utf-8")
    campaign = load_campaign(folder)
    nothing = Yardsticks(device=None, windows={}, book=window_book())
    with pytest.raises(SettingsError, match=r"\d pairs are not rated with the present data"):
        release_contents(campaign, kept_results(campaign, "A2"), ["A2"], yardsticks=nothing, day=DAY)
