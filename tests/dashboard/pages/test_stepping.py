"""The list that a pair was opened from: its place, its neighbours, and what a link to them carries along."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import parse_qsl, urlsplit

import pytest
from dash import dcc

from dashboard.components.stepping import PairList
from dashboard.pages.matrix.callbacks import PICKED, show
from dashboard.pages.page import Event
from dashboard.pages.pair.stepping import stepping
from dashboard.state import Project
from tests.dashboard.board_project import write_board_project
from tests.dashboard.reading import properties, text

if TYPE_CHECKING:
    from dash.development.base_component import Component


@pytest.fixture(scope="module")
def board(tmp_path_factory: pytest.TempPathFactory) -> Project:
    """Return a project with three rated releases."""
    return Project(write_board_project(tmp_path_factory.mktemp("board")))


def ways(shown: list[Component]) -> dict[str, str]:
    """Return the links of the line by their words."""
    return {text(link["children"]): link["href"] for link in properties(shown, dcc.Link)}


def test_no_list_in_the_address_shows_nothing(board: Project) -> None:
    """A pair that was opened alone has no neighbours."""
    assert stepping(board, "?release=B2&case=case-0&channel=c3") == []
    assert stepping(board, None) == []


def test_steps_lead_through_the_list_in_the_order_of_the_matrix(board: Project) -> None:
    """From the first cell, each link leads to the next, through every channel once, and ends."""
    search = "?view=releases&sort=change&case=case-0"
    page = show(board, Event(trigger=None, search=search, picked=dict.fromkeys(PICKED), theme=None))
    shown = [row["c2"]["href"] for row in page["rows"]]
    address, seen = shown[0], []
    while address:
        seen.append(address)
        line = stepping(board, "?" + urlsplit(address).query)
        assert text(line).startswith(f"{len(seen)} of 6 Change, losses first")
        assert ("Previous (K)" in ways(line)) == (len(seen) > 1)
        address = ways(line).get("Next (J)", "")
    assert seen == shown
    line = stepping(board, "?" + urlsplit(seen[-1]).query)
    assert ways(line)["Previous (K)"] == shown[-2]
    assert "Next (J)" in text(line)


def test_a_step_leaves_behind_what_belongs_to_one_pair(board: Project) -> None:
    """Overlays, baseline and list go along; repeat, filter, interval and a changed curve do not."""
    search = (
        "?release=B2&case=case-0&repeat=R1&channel=c0&cfc=60&from=1&to=2&shift=3&left=1&right=2"
        "&against=B0&over=B0&over=B1&show=links&list=name&list-region=head"
    )
    (after,) = (href for words, href in ways(stepping(board, search)).items() if words == "Next (J)")
    assert parse_qsl(urlsplit(after).query) == [
        ("release", "B2"),
        ("against", "B0"),
        ("over", "B0"),
        ("over", "B1"),
        ("show", "links"),
        ("case", "case-1"),
        ("channel", "c0"),
        ("list", "name"),
        ("list-region", "head"),
    ]


def test_the_way_back_has_the_filters_of_the_list(board: Project) -> None:
    """The matrix that opens shows the list that the pair is in."""
    line = stepping(board, "?release=B2&case=case-0&channel=c0&list=name&list-region=head&list-state=stale")
    assert ways(line)["Back to the matrix"] == "/matrix?release=B2&region=head&state=stale&sort=name"


def test_a_pair_outside_the_list_says_so(board: Project) -> None:
    """Its filters leave out this pair: no place is invented, and the next one is the first of the list."""
    line = stepping(board, "?release=B2&case=case-0&channel=c3&list=name&list-region=head")
    assert text(line).startswith("Not in the list of 12")
    assert "Previous (K)" not in ways(line)
    assert "channel=c0" in ways(line)["Next (J)"]
    assert text(stepping(board, "?list=lost")).startswith("Not in the list of 18")  # of the newest release
    empty = stepping(board, "?release=B2&case=case-0&channel=c3&list=name&list-state=waived+finding")
    assert text(empty).startswith("Not in the list of 0")
    assert list(ways(empty)) == ["Back to the matrix"]


@pytest.mark.parametrize(
    ("search", "said"),
    [
        ("?release=B2&list=size", "there is no order 'size'"),
        ("?release=B2&list=lost&list-case=sled", "there is no load case 'sled'"),
        ("?release=B9&list=lost", "there is no release 'B9'"),
    ],
)
def test_a_list_that_cannot_be_shown_says_why(board: Project, search: str, said: str) -> None:
    """The pair itself is not touched; the way to the matrix is offered."""
    line = stepping(board, search)
    assert said in text(line)
    assert ways(line) == {"Open the matrix": "/matrix"}


def test_a_list_survives_its_address() -> None:
    """Written into a query and read again, it is the same list."""
    listed = PairList(sort="change", region="head & neck", load_case="a=b", state="not rated")
    query = "&".join(f"{key}={text.replace('&', '%26')}" for key, text in listed.as_query().items())
    assert PairList.from_search("?" + query) == listed
