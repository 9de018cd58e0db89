"""The scoreboard page: events in, everything that is shown out."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest
from dash import dcc, html, no_update
from plotly.utils import PlotlyJSONEncoder

from dashboard import ids
from dashboard.components.frame import frame
from dashboard.pages.page import Event
from dashboard.pages.scoreboard.callbacks import CHOICE, layout, outputs, show
from dashboard.state import Project
from tests.dashboard.board_project import rating, write_board_project
from tests.dashboard.project import write_project
from tests.dashboard.reading import parts, properties, text

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture(scope="module")
def board(tmp_path_factory: pytest.TempPathFactory) -> Project:
    """Return a project with three rated releases."""
    return Project(write_board_project(tmp_path_factory.mktemp("board")))


def opened(project: Project, search: str = "") -> dict[str, Any]:
    """Open a link."""
    return show(project, Event(trigger=None, search=search, picked=dict.fromkeys(CHOICE.picked), theme=None))


def row(page: dict[str, Any], name: str) -> str:
    """Return the first row of a table that begins with a name."""
    rows = [part for part in parts(page["content"]) if isinstance(part, html.Tr)]
    return next(said for said in (text(one) for one in rows) if said.startswith(name))


def test_every_id_stands_on_the_page_once() -> None:
    """Each output and input of the callback has its component."""
    found = [str(part.id) for part in parts(frame([], layout(""))) if getattr(part, "id", None)]
    assert len(set(found)) == len(found)
    assert {str(output.component_id) for output in outputs().values()} <= set(found)
    assert {*CHOICE.picked.values(), ids.SCOREBOARD_PRINT} <= set(found)


def test_the_last_release_stands_against_the_one_before(board: Project) -> None:
    """Numbers, ceilings and changes of B2 against B1 are on the page; the menus say so."""
    page = opened(board)
    said = text(page["content"])
    assert (page["release"], page["against"]) == ("B2", "B1")
    assert [option["value"] for option in page["release_options"]] == ["B0", "B1", "B2"]
    assert [option["value"] for option in page["against_options"]] == ["B0", "B1"]
    assert said.startswith("B2 against B1: 15 channels better, 3 channels worse")
    for words in (
        "B2 misses 4 of 28 limits, on incomplete evidence; as rated, worse than B1.",
        "Held out of tuning, not in the overall number",
        "3 channels worse",
        "15 channels better",
        "Last rated 2031-04-05 06:07 UTC by analyst",
    ):
        assert words in said
    assert page["tab_title"] == "B2 against B1: 15 channels better, 3 channels worse"


def test_a_row_has_number_word_change_and_ceiling(board: Project) -> None:
    """The lumbar region is the mean of six known ratings, and lost 0.05."""
    by_hand = sum(rating(2, case, 3, repeat) for case in (0, 1) for repeat in range(3)) / 6
    said = row(opened(board), "lumbar")
    assert said.startswith(f"lumbar stale {by_hand:.3f} poor −0.050 worse")
    assert said.endswith("0.950")


def test_held_out_load_cases_stand_apart(board: Project) -> None:
    """The held-out load case is in the second table of load cases, not in the first."""
    tables = [part for part in parts(opened(board)["content"]) if isinstance(part, html.Table)]
    assert "Load case 2" not in text(tables[0])
    assert "Load case 2 <i>" in text(tables[1])


def test_marks_on_the_scale_stand_at_their_numbers(board: Project) -> None:
    """Now, before and ceiling of the lumbar region lie at their ratings as shares of the width."""
    rows = [part for part in parts(opened(board)["content"]) if isinstance(part, html.Tr)]
    lumbar = next(one for one in rows if text(one).startswith("lumbar"))
    marks = {
        part.className.split()[-1]: float(part.style["left"].rstrip("%"))
        for part in parts(lumbar)
        if "mark-on-track" in (getattr(part, "className", None) or "")
    }
    after = sum(rating(2, case, 3, repeat) for case in (0, 1) for repeat in range(3)) / 6
    assert marks["now-mark"] == pytest.approx(100 * after, abs=0.01)
    assert marks["before-mark"] == pytest.approx(100 * (after + 0.05), abs=0.01)
    assert marks["ceiling-mark"] == pytest.approx(95)


def test_numbers_lead_to_what_they_are_made_of(board: Project) -> None:
    """A load case is a link to its channels, a changed channel one to its curves, for both releases."""
    links = {link["href"] for link in properties(opened(board)["content"], dcc.Link)}
    assert "/matrix?release=B2&against=B1&case=case-0" in links
    assert "/pair?release=B2&against=B1&case=case-2&channel=c3" in links
    assert "/?release=B2&against=B1" in links


def test_a_picked_release_is_compared_with_the_one_before(board: Project) -> None:
    """Picking B1 lets go of the old comparison, and the link names what is picked."""
    picked = {"release": "B1", "against": "B2"}
    search = "?release=B2&case=case-1&channel=c1"
    page = show(board, Event(trigger=ids.SCOREBOARD_RELEASE, search=search, picked=picked, theme=None))
    assert (page["release"], page["against"]) == ("B1", "B0")
    assert page["search"] == "?release=B1&case=case-1&channel=c1"


def test_a_pick_keeps_load_case_and_channel_of_the_link(board: Project) -> None:
    """What the scoreboard has no menu for stays selected for the other pages."""
    picked = {"release": "B1", "against": "B0"}
    search = "?release=B2&case=case-0&channel=c3"
    page = show(board, Event(trigger=ids.SCOREBOARD_RELEASE, search=search, picked=picked, theme="light"))
    assert page["search"] == "?release=B1&case=case-0&channel=c3"


def test_any_other_release_can_be_compared_with(board: Project) -> None:
    """Picking the other side keeps the release; a link says both, and opening it does not change it."""
    picked = {"release": "B2", "against": "B0"}
    page = show(board, Event(trigger=ids.SCOREBOARD_AGAINST, search="", picked=picked, theme=None))
    assert page["search"] == "?release=B2&against=B0"
    again = opened(board, page["search"])
    assert again["against"] == "B0"
    assert again["search"] is no_update
    assert "against B0" in text(again["content"])


def test_the_first_release_says_that_it_is_the_first(board: Project) -> None:
    """Nothing is compared, and nothing is claimed to have changed."""
    said = text(opened(board, "?release=B0")["content"])
    assert said.startswith("B0: the first rated release")
    assert "95 % interval" not in said
    assert "channels better" not in said


@pytest.mark.parametrize(
    ("search", "words"),
    [
        ("?release=B9", "there is no release 'B9'"),
        ("?against=B9", "there is no release 'B9'"),
        ("?release=B1&against=B1", "release 'B1' cannot be compared with itself"),
    ],
)
def test_a_link_to_no_release_leads_back(board: Project, search: str, words: str) -> None:
    """What cannot be shown is answered with the reason, and a way to the last release."""
    page = opened(board, search)
    assert words in text(page["content"])
    (way_out,) = properties(page["content"], dcc.Link)
    assert way_out["href"] == "/scoreboard"
    assert page["picks_hidden"] is True


def test_an_unrated_campaign_says_what_to_run_and_makes_no_store(folder: Path) -> None:
    """The commands are named; looking at the page writes nothing into the folder."""
    page = opened(Project(folder))
    said = text(page["content"])
    assert said.startswith("Nothing is rated yet")
    assert f"correlate score {folder}" in said
    assert f"correlate ceiling {folder}" in said
    assert not list(folder.glob("*.sqlite*"))


def test_a_store_that_cannot_be_read_is_not_called_empty(tmp_path: Path) -> None:
    """Its ratings may be there; the heading says what is wrong and names no command that rates."""
    project = Project(write_board_project(tmp_path, releases=1, load_cases=1))
    (project.folder / "ratings.sqlite").write_bytes(b"no database")
    said = text(opened(project)["content"])
    assert said.startswith("The saved ratings cannot be read")
    assert "correlate score" not in said


def test_a_changed_campaign_file_is_said(tmp_path: Path) -> None:
    """Ratings that were made with another file are shown with a word of warning."""
    project = Project(write_board_project(tmp_path, releases=1, load_cases=1))
    assert "has changed since" not in text(opened(project)["content"])
    with (tmp_path / "campaign.toml").open("a", encoding="utf-8") as file:
        file.write("# a remark\n")
    assert "The campaign file has changed since" in text(opened(project)["content"])


def test_a_folder_without_a_campaign_and_mistakes_are_messages(tmp_path: Path) -> None:
    """Both have the sentence of the core; the menus are hidden."""
    assert text(opened(Project(tmp_path))["content"]).startswith("There is no campaign in this folder yet")
    (write_project(tmp_path) / "campaign.toml").write_text("title = 1\n", encoding="utf-8")
    page = opened(Project(tmp_path))
    assert text(page["content"]).startswith("The campaign file contains errors")
    assert page["picks_hidden"] is True


def test_every_value_has_its_output(board: Project, tmp_path: Path) -> None:
    """Whatever happens, the page sets every output once, and none besides."""
    for page in (opened(board), opened(board, "?release=x"), opened(Project(tmp_path))):
        assert page.keys() == outputs().keys()


@pytest.fixture(scope="module")
def wide(tmp_path_factory: pytest.TempPathFactory) -> Project:
    """Return a project in which many channels changed."""
    folder = tmp_path_factory.mktemp("wide")
    return Project(write_board_project(folder, releases=2, load_cases=4, channels=40, repeats=2))


def changed(page: dict[str, Any], heading: str) -> list[str]:
    """Return the links of the channels below a heading of changes."""
    (card,) = [
        part for part in parts(page["content"]) if "changes-card" in str(getattr(part, "className", ""))
    ]
    found: list[str] = []
    below = False
    for one in card.children:
        below = text(one).endswith(heading) if isinstance(one, html.H3) else below
        rows = [part for part in parts(one) if isinstance(part, html.Tr)] if below else []
        found += [link["href"] for row in rows for link in properties(row, dcc.Link)]
    return found


def test_every_changed_channel_is_on_one_part_of_the_list(wide: Project) -> None:
    """The first ones stay, the others come in parts, in order; a part is open where the address names it."""
    campaign = wide.campaign()
    better = wide.board(campaign).board.better
    assert 6 + 6 * 10 < len(better) <= 6 + 7 * 10
    pages = [opened(wide, f"?better={number}") for number in range(1, 8)]
    first = changed(pages[0], "better")[:6]
    assert all(changed(page, "better")[:6] == first for page in pages)
    together = first + [link for page in pages for link in changed(page, "better")[6:]]
    assert [link.split("case=")[1].split("&channel=") for link in together] == [
        [one.place[0], one.place[-1]] for one in better
    ]
    (links,) = [part for part in parts(pages[1]["content"]) if isinstance(part, html.Nav)]
    assert text(links) == f"Channels 17–26 of {len(better)} First Previous Next Last"
    assert [one["open"] for one in properties(pages[1]["content"], html.Details)] == [True]


def test_no_scoreboard_is_large_and_a_pick_begins_at_the_first_part(wide: Project) -> None:
    """Less than 200 kB are sent, and a part of the list of other releases is not kept."""
    page = opened(wide, "?better=2")
    assert len(json.dumps(page, cls=PlotlyJSONEncoder)) < 200_000
    links = {link["href"] for link in properties(page["content"], dcc.Link) if "better=" in link["href"]}
    assert links == {"/scoreboard?better=" + number for number in "137"}
    picks = {"release": "B1", "against": ""}
    picked = show(wide, Event(trigger=ids.SCOREBOARD_RELEASE, search="?better=2", picked=picks, theme=None))
    assert picked["search"] == "?release=B1"
    assert [one["open"] for one in properties(picked["content"], html.Details)] == [False]
    links = {link["href"] for link in properties(picked["content"], dcc.Link) if "better=" in link["href"]}
    assert links == {"/scoreboard?better=" + number + "&release=B1" for number in "27"}


def test_many_load_cases_have_pages(tmp_path: Path) -> None:
    """Each load case is on one part of its list, held-out ones on theirs, and less than 200 kB are sent."""
    project = Project(write_board_project(tmp_path, releases=2, load_cases=90, channels=4, repeats=2))
    board = project.board(project.campaign()).board
    assert (len(board.load_cases), len(board.held_out_cases)) == (60, 30)
    seen: list[str] = []
    for number in (1, 2, 3):
        page = opened(project, f"?cases={number}&held-out={number}&worse=1&better=1")
        assert len(json.dumps(page, cls=PlotlyJSONEncoder)) < 200_000
        links = [link["href"] for link in properties(page["content"], dcc.Link)]
        cases = [link.split("case=")[1] for link in links if link.startswith("/matrix?") and "case=" in link]
        assert len(cases) == 30
        seen += cases
    assert sorted(seen) == sorted(f"case-{number}" for number in range(90))
    said = text(page["content"])
    assert "Load cases 41–60 of 60" in said
    assert "Held-out load cases 21–30 of 30" in said
    picks = {"release": "B0", "against": ""}
    search = "?cases=3&held-out=2&case=case-1"
    picked = show(project, Event(trigger=ids.SCOREBOARD_RELEASE, search=search, picked=picks, theme=None))
    assert picked["search"] == "?release=B0&case=case-1"
