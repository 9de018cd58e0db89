"""The sentences of the summary page."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

import pytest

from correlate import decide
from correlate.plots import OBJECTION_WORDS
from correlate.report.release_document import release_html
from correlate.report.release_words import (
    held_out_gap,
    objections,
    standing,
)
from correlate.store.remarks import SignOff
from tests.report.test_html import read

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
    found = replace(small_contents, kept=kept)
    page = read(release_html(found)).words
    assert "Signed off by analyst, 2 March 2026." in page
    assert "somebody" not in page
    assert "Sign-off" not in dict(objections(found))
    assert dict(objections(small_contents))["Sign-off"] == ["not signed off"]


def test_what_stands_against_a_release_is_what_the_decision_says(small_contents: ReleaseContents) -> None:
    """Every objection is listed under its first kind; what is cut short is counted."""
    found = dict(objections(small_contents))
    listed = decide(small_contents.campaign, small_contents.board).objections
    assert listed
    for kind, words in OBJECTION_WORDS.items():
        own = [one.words for one in listed if one.kinds[0] == kind]
        shown = found.get(words, [])
        assert shown == own or (shown[:5] == own[:5] and shown[5].startswith(f"{len(own) - 5} more"))


def test_a_long_list_is_cut_short_with_its_number(small_contents: ReleaseContents) -> None:
    """Of many worse channels the first are named, the others counted."""
    change = next(one for one in small_contents.changes if one.kind == "channel" and (one.difference or 0))
    change = replace(change, before=0.9, after=0.8)
    board = replace(small_contents.board, moved=(change,) * 9)
    entries = dict(objections(replace(small_contents, board=board)))["Worse"]
    assert (len(entries), entries[-1]) == (6, "4 more, in the appendix")


def test_a_sign_off_of_other_ratings_stands_against_the_release(small_contents: ReleaseContents) -> None:
    """Who signed before the release was rated again has not signed these ratings."""
    kept = replace(small_contents.kept, sign_offs=[signed("b" * 64)])
    entries = dict(objections(replace(small_contents, kept=kept)))["Sign-off"]
    assert entries == [
        "analyst, 2 March 2026 (no longer current: the release has been rated again since)",
    ]


def test_the_gap_is_held_out_less_the_rest(small_contents: ReleaseContents) -> None:
    """Negative where the model does worse on what it was not tuned on."""
    held_out = small_contents.score.held_out
    assert held_out is not None
    assert held_out.overall is not None
    assert small_contents.score.training.overall is not None
    expected = held_out.overall - small_contents.score.training.overall
    assert held_out_gap(small_contents) == pytest.approx(expected)


def test_the_decision_says_what_it_stands_on(small_contents: ReleaseContents) -> None:
    """Change, checks, held-out evidence, ceiling, costs and data, each once."""
    points = dict(standing(small_contents))
    assert list(points) == [
        "Change",
        "Checks",
        "Held out",
        "Ceiling",
        "Costs most",
        "Data",
        "Evidence",
    ]
    assert "against A1" in points["Change"]
    assert points["Checks"].endswith("checks are not met.")
    assert "1 channel not rated" in points["Evidence"]
    assert "over impact" in points["Held out"]
    assert points["Ceiling"].endswith("no channel has three repeats.")
    own = [one for one in small_contents.scores.records if one.release == "A2"]
    assert f"from {len(own)} pairs" in points["Data"]


def test_without_a_baseline_nothing_is_compared(small_contents: ReleaseContents) -> None:
    """The summary says so in its first line."""
    board = replace(small_contents.board, against=None)
    points = dict(standing(replace(small_contents, board=board)))
    assert points["Change"] == "There is no earlier release to compare with."


def test_scatter_that_is_not_known_is_not_claimed(small_contents: ReleaseContents) -> None:
    """A change of a channel with one repeat is told, but not as more than chance."""
    moved = tuple(replace(one, estimate=None) for one in small_contents.board.moved)
    board = replace(small_contents.board, moved=moved)
    words = dict(standing(replace(small_contents, board=board)))["Change"]
    assert moved
    assert f"of {len(moved)} channel" in words
    assert "chance is not known: one repeat" in words
    assert "Beyond chance" not in words
