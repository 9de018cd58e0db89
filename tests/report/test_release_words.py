"""The sentences of the summary page."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

import pytest

from correlate.report.release_words import (
    held_out_gap,
    sign_offs_words,
    signed_today,
    summary_points,
)
from correlate.store.remarks import SignOff

if TYPE_CHECKING:
    from correlate.report.release_contents import ReleaseContents


def signed(ratings_sha256: str) -> SignOff:
    """Return a sign-off of some ratings."""
    return SignOff(
        campaign="c",
        release="A2",
        role="analyst",
        date=date(2026, 3, 2),
        text="",
        who="somebody",
        entered=datetime(2026, 3, 3, tzinfo=UTC),
        ratings_sha256=ratings_sha256,
    )


def test_role_and_date_sign_and_no_account(small_contents: ReleaseContents) -> None:
    """The document names role and date; the account that entered it stays in the store."""
    kept = replace(small_contents.kept, sign_offs=[signed(small_contents.kept.ratings_sha256)])
    found = signed_today(replace(small_contents, kept=kept))
    assert sign_offs_words(found) == "Signed off by analyst, 2 March 2026."
    assert sign_offs_words(signed_today(small_contents)) == "Not signed off."


def test_a_sign_off_of_other_ratings_says_so(small_contents: ReleaseContents) -> None:
    """Who signed before the release was rated again has not signed these ratings."""
    kept = replace(small_contents.kept, sign_offs=[signed("b" * 64)])
    words = sign_offs_words(signed_today(replace(small_contents, kept=kept)))
    assert words == (
        "Signed off by analyst, 2 March 2026 (no longer current: the release was rated again since)."
    )


def test_the_gap_is_held_out_less_the_rest(small_contents: ReleaseContents) -> None:
    """Negative where the model does worse on what it was not tuned on."""
    held_out = small_contents.score.held_out
    assert held_out is not None
    assert held_out.overall is not None
    assert small_contents.score.training.overall is not None
    expected = held_out.overall - small_contents.score.training.overall
    assert held_out_gap(small_contents) == pytest.approx(expected)


def test_the_summary_answers_what_a_manager_asks(small_contents: ReleaseContents) -> None:
    """Change, limits, held-out evidence, hardware, costs, data and signatures, each once."""
    points = dict(summary_points(small_contents))
    assert list(points) == [
        "Change",
        "Limits",
        "Held out",
        "Hardware",
        "Costs most",
        "Data",
        "Evidence",
        "Signed",
    ]
    assert "against A1" in points["Change"]
    assert "A2: held-out load cases are complete: impact / D0LUSP0000KMFOZP: " in points["Limits"]
    assert "1 channel not rated" in points["Evidence"]
    assert "over impact" in points["Held out"]
    assert points["Hardware"].endswith("no channel has three repeats.")
    own = [one for one in small_contents.scores.records if one.release == "A2"]
    assert f"from {len(own)} pairs" in points["Data"]


def test_without_a_baseline_nothing_is_compared(small_contents: ReleaseContents) -> None:
    """The summary says so in its first line."""
    board = replace(small_contents.board, against=None)
    points = dict(summary_points(replace(small_contents, board=board)))
    assert points["Change"] == "There is no earlier release to compare with."


def test_scatter_that_is_not_known_is_not_claimed(small_contents: ReleaseContents) -> None:
    """A change of a channel with one repeat is told, but not as more than chance."""
    moved = tuple(replace(one, estimate=None) for one in small_contents.board.moved)
    board = replace(small_contents.board, moved=moved)
    words = dict(summary_points(replace(small_contents, board=board)))["Change"]
    assert moved
    assert f"of {len(moved)} channel" in words
    assert "chance is not known: one repeat" in words
    assert "Beyond chance" not in words
