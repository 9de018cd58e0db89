"""The ratings of a release as one page: counted as the scoreboard counts, complete, and self-contained."""

from __future__ import annotations

import re
from base64 import b64encode
from hashlib import sha256
from typing import TYPE_CHECKING

import pytest

from correlate import CampaignReader, campaign_pairs, open_store, stored_board
from correlate.errors import CorrelateError
from correlate.plots.scoreboard_words import limits_words
from correlate.plots.wording import CAUTION
from correlate.report.ratings_page import ratings_html
from tests.report.test_html import read

if TYPE_CHECKING:
    from correlate import Campaign, CampaignPair, PairScore, StoredBoard
    from correlate.report.release_contents import ReleaseContents

    Rated = list[tuple[CampaignPair, PairScore]]


def rated_pairs(campaign: Campaign, release: str) -> Rated:
    """Rate the pairs of a release that can be rated."""
    reader, rated = CampaignReader(), []
    for pair in campaign_pairs(campaign):
        if pair.release.name == release:
            try:
                rated.append((pair, reader.score(campaign, pair)))
            except CorrelateError:
                continue
    return rated


@pytest.fixture(scope="module")
def rated(small_campaign: Campaign) -> Rated:
    """Rate the second release of the small project, of which one channel cannot be rated."""
    return rated_pairs(small_campaign, "A2")


@pytest.fixture(scope="module")
def stored(small_campaign: Campaign) -> StoredBoard:
    """Read the scoreboard that the dashboard shows."""
    with open_store(small_campaign.folder / "ratings.sqlite") as store:
        return stored_board(store, small_campaign, release="A2")


@pytest.fixture(scope="module")
def page(stored: StoredBoard, rated: Rated) -> str:
    """Write the page."""
    return ratings_html(stored, rated, title="Small <campaign>, release A2")


def test_it_opens_with_the_numbers_of_the_scoreboard(page: str, stored: StoredBoard) -> None:
    """Verdict, both totals with change, ceiling and counts, and every objection."""
    board, words = stored.board, read(page).words
    start = words.index(stored.decision.verdict)
    assert start < words.index("Load cases open to tuning") < words.index("Held out of tuning")
    for line in (board.total, board.held_out):
        assert line is not None
        assert f"{line.score.overall:.3f} {line.score.grade}" in words
        assert f"Rated {line.score.completeness}" in words
    assert f"{limits_words(board).capitalize()}." in words
    assert stored.decision.objections
    assert all(" ".join(one.words.split()) in words for one in stored.decision.objections)


def test_every_channel_and_repeat_is_on_it(page: str, rated: Rated, small_contents: ReleaseContents) -> None:
    """Ratings of channels are those of the score tree; each repeat has its own, with its files."""
    words = read(page).words
    for case in small_contents.cases:
        for one in case.channels:
            if one.score.overall is not None:
                assert f"{one.score.overall:.3f} {one.score.grade}" in words
    for pair, score in rated:
        assert pair.repeat in words
        assert f"{score.rating.overall:.3f} {score.rating.grade}" in words
        assert score.reference.source.sha256 in words
    assert CAUTION in words


def test_a_channel_that_is_not_rated_is_on_it(page: str, small_contents: ReleaseContents) -> None:
    """It is in the table and in its load case, without a number."""
    bare = [one for case in small_contents.cases for one in case.channels if one.shown is None]
    assert bare
    words = read(page).words
    assert words.count("Not rated: no pair of test and model of this channel could be rated") == len(bare)


def test_the_lowest_rated_repeat_is_drawn(page: str, rated: Rated) -> None:
    """Of each channel one figure, named after its repeat."""
    groups: dict[tuple[str, str], dict[str, float]] = {}
    for pair, score in rated:
        place = (pair.load_case.name, pair.channel.name)
        groups.setdefault(place, {})[pair.repeat] = score.rating.overall
    expected = [min(overall, key=lambda name: overall[name]) for overall in groups.values()]
    assert re.findall(r"([\w]+), the lowest-rated repeat", page) == expected
    assert page.count('<svg class="figure"') == len(groups)


def test_its_one_script_is_named_by_its_hash_and_nothing_is_loaded(page: str) -> None:
    """The policy of the page allows this script and no other."""
    reader = read(page)
    assert reader.loads == []
    (script,) = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    own = b64encode(sha256(script.encode()).digest()).decode()
    assert f"script-src 'sha256-{own}'; style-src" in reader.policy
    assert "unsafe-inline" not in reader.policy.split("style-src")[0]
    assert "Small <campaign>" not in page


def test_every_link_has_its_target(page: str) -> None:
    """From both tables to the load cases and channels."""
    assert set(re.findall(r'href="#([^"]+)"', page)) <= set(re.findall(r' id="([^"]+)"', page))
