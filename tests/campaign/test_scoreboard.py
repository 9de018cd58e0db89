"""The scoreboard's read model, on ratings that follow from a rule."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import ceiling_scores, load_campaign, open_store, release_scores, scoreboard
from correlate.errors import CorrelateError, SettingsError
from tests.dashboard.board_project import rating, write_board_project

if TYPE_CHECKING:
    from pathlib import Path

    from correlate import Campaign, ReleaseScore, Scoreboard


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write three releases of three load cases, the last held out; channel 3 gets worse."""
    return write_board_project(tmp_path_factory.mktemp("board"))


@pytest.fixture(scope="module")
def campaign(folder: Path) -> Campaign:
    """Return the campaign."""
    return load_campaign(folder)


@pytest.fixture(scope="module")
def scores(campaign: Campaign) -> dict[str, ReleaseScore]:
    """Return the numbers of its releases."""
    with open_store(campaign.folder / "ratings.sqlite") as store:
        return release_scores(campaign, store.rated_pairs(campaign.title))


def board(
    campaign: Campaign, scores: dict[str, ReleaseScore], release: str = "", against: str = ""
) -> Scoreboard:
    """Return the board with the ceilings of the store."""
    with open_store(campaign.folder / "ratings.sqlite") as store:
        hardware = ceiling_scores(campaign, store.ceilings(campaign.title))
    return scoreboard(campaign, scores, release=release, against=against, ceilings=hardware)


def test_the_last_release_stands_against_the_one_before(
    campaign: Campaign, scores: dict[str, ReleaseScore]
) -> None:
    """Where nothing is named, the last two releases of the file are compared."""
    found = board(campaign, scores)
    assert (found.release, found.against) == ("B2", "B1")
    assert [point.release for point in found.trend] == ["B0", "B1", "B2"]
    assert [line.score.name for line in found.load_cases] == ["case-0", "case-1"]
    assert [line.score.name for line in found.held_out_cases] == ["case-2"]


def test_numbers_are_the_weighted_means_of_the_rule(
    campaign: Campaign, scores: dict[str, ReleaseScore]
) -> None:
    """A region of one channel over two load cases is the mean of its ratings, by hand."""
    found = board(campaign, scores)
    lumbar = next(line for line in found.regions if line.score.name == "lumbar")
    by_hand = np.mean([rating(2, case, 3, repeat) for case in (0, 1) for repeat in range(3)])
    before = np.mean([rating(1, case, 3, repeat) for case in (0, 1) for repeat in range(3)])
    assert lumbar.score.overall == pytest.approx(by_hand)
    assert lumbar.change is not None
    assert lumbar.change.before == pytest.approx(before)
    assert lumbar.change.difference == pytest.approx(-0.05)
    assert lumbar.ceiling is not None
    assert lumbar.ceiling.overall == pytest.approx(0.95)


def test_what_moved_is_more_than_scatter_and_told_apart(
    campaign: Campaign, scores: dict[str, ReleaseScore]
) -> None:
    """Repeats scatter by 0.002: every channel moved; the one that lost stands first, once a load case."""
    found = board(campaign, scores)
    assert [change.place[-1] for change in found.worse] == ["c3"] * 3
    assert found.moved[:3] == found.worse
    assert len(found.better) == 3 * 5
    assert {change.place[0] for change in found.moved if change.held_out} == {"case-2"}


def test_a_change_within_scatter_has_not_moved(tmp_path: Path) -> None:
    """Against a release with the same ratings no channel moved, and every difference is 0."""
    campaign = load_campaign(write_board_project(tmp_path, releases=2))
    with open_store(tmp_path / "ratings.sqlite") as store:
        scores = release_scores(campaign, store.rated_pairs(campaign.title))
    scores["B0"] = replace(scores["B1"], release="B0")
    found = scoreboard(campaign, scores, release="B1", against="B0")
    assert found.moved == ()
    assert found.total.change is not None
    assert found.total.change.difference == 0.0
    assert found.total.ceiling is None


def test_a_release_is_not_compared_with_itself(campaign: Campaign, scores: dict[str, ReleaseScore]) -> None:
    """It would lose nothing and so meet every limit of loss."""
    with pytest.raises(SettingsError, match="release 'B1' cannot be compared with itself; name another"):
        board(campaign, scores, "B1", "B1")


def test_limits_of_the_file_are_checked(campaign: Campaign, scores: dict[str, ReleaseScore]) -> None:
    """A loss of 0.05 breaks the limit of 0.02 for the channel, and so for its region; gains break nothing."""
    found = board(campaign, scores)
    broken = [check.name for check in found.open_checks]
    assert any("regions / lumbar" in name for name in broken)
    assert sum("c3" in name for name in broken) == 3
    assert not any("c1" in name for name in broken)
    assert found.limits.are_set


def test_the_first_release_has_nothing_to_compare_with(
    campaign: Campaign, scores: dict[str, ReleaseScore]
) -> None:
    """It has numbers and ceilings, no change, and only the limits that need no other release."""
    found = board(campaign, scores, release="B0")
    assert found.against is None
    assert found.total.change is None
    assert found.moved == ()
    assert not any("no loss" in check.name for check in found.checks)


def test_releases_outside_the_file_are_passed_over(
    campaign: Campaign, scores: dict[str, ReleaseScore]
) -> None:
    """Ratings of a release that the file no longer has make no point of the trend."""
    with open_store(campaign.folder / "ratings.sqlite") as store:
        pairs = store.rated_pairs(campaign.title)
    shorter = load_campaign(campaign.folder)
    shorter.releases = shorter.releases[1:]
    assert list(release_scores(shorter, pairs)) == ["B1", "B2"]
    assert list(scores) == ["B0", "B1", "B2"]


def test_nothing_rated_names_the_command(campaign: Campaign) -> None:
    """Without ratings the sentence says what to run."""
    with pytest.raises(SettingsError, match=r"no release of 'Many releases' is rated yet.*correlate score"):
        scoreboard(campaign, {})


def test_a_release_without_ratings_names_the_command(
    campaign: Campaign, scores: dict[str, ReleaseScore]
) -> None:
    """A release of the file that is not rated says how to rate it."""
    some = {name: score for name, score in scores.items() if name != "B1"}
    with pytest.raises(SettingsError, match=r"release 'B1' is not rated yet.*--release B1"):
        scoreboard(campaign, some, release="B1")


def test_an_unknown_release_is_refused(campaign: Campaign, scores: dict[str, ReleaseScore]) -> None:
    """A name that the file does not have is answered with those it has."""
    with pytest.raises(SettingsError, match=r"there is no release 'B9'.*B0, B1, B2"):
        scoreboard(campaign, scores, release="B9")


@pytest.mark.parametrize(("key", "value"), [("least", "1.2"), ("largest_loss", "-0.1"), ("lest", "0.5")])
def test_a_wrong_limit_is_a_mistake_of_the_file(folder: Path, tmp_path: Path, key: str, value: str) -> None:
    """A limit outside 0 to 1, or a misspelt one, is named with its key."""
    text = (folder / "campaign.toml").read_text(encoding="utf-8")
    (tmp_path / "campaign.toml").write_text(
        text.replace("least = 0.6\nlargest_loss = 0.02", f"{key} = {value}"), encoding="utf-8"
    )
    with pytest.raises(CorrelateError, match=key):
        load_campaign(tmp_path)
