"""A small project, rated and kept, and the contents of its document."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

import pytest

from correlate import RunInfo, find_device, load_campaign, open_store, score_campaign, window_book
from correlate.report.release_contents import KeptResults, Yardsticks, release_contents
from tests.dashboard.project import write_project

if TYPE_CHECKING:
    from pathlib import Path

    from correlate import Campaign
    from correlate.report.release_contents import ReleaseContents

DAY = date(2026, 3, 9)


def keep_ratings(folder: Path) -> Campaign:
    """Rate a project and keep the ratings in its store, as `correlate score` does."""
    campaign = load_campaign(folder)
    run = RunInfo(who="build", started=datetime(2026, 3, 9, 12, tzinfo=UTC), campaign_sha256=campaign.sha256)
    with open_store(folder / "ratings.sqlite") as store:
        score_campaign(campaign, keep=lambda records, _: store.keep(records, run=run), workers=1)
    return campaign


def kept_results(campaign: Campaign, release: str) -> KeptResults:
    """Read what the store holds."""
    with open_store(campaign.folder / "ratings.sqlite") as store:
        return KeptResults(
            records=store.ratings(campaign=campaign.title),
            ceilings=(),
            runs=store.runs(campaign.title),
            notes=store.notes(campaign=campaign.title),
            sign_offs=store.sign_offs(campaign=campaign.title, release=release),
            ratings_sha256=store.ratings_sha256(campaign=campaign.title, release=release),
        )


@pytest.fixture(scope="session")
def small_campaign(tmp_path_factory: pytest.TempPathFactory) -> Campaign:
    """Rate the small project: two releases, one held-out load case, one channel that cannot be rated."""
    folder = write_project(tmp_path_factory.mktemp("release") / "small")
    file = folder / "campaign.toml"
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace('model = "lumbar force"', 'model = "lumbar <torque>"'), encoding="utf-8")
    return keep_ratings(folder)


@pytest.fixture(scope="session")
def small_contents(small_campaign: Campaign) -> ReleaseContents:
    """Gather the document of its second release against the first, with criteria."""
    return release_contents(
        small_campaign,
        kept_results(small_campaign, "A2"),
        ["A2", "A1"],
        yardsticks=Yardsticks(device=find_device("adult male"), windows={}, book=window_book()),
        day=DAY,
    )
