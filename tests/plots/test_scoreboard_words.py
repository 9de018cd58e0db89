"""The sentences of the scoreboard."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from correlate import Change, load_campaign, open_store, release_scores, scoreboard
from correlate.plots import board_title, chance_brief, chance_words, limits_words, moved_words
from correlate.statistics import Estimate
from tests.dashboard.board_project import write_board_project

if TYPE_CHECKING:
    from pathlib import Path

    from correlate import Scoreboard

CHANGE = Change(kind="release", place=(), words="B1", before=0.7, after=0.75, estimate=None, held_out=False)


def known(difference: float, error: float) -> Estimate:
    """Return a difference over five repeats: its 95 % interval is 2.915 standard errors to either side."""
    return Estimate(value=difference, standard_error=error, degrees=4.0, count=5)


@pytest.fixture(scope="module")
def board(tmp_path_factory: pytest.TempPathFactory) -> Scoreboard:
    """Return the second of two releases: five channels gain, one loses, in each of three load cases."""
    folder: Path = write_board_project(tmp_path_factory.mktemp("board"), releases=2)
    campaign = load_campaign(folder)
    with open_store(folder / "ratings.sqlite") as store:
        return scoreboard(campaign, release_scores(campaign, store.rated_pairs(campaign.title)))


@pytest.mark.parametrize(
    ("estimate", "long", "short"),
    [
        (known(0.05, 0.01), "better (95 % interval +0.021 to +0.079)", "better"),
        (known(-0.05, 0.01), "worse (95 % interval −0.079 to −0.021)", "worse"),
        (known(0.05, 0.02), "not distinguishable (95 % interval −0.008 to +0.108)", "not distinguishable"),
        (None, "one repeat, chance unknown", "one repeat, chance unknown"),
    ],
)
def test_a_change_is_set_beside_chance(estimate: Estimate | None, long: str, short: str) -> None:
    """Better or worse where the interval leaves out 0; with one repeat nothing is claimed."""
    change = replace(CHANGE, estimate=estimate)
    assert chance_words(change) == long
    assert chance_brief(change) == short


@pytest.mark.parametrize(
    ("after", "estimate", "words"),
    [
        (0.75, known(0.05, 0.01), "Release B1 is fair, and better than B0"),
        (0.65, known(-0.05, 0.01), "Release B1 is fair, but worse than B0"),
        (0.72, known(0.02, 0.01), "Release B1 is fair, not distinguishable from B0"),
        (0.7, None, "Release B1 is fair, not distinguishable from B0"),
    ],
)
def test_the_title_is_the_answer(
    board: Scoreboard, after: float, estimate: Estimate | None, words: str
) -> None:
    """Grade and direction are said; a change within chance is no difference."""
    change = replace(CHANGE, after=after, estimate=estimate)
    score = replace(board.total.score, overall=after)
    assert board_title(replace(board, total=replace(board.total, score=score, change=change))) == words


def test_a_poor_release_that_gained_says_but(board: Scoreboard) -> None:
    """Better and still poor are joined by "but"; worse and poor by "and"."""
    score = replace(board.total.score, overall=0.3)
    better = replace(board.total, score=score, change=replace(CHANGE, before=0.2, after=0.3))
    worse = replace(board.total, score=score, change=replace(CHANGE, before=0.4, after=0.3))
    assert board_title(replace(board, total=better)) == "Release B1 is poor, but better than B0"
    assert board_title(replace(board, total=worse)) == "Release B1 is poor, and worse than B0"


def test_a_first_or_unrated_release_has_a_title_too(board: Scoreboard) -> None:
    """Without another release only the grade is said, without a number that there is none."""
    alone = replace(board, against=None, total=replace(board.total, change=None))
    assert board_title(alone) == f"Release B1 is {board.total.score.grade}"
    nothing = replace(board.total, score=replace(board.total.score, overall=None), change=None)
    assert board_title(replace(board, total=nothing)) == "Release B1 is not rated"


def test_channels_and_limits_are_counted(board: Scoreboard) -> None:
    """Fifteen gained and three lost; the limits they break are counted, and their absence is said."""
    assert moved_words(board) == "15 channels better, 3 channels worse"
    assert limits_words(board) == f"{len(board.open_checks)} of {len(board.checks)} checks are not met"
    passed = tuple(check for check in board.checks if check.is_passed)
    assert limits_words(replace(board, checks=passed)) == f"all {len(passed)} checks are met"
    unset = type(board.limits)()
    assert limits_words(replace(board, limits=unset, checks=passed[:1])) == "no limits are set"
    assert moved_words(replace(board, moved=())) == "no channel changed beyond chance between repeats"
