"""The matrix page: events in, everything that is shown out."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING, Any
from urllib.parse import parse_qs, urlsplit

import pytest
from dash import dcc, html, no_update
from plotly.utils import PlotlyJSONEncoder

from correlate import CELL_STATES, SORTS, Change, MatrixCell, ReleaseMatrix, Store
from correlate.campaign import release_evidence
from correlate.campaign.release_evidence import TestFindings
from correlate.plots import STATE_MARKS, STATE_WORDS
from correlate.reference.finding import Finding
from correlate.remembered import Remembered
from correlate.store import board as stored
from dashboard import ids
from dashboard.components.frame import frame
from dashboard.components.matrix import MatrixView, by_load_case
from dashboard.components.stepping import SORT_WORDS, PairList
from dashboard.pages.matrix.callbacks import PICKED, outputs, show
from dashboard.pages.matrix.layout import layout, lead
from dashboard.pages.page import Event
from dashboard.state import Project
from tests.campaign.matrix_cells import PLAIN as CELL
from tests.dashboard.board_project import rating, write_board_project
from tests.dashboard.project import write_project
from tests.dashboard.reading import parts, properties, text

if TYPE_CHECKING:
    from pathlib import Path

    from correlate import Campaign

OTHER = replace(CELL, channel="y", words="head y")


def view_of(*cells: MatrixCell) -> MatrixView:
    """Return a view of some cells of one release, sorted by points lost."""
    return MatrixView(
        matrix=ReleaseMatrix(releases=("A2",), against={"A2": "A1"}, cells=cells),
        release="A2",
        listed=PairList(sort="lost"),
        titles={"drop": "Drop", "sled": "Sled"},
    )


@pytest.fixture(scope="module")
def board(tmp_path_factory: pytest.TempPathFactory) -> Project:
    """Return a project with three rated releases."""
    return Project(write_board_project(tmp_path_factory.mktemp("board")))


def opened(project: Project, search: str = "") -> dict[str, Any]:
    """Open a link."""
    return show(project, Event(trigger=None, search=search, picked=dict.fromkeys(PICKED), theme="light"))


def picked(project: Project, trigger: str, search: str = "", **values: str) -> dict[str, Any]:
    """Pick something, with everything else as the menus have it."""
    usual = {"view": "load-cases", "sort": "lost", "region": "all", "case": "all", "state": "all"}
    given = {"release": "B2", "against": "B1"} | usual | values
    return show(project, Event(trigger=trigger, search=search, picked=given, theme="light"))


def heads(page: dict[str, Any]) -> list[str]:
    """Return the heads of the columns behind the first."""
    return [one["headerName"] for one in page["columns"][1:]]


def names(page: dict[str, Any]) -> list[str]:
    """Return what the rows begin with."""
    return [f"{row['name']['words']}, {row['name']['note']}" for row in page["rows"]]


def cell_of(page: dict[str, Any], name: str, head: str) -> dict[str, str]:
    """Return what a cell shows, by its row and column."""
    field = next(one["field"] for one in page["columns"] if one["headerName"] == head)
    cell: dict[str, str] = next(row for row in page["rows"] if row["name"]["words"] == name)[field]
    return cell


def test_every_id_stands_on_the_page_once() -> None:
    """Each output and input of the callback has its component."""
    found = [str(part.id) for part in parts(frame([], layout(""))) if getattr(part, "id", None)]
    assert len(set(found)) == len(found)
    assert {str(output.component_id) for output in outputs().values()} <= set(found)
    assert set(PICKED.values()) <= set(found)


def test_every_order_and_state_has_words() -> None:
    """The menus and the legend have all that the core has; the legend explains every letter."""
    assert tuple(SORT_WORDS) == SORTS
    assert {*STATE_MARKS, "not rated", "rated"} == set(CELL_STATES)
    assert tuple(STATE_WORDS) == CELL_STATES
    said = text(layout(""))
    for state in (*STATE_MARKS, "not rated", "worse", "better", "not distinguishable"):
        assert state in said


def test_a_cell_shows_number_length_mark_change_and_place(board: Project) -> None:
    """All of channel 3 in load case 1, by hand; the cell leads to its pair with the list that it is in."""
    page = opened(board)
    cell = cell_of(page, "Channel 3", "Load case 1 <i>")
    by_hand = sum(rating(2, 1, 3, repeat) for repeat in range(3)) / 3
    assert (cell["number"], cell["fill"]) == (f"{by_hand:.3f}", f"{by_hand:.2%}")
    assert cell["ceiling"] == "95.00%"
    assert (cell["way"], cell["change"]) == ("worse", "−0.050")
    assert cell["marks"] == "ES"
    assert cell["said"].startswith(f"Channel 3, Load case 1 <i>, B2: {by_hand:.3f} poor. Ceiling 0.950")
    assert parse_qs(urlsplit(cell["href"]).query) == {
        "release": ["B2"],
        "against": ["B1"],
        "case": ["case-1"],
        "channel": ["c3"],
        "list": ["lost"],
    }
    assert urlsplit(cell["href"]).path == "/pair"
    json.dumps([page["columns"], page["rows"]])  # plain values alone: nothing of it is code


def test_the_heading_says_what_got_worse(board: Project) -> None:
    """Counts are those of the scoreboard: three channels worse, fifteen better; the states are counted."""
    page = opened(board)
    assert page["tab_title"] == "Release B2: 3 channels worse than B1, 15 better, on incomplete evidence"
    (title,) = (part for part in parts(page["heading"]) if isinstance(part, html.H1))
    assert text(title) == page["tab_title"]
    assert "18 channels in 3 load cases: 18 with data errors." in text(page["heading"])


def test_columns_are_load_cases_and_rows_channels_of_a_region(board: Project) -> None:
    """Held-out load cases are last and say so; the order of the rows is that of the worst cell of each."""
    page = opened(board, "?sort=rating")
    assert heads(page) == ["Load case 0 <i>", "Load case 1 <i>", "Load case 2 <i> (held out)"]
    cells = [[row[key] for key in row if key != "name"] for row in page["rows"]]
    lowest = [min(float(one["number"]) for one in row) for row in cells]
    assert lowest == sorted(lowest)
    assert len(names(page)) == 6
    assert "Channel 3, lumbar" in names(page)


def test_columns_can_be_releases(board: Project) -> None:
    """A row for each channel of each load case, a column for each release against the one before."""
    page = opened(board, "?view=releases&sort=change")
    assert heads(page) == ["B0", "B1 (against B0)", "B2 (against B1)"]
    assert len(page["rows"]) == 18
    assert {name.split(", ", maxsplit=1)[0] for name in names(page)[:3]} == {"Channel 3"}
    cell = cell_of(page, "Channel 3", "B1 (against B0)")
    assert parse_qs(urlsplit(cell["href"]).query)["against"] == ["B0"]
    assert "change" not in cell_of(page, "Channel 3", "B0")


def test_a_baseline_of_the_address_holds_for_every_release(board: Project) -> None:
    """Menu, change and link have it."""
    page = opened(board, "?against=B0")
    assert page["against"] == "B0"
    assert cell_of(page, "Channel 3", "Load case 0 <i>")["change"] == "−0.100"
    assert page["tab_title"].startswith("Release B2: 3 channels worse than B0")


def test_filters_are_in_the_link_and_can_be_cleared(board: Project) -> None:
    """A picked region leaves its rows, the address names it, and the way back keeps everything else."""
    page = picked(board, ids.MATRIX_REGION, "?channel=c1", region="lumbar", sort="change")
    assert page["search"] == "?release=B2&against=B1&sort=change&region=lumbar&channel=c1"
    assert names(page) == ["Channel 3, lumbar"]
    assert "3 of 18 channels shown" in text(page["lead"])
    clear = next(link["href"] for link in properties(page["lead"], dcc.Link) if "/matrix" in link["href"])
    assert clear == "/matrix?release=B2&against=B1&sort=change&channel=c1"
    cell = cell_of(page, "Channel 3", "Load case 0 <i>")
    assert parse_qs(urlsplit(cell["href"]).query)["list-region"] == ["lumbar"]
    again = opened(board, page["search"])
    assert again["search"] is no_update
    assert again["rows"] == page["rows"]
    assert (again["region"], again["case"], again["state"]) == ("lumbar", "all", "all")


def test_a_load_case_leaves_its_column_and_rows(board: Project) -> None:
    """In both views."""
    assert heads(opened(board, "?case=case-2")) == ["Load case 2 <i> (held out)"]
    rows = opened(board, "?view=releases&case=case-2")["rows"]
    assert {row["name"]["note"] for row in rows} == {"Load case 2 <i>"}


def test_a_state_hides_the_other_cells_of_a_row() -> None:
    """A row and a column stay for the cells that have the state; others in them are marked as left out."""
    stale: dict[str, Any] = {"states": {"stale": ("files differ",)}}
    view = view_of(
        replace(CELL, **stale), replace(CELL, load_case="sled"), replace(OTHER, load_case="sled", **stale)
    )
    listed = replace(view.listed, state="stale")
    view = replace(view, listed=listed)
    columns, rows = by_load_case(view, view.columns, view.channels)
    assert [one["headerName"] for one in columns[1:]] == ["Drop", "Sled"]
    faces = {row["name"]["words"]: {key: one.get("kind") for key, one in row.items()} for row in rows}
    assert faces["Head x"] == {"name": None, "c0": "rated", "c1": "hidden"}
    assert faces["Head y"] == {"name": None, "c1": "rated"}


def test_a_cell_says_what_it_does_not_know() -> None:
    """Not rated, no ceiling, a loss that is not known, one repeat: each looks like what it is."""
    view = view_of(CELL)
    gone = Change(kind="channel", place=(), words="", before=0.7, after=None, estimate=None, held_out=False)
    unrated = view.face(replace(CELL, rating=None, states={"not rated": ("no file",)}, change=gone))
    assert (unrated["kind"], unrated["number"], unrated["change"]) == ("unrated", "not rated", "was 0.700")
    assert "fill" not in unrated
    assert view.face(CELL)["kind"] == "rated"
    assert "ceiling" not in view.face(replace(CELL, ceiling=None))
    assert view.face(replace(CELL, states={"data error": ("gain",)}))["kind"] == "unsure"
    one = view.face(replace(CELL, change=replace(gone, after=0.6)))
    assert (one["way"], one["change"]) == ("worse", "−0.100 ?")
    assert view.face(replace(CELL, change=replace(gone, before=None, after=0.8)))["way"] == "new"
    assert "way" not in view.face(replace(CELL, change=replace(gone, before=None)))


def test_the_worst_channel_is_a_link(campaign: Campaign) -> None:
    """The largest known loss leads to its pair; missing ceilings name a command."""
    view = view_of(CELL, replace(OTHER, rating=0.5), replace(OTHER, load_case="sled", ceiling=None))
    said = lead(view, campaign, clear="/matrix")
    assert "Most points lost beyond scatter:  Head y, Drop , 0.450." in text(said)
    assert "1 of 3 channels without a ceiling" in text(said)
    link = next(iter(properties(said, dcc.Link)))
    assert link["href"] == "/pair?release=A2&against=A1&case=drop&channel=y&list=lost"


def test_a_filter_that_matches_nothing_says_so(board: Project) -> None:
    """No empty grid: a sentence and the way back; the menus stay."""
    page = opened(board, "?state=waived+finding")
    assert page["shown_hidden"] is True
    assert page["picks_hidden"] is False
    assert "No channel matches the filters" in text(page["problem"])
    (link,) = properties(page["problem"], dcc.Link)
    assert link["href"] == "/matrix?"


def test_a_picked_release_lets_go_of_the_baseline(board: Project) -> None:
    """As on the scoreboard."""
    page = picked(board, ids.MATRIX_RELEASE, release="B1")
    assert page["search"] == "?release=B1"
    assert (page["release"], page["against"]) == ("B1", "B0")
    first = picked(board, ids.MATRIX_RELEASE, release="B0")
    assert first["against"] is None
    assert "nothing to compare with" in first["tab_title"]


@pytest.mark.parametrize(
    ("search", "said"),
    [
        ("?release=B9", "there is no release 'B9'"),
        ("?against=B9", "there is no release 'B9'"),
        ("?view=releases&release=B9", "there is no release 'B9'"),
        ("?region=tail", "there is no region 'tail'"),
        ("?case=sled", "there is no load case 'sled'"),
        ("?state=fine", "there is no state 'fine'"),
        ("?sort=size", "there is no order 'size'"),
        ("?view=3d", "there is no view '3d'"),
    ],
)
def test_an_unknown_name_in_a_link_leads_back(board: Project, search: str, said: str) -> None:
    """The sentence names what there is, and the page has one heading and a way to the last release."""
    page = opened(board, search)
    assert said in text(page["problem"])
    (link,) = properties(page["problem"], dcc.Link)
    assert link["href"] == "/matrix"
    headings = [
        part for key in ("heading", "problem") for part in parts(page[key]) if isinstance(part, html.H1)
    ]
    assert [text(one) for one in headings] == ["Nothing to show for this link"]
    assert (page["picks_hidden"], page["shown_hidden"]) == (True, True)


def test_an_unrated_campaign_says_what_to_run_and_makes_no_store(folder: Path) -> None:
    """The commands are named; looking at the page writes nothing into the folder."""
    said = text(opened(Project(folder))["problem"])
    assert said.startswith("Nothing is rated yet")
    assert f"correlate score {folder}" in said
    assert f"correlate ceiling {folder}" in said
    assert not list(folder.glob("*.sqlite*"))


def test_a_folder_without_a_campaign_and_mistakes_are_messages(tmp_path: Path) -> None:
    """Both have the sentence of the core; menus and grid are hidden."""
    assert text(opened(Project(tmp_path))["problem"]).startswith("There is no campaign in this folder yet")
    (write_project(tmp_path) / "campaign.toml").write_text("title = 1\n", encoding="utf-8")
    assert text(opened(Project(tmp_path))["problem"]).startswith("The campaign file contains errors")


def test_every_value_has_its_output(board: Project, tmp_path: Path) -> None:
    """Whatever happens, the page sets every output once, and none besides."""
    for page in (opened(board), opened(board, "?release=x"), opened(Project(tmp_path))):
        assert page.keys() == outputs().keys()


@pytest.fixture(scope="module")
def wide(tmp_path_factory: pytest.TempPathFactory) -> Project:
    """Return a project with more channels than are sent at once."""
    folder = tmp_path_factory.mktemp("wide")
    return Project(write_board_project(folder, releases=2, load_cases=9, channels=60, repeats=1))


@pytest.fixture(scope="module")
def long(tmp_path_factory: pytest.TempPathFactory) -> Project:
    """Return a project with more releases than are sent at once."""
    folder = tmp_path_factory.mktemp("long")
    return Project(write_board_project(folder, releases=42, load_cases=1, channels=14, repeats=1))


def cells_on(page: dict[str, Any]) -> list[tuple[str, str]]:
    """Return load case and channel of the cells, row by row."""
    found = [cell for row in page["rows"] for key, cell in row.items() if key != "name"]
    queries = [parse_qs(urlsplit(cell["href"]).query) for cell in found]
    return [(one["case"][0], one["channel"][0]) for one in queries]


@pytest.mark.parametrize("sort", SORTS)
def test_the_pages_put_together_are_the_whole_matrix(wide: Project, sort: str) -> None:
    """Every channel stands on one page, in the order of all of them; each page says its rows."""
    pages = [opened(wide, f"?sort={sort}&page={number}") for number in (1, 2)]
    assert [text(page["pages"]).split(" First")[0] for page in pages] == [
        "Channels 1–33 of 60",
        "Channels 34–60 of 60",
    ]
    campaign = wide.campaign()
    whole = wide.numbers(campaign).matrix(campaign, releases=["B1"])
    ordered = whole.select("B1", sort=sort)
    rows = [row["name"]["said"] for page in pages for row in page["rows"]]
    channels = dict.fromkeys((one.words, one.region, one.channel) for one in ordered)
    said = [f"{words[:1].upper()}{words[1:]}, {region}, {name}" for words, region, name in channels]
    assert rows == said
    cells = [cell for page in pages for cell in cells_on(page)]
    assert sorted(cells) == sorted((one.load_case, one.channel) for one in ordered)


def test_rows_and_columns_of_all_releases_come_in_parts(long: Project) -> None:
    """The last part of both has the last rows and releases; its cells are those of the whole matrix."""
    page = opened(long, "?view=releases&sort=name&page=99")
    assert len(heads(page)) == 40
    assert text(page["pages"]).startswith("Channels 8–14 of 14 ")
    page = opened(long, "?view=releases&sort=name&columns=2")
    assert heads(page) == ["B40 (against B39)", "B41 (against B40)"]
    assert text(page["pages"]).startswith("Releases 41–42 of 42 ")
    campaign = long.campaign()
    kept = long.numbers(campaign)
    whole = kept.matrix(campaign, releases=["B40", "B41"])
    ordered = whole.select("B41", sort="name")
    assert cells_on(page) == [(one.load_case, one.channel) for one in ordered for _ in range(2)]
    places = {(one.load_case, one.channel) for one in ordered[5:9]}
    part = kept.matrix(campaign, releases=["B40", "B41"], places=places)
    assert part.cells == tuple(one for one in whole.cells if (one.load_case, one.channel) in places)


def test_cells_read_alone_are_those_of_the_whole_matrix(long: Project) -> None:
    """With a baseline and without, also for the first release and for axes of a sensor."""
    campaign = long.campaign()
    kept = long.numbers(campaign)
    releases = ["B0", "B7", "B8", "B41"]
    for against in ("", "B3"):
        whole = kept.matrix(campaign, releases=releases, against=against)
        places = {(one.load_case, one.channel) for one in whole.cells[::3]}
        with long.results(campaign) as results:
            found = results.cells(releases=releases, places=places, against=against)
        assert found.against == whole.against
        assert found.cells == tuple(one for one in whole.cells if (one.load_case, one.channel) in places)


def test_cells_read_alone_have_the_findings_in_their_channels(
    long: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also findings in whole tests and those that are waived; other channels add nothing."""
    campaign = long.campaign()
    names = ["", *(f"c{number}" for number in range(4))]
    findings = tuple(
        Finding(severity=severity, kind="spike", what=name, file="t.csv", channel=name, remedy="look")
        for name in names
        for severity in ("error", "warning")
    )
    case = campaign.load_cases[0]
    found = TestFindings(load_case=case.name, state="as they are", findings=findings)
    monkeypatch.setattr(Store, "findings", lambda *_: {case.name: found})
    monkeypatch.setattr(release_evidence, "state_of_check", lambda *_: "as they are")
    places = {(case.name, "c0"), (case.name, "c3")}
    whole = long.numbers(campaign).matrix(campaign, releases=["B7"])
    expected = tuple(one for one in whole.cells if (one.load_case, one.channel) in places)
    assert all("spike" in str(one.states) for one in expected)
    with long.results(campaign) as results:
        assert results.cells(releases=["B7"], places=places).cells == expected


def test_the_matrix_of_releases_combines_the_channels_of_two_releases_only(
    long: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of the others only the cells that are shown are read."""
    read: list[str] = []
    number_pairs = Store.number_pairs

    def counting(self: Store, campaign: str, **only: str) -> object:
        read.append(only["release"])
        return number_pairs(self, campaign, **only)

    monkeypatch.setattr(Store, "number_pairs", counting)
    monkeypatch.setattr(stored, "_SCORES", Remembered(24))
    opened(long, "?view=releases&release=B9")
    assert sorted(read) == ["B8", "B9"]


def test_no_page_of_a_large_matrix_is_large(wide: Project, long: Project) -> None:
    """What is sent at once stays below 200 kB, with few columns and with many."""
    for project, search in ((wide, ""), (wide, "?view=releases&page=5"), (long, "?view=releases")):
        assert len(json.dumps(opened(project, search), cls=PlotlyJSONEncoder)) < 200_000


def test_a_small_matrix_has_no_pages_and_a_pick_returns_to_the_first(board: Project) -> None:
    """Nothing is said of pages where everything fits; another order or filter begins at the beginning."""
    assert opened(board)["pages"] == []
    page = picked(board, ids.MATRIX_SORT, "?page=3&columns=2", sort="name")
    assert "page" not in page["search"]
    assert "columns" not in page["search"]
