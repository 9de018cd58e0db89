"""``correlate demo``: a whole project from nothing."""

from __future__ import annotations

import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from correlate import load_campaign, open_store
from correlate.campaign import aggregate
from tests.docs.demo_project import shared_demo

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.campaign import Campaign, ReleaseScore


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demo, built by the command and shared by the whole run."""
    return shared_demo(tmp_path_factory)


@pytest.fixture(scope="module")
def campaign(folder: Path) -> Campaign:
    """Load the campaign of the demo."""
    return load_campaign(folder)


@pytest.fixture(scope="module")
def releases(folder: Path, campaign: Campaign) -> dict[str, ReleaseScore]:
    """Read the ratings that the demo kept."""
    with open_store(folder / "ratings.sqlite") as store:
        records = store.ratings(campaign=campaign.title)
    return {one.name: aggregate(campaign, records, one.name) for one in campaign.releases}


def test_the_folder_looks_like_a_project(folder: Path) -> None:
    """Laboratory, releases, campaign, ratings and a page are there; the table came with its caution."""
    assert {
        "laboratory",
        "releases",
        "planted_faults",
        "campaign.toml",
        "ratings.sqlite",
        "ratings-A3.html",
    } <= {entry.name for entry in folder.iterdir()}
    printed = (folder.parent / "printed.txt").read_text(encoding="utf-8")
    assert "thorax-impact" in printed
    assert "does not certify" in printed


def test_every_channel_of_every_load_case_is_rated(releases: dict[str, ReleaseScore]) -> None:
    """Nothing is missing in any release."""
    for release in releases.values():
        assert release.held_out is not None
        assert release.training.rated == release.training.expected
        assert release.held_out.rated == release.held_out.expected


def part(release: ReleaseScore, name: str) -> float:
    """Return the rating of a load case, held out or not."""
    assert release.held_out is not None
    parts = (*release.training.parts, *release.held_out.parts)
    found = next(one.overall for one in parts if one.name == name)
    assert found is not None
    return found


def test_the_second_release_has_a_better_neck_and_a_worse_thorax(releases: dict[str, ReleaseScore]) -> None:
    """The regression that the scenario plants is visible, and so is what was gained."""
    first, second = releases["A1"], releases["A2"]
    for name in ("neck-flexion", "neck-extension"):
        assert part(second, name) > part(first, name) + 0.08
    for name in ("thorax-impact", "thorax-impact-low"):
        assert part(second, name) < part(first, name) - 0.01


def test_the_third_release_is_better_everywhere_and_late_in_neck_extension(
    folder: Path, campaign: Campaign, releases: dict[str, ReleaseScore]
) -> None:
    """Every load case gains on both earlier releases; the neck in extension stays milliseconds late."""
    for earlier in ("A1", "A2"):
        for case in campaign.load_cases:
            assert part(releases["A3"], case.name) > part(releases[earlier], case.name)
    with open_store(folder / "ratings.sqlite") as store:
        records = store.ratings(campaign=campaign.title, release="A3")
    late = [
        one.shift_s for one in records if one.load_case == "neck-extension" and one.channel[2:6] == "NECK"
    ]
    assert min(late) > 0.002


def test_ratings_spread_from_poor_to_excellent_and_none_is_trivial(folder: Path, campaign: Campaign) -> None:
    """All four grades occur, and no channel is perfect."""
    with open_store(folder / "ratings.sqlite") as store:
        records = store.ratings(campaign=campaign.title)
    assert {one.grade for one in records} == {"poor", "fair", "good", "excellent"}
    assert max(one.overall for one in records) < 0.99
    assert min(one.overall for one in records) < 0.5


def test_building_again_does_nothing_and_rates_nothing(folder: Path) -> None:
    """The second run finds everything current."""
    before = {path: path.stat().st_mtime_ns for path in (folder / "laboratory").rglob("*") if path.is_file()}
    command = [sys.executable, "-m", "correlate", "score", str(folder), "--workers", "1"]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert "0 pairs rated, 420 known already" in done.stdout
    again = [sys.executable, "-m", "demo_pairs", "--into", str(folder)]
    subprocess.run(again, capture_output=True, check=True)
    assert {path: path.stat().st_mtime_ns for path in before} == before
