"""The decision sheet: events in, everything that is shown out; signing, remarks and the report."""

from __future__ import annotations

import re
import shutil
from typing import TYPE_CHECKING, Any

import pytest
from dash import dcc, html, no_update
from flask import g

from correlate import RunInfo, load_campaign, open_store, score_into
from correlate.plots import DARK
from dashboard import ids, state
from dashboard.access import Account, Role
from dashboard.access.account import TRAIL
from dashboard.app import create_app
from dashboard.components.frame import frame
from dashboard.jobs import Jobs, jobs_of_server, offer_jobs
from dashboard.pages.decision import export
from dashboard.pages.decision.callbacks import outputs, show, show_trend
from dashboard.pages.decision.layout import CHOICE, layout
from dashboard.pages.decision.signing import remark, sign
from dashboard.pages.page import Event
from dashboard.state import Project
from tests.dashboard.board_project import rating, write_board_project
from tests.dashboard.project import write_project
from tests.dashboard.reading import parts, properties, text
from tests.dashboard.served import asked, sign_in, with_accounts

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from dash import Dash


@pytest.fixture(scope="module")
def board(tmp_path_factory: pytest.TempPathFactory) -> Project:
    """Return a project with three rated releases, whose store proves nothing: their files are not there."""
    return Project(write_board_project(tmp_path_factory.mktemp("board")))


@pytest.fixture(scope="module")
def rated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the small project with limits and rate it."""
    folder = write_project(tmp_path_factory.mktemp("decision") / "small")
    file = folder / "campaign.toml"
    limits = "[limits]\nleast = 0.3\nlargest_loss = 0.5\n\n[[load_case]]"
    kept = file.read_text(encoding="utf-8").replace("[[load_case]]", limits, 1)
    # The result of this channel is too coarse for its usual filter class.
    file.write_text(kept.replace('region = "spine"', 'region = "spine"\ncfc = 180'), encoding="utf-8")
    with open_store(folder / "ratings.sqlite") as store:
        score_into(store, load_campaign(folder), run=RunInfo.now(who="analyst"), workers=1)
    return folder


@pytest.fixture
def small(rated: Path, tmp_path: Path) -> Project:
    """Return a copy that a test may change."""
    return Project(shutil.copytree(rated, tmp_path / "small"))


def opened(project: Project, search: str = "", theme: str = "light") -> dict[str, Any]:
    """Open a link."""
    picked = dict.fromkeys(CHOICE.picked)
    return show(project, Event(trigger=None, search=search, picked=picked, theme=theme))


def test_every_id_stands_on_the_page_once() -> None:
    """Each output and input of the callbacks has its component."""
    found = [str(part.id) for part in parts(frame([], layout(""))) if getattr(part, "id", None)]
    assert len(set(found)) == len(found)
    assert {str(output.component_id) for output in outputs().values()} <= set(found)
    assert {*CHOICE.picked.values(), ids.THEME, ids.DECISION_PRINT, ids.DECISION_EXPORT} <= set(found)


def test_the_verdict_stands_first_and_is_never_good_news_without_evidence(board: Project) -> None:
    """One heading; then the lowest channel, numbers of tuned and held-out load cases, and the evidence."""
    page = opened(board)
    (heading,) = [part for part in parts(page["content"]) if isinstance(part, html.H1)]
    verdict = "B2 misses 4 of 28 limits, on incomplete evidence; as rated, worse than B1"
    assert text(heading) == page["tab_title"] == verdict
    assert page["shown"] == {"release": "B2", "against": "B1", "verdict": verdict}
    said = text(page["content"])
    for words in (
        "Load cases open to tuning",
        "Held out of tuning",
        "Limits in the campaign file: rating at least 0.6, loss at most 0.02.",
        "Ratings that are stale or missing",
        "B2, 3 load cases",
        "stale: there is no record of the repeats and files behind its ratings; score it",
        "B1 ratings are of the present files",
        "95 % interval",
    ):
        assert words in said
    assert "All load cases" not in said
    assert text(page["source"]).startswith("Last rated 2031-04-05 06:07 UTC by analyst")


def test_every_objection_leads_to_what_it_is_about(board: Project) -> None:
    """A channel to its pair, a load case or region to the scoreboard, what is stale to the data page."""
    page = opened(board)
    hrefs = {one["href"] for one in properties(page["content"], dcc.Link)}
    assert {f"/pair?release=B2&against=B1&case=case-{n}&channel=c3" for n in range(3)} <= hrefs
    assert "/scoreboard?release=B2&against=B1" in hrefs
    assert "/data?release=B2" in hrefs
    assert "/scoreboard?release=B2&against=B1&case=case-2" in hrefs
    assert "/pair?release=B2&against=B1&case=case-2" not in hrefs


def test_a_channel_that_is_poor_and_misses_a_limit_is_one_entry(board: Project) -> None:
    """Its rating, and both reasons."""
    entries = [text(one) for one in parts(opened(board)["content"]) if isinstance(one, html.Li)]
    (entry,) = [one for one in entries if one.startswith("Channel 3 Load case 0 <i>")]
    number = sum(rating(2, 0, 3, repeat) for repeat in range(3)) / 3
    assert f"{number:.3f}" in entry
    assert "no loss above 0.02 against B1" in entry
    assert entry.endswith("poor, below 0.58")


def test_the_trend_follows_the_theme(board: Project) -> None:
    """The figure of a dark page is dark; it shows all releases, and marks the selected one."""
    shown = opened(board, "?release=B1")["shown"]
    (graph,) = properties(show_trend(board, shown, "dark"), dcc.Graph)
    assert [bool(word) for word in graph["figure"].data[0].text] == [False, True, False]
    assert graph["figure"].layout.paper_bgcolor == DARK.panel


def test_a_picked_release_keeps_the_rest_of_the_selection(board: Project) -> None:
    """Load case and channel stay in the address, for the pages that use them; the job does not."""
    picked = {"release": "B1", "against": "B2"}
    search = "?release=B2&case=case-1&channel=c1&job=x"
    page = show(board, Event(trigger=ids.DECISION_RELEASE, search=search, picked=picked, theme="light"))
    assert page["search"] == "?release=B1&case=case-1&channel=c1"
    assert page["shown"]["against"] == "B0"


def test_a_file_without_limits_says_how_to_set_them(tmp_path: Path) -> None:
    """No limit is invented; the page says what to write, and judges nothing."""
    folder = write_board_project(tmp_path, releases=1, load_cases=1)
    file = folder / "campaign.toml"
    kept = file.read_text(encoding="utf-8").replace("[limits]\nleast = 0.6\nlargest_loss = 0.02\n", "")
    file.write_text(kept, encoding="utf-8")
    page = opened(Project(folder))
    assert "The campaign file sets no limits" in text(page["content"])
    assert "meets" not in page["tab_title"]


def waive(project: Project) -> None:
    """Accept every error of the data check: both tests of a load case come from one formula."""
    evidence = project.board(project.campaign()).board.evidence
    assert evidence is not None
    lines = [
        f'[[waivers]]\ntest = "{gap.repeat}"\nchannel = "{gap.channel}"\nfinding = "copy"\n'
        'who = "lab"\ndate = 2026-03-01\nwhy = "computed"\n'
        for gap in evidence.of("data error")
    ]
    (project.folder / "waivers.toml").write_text("\n".join(lines), encoding="utf-8")


def test_met_limits_are_said_only_on_complete_evidence(small: Project) -> None:
    """With open errors in the tests nothing is judged; once somebody answers for them, the limits are."""
    before = opened(small)
    assert before["tab_title"].startswith("A2 cannot be judged yet, because its evidence is incomplete")
    assert "copy: the channel is channel" in text(before["content"])
    waive(small)
    after = opened(small)
    assert re.match(r"A2 meets all \d+ limits; better than A1$", after["tab_title"])
    assert "9 of 9 checks of the evidence are met" in text(after["content"])
    assert "Waived findings: " in text(after["content"])
    assert text(after["sign_offs"]) == "Not signed off."
    assert text(after["notes"]) == "No remark yet."
    assert after["rated_hidden"] is False


@pytest.mark.parametrize("make", [lambda folder: folder, write_project])
def test_without_ratings_there_is_a_message_and_nothing_to_sign(tmp_path: Path, make: Any) -> None:
    """No campaign, and a campaign that is not rated: one heading, the reason, and no store is made."""
    page = opened(Project(make(tmp_path)))
    said = text(page["content"])
    assert said.startswith(("There is no campaign", "Nothing is rated yet"))
    assert (page["rated_hidden"], page["picks_hidden"], page["shown"]) == (True, True, None)
    assert not list(tmp_path.glob("*.sqlite*"))
    assert page.keys() == outputs().keys()


GIVEN = {"role": "manager", "who": " office ", "scope": "seats only", "words": "Agreed."}


def signed(project: Project, **changes: str | None) -> dict[str, Any]:
    """Sign what the page shows."""
    return sign(project, opened(project)["shown"], GIVEN | changes)


def test_a_release_is_signed_and_the_page_says_for_what(small: Project) -> None:
    """Role, day, name, scope and words are in the list; the fields are emptied; it is current."""
    done = signed(small)
    assert text(done["said"]) == "Release A2 is signed off as manager."
    assert (done["scope"], done["words"]) == ("", "")
    said = text(opened(small)["sign_offs"])
    assert said.startswith("manager, ")
    assert said.endswith(", office Scope: seats only Agreed.")
    signed(small, scope="")
    assert text(opened(small)["sign_offs"]).endswith("Scope: everything the campaign covers Agreed.")


def test_a_signed_release_whose_inputs_change_says_so(small: Project) -> None:
    """On the page, in alert colour and in words, and the verdict is open again."""
    signed(small)
    file = small.folder / "laboratory/drop/D01.csv"
    file.write_text(file.read_text(encoding="utf-8").replace("200", "201"), encoding="utf-8")
    page = opened(small)
    changed = "No longer current: tests, model results or settings have changed since."
    assert text(page["sign_offs"]).endswith(changed)
    marks = [one for one in parts(page["sign_offs"]) if getattr(one, "className", "") == "evidence-mark"]
    assert text(marks) == changed
    assert "cannot be judged yet" in page["tab_title"]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"who": "  "}, "the name is empty; enter your name"),
        ({"role": "king"}, "this account cannot sign as 'king'; sign as manager or analyst or lab"),
        ({"role": None}, "this account cannot sign as ''"),
        ({"scope": "a\0b"}, "is not text that can be stored"),
    ],
)
def test_what_cannot_be_signed_is_refused(small: Project, changes: dict[str, Any], words: str) -> None:
    """The reason is said, the fields keep what was typed, and nothing is written."""
    done = signed(small, **changes)
    assert words in text(done["said"])
    assert done["scope"] is done["written"] is no_update
    assert text(opened(small)["sign_offs"]) == "Not signed off."


def test_nobody_signs_what_the_page_did_not_show(small: Project) -> None:
    """A verdict that changed after the page was opened has to be read first."""
    shown = opened(small)["shown"]
    assert "reload the page" in text(sign(small, None, GIVEN)["said"])
    file = small.folder / "campaign.toml"
    file.write_text(file.read_text(encoding="utf-8").replace("least = 0.3", "least = 0.99"), encoding="utf-8")
    said = text(sign(small, shown, GIVEN)["said"])
    assert "the verdict has changed since this page was opened: A2 misses" in said
    assert text(opened(small)["sign_offs"]) == "Not signed off."


def test_a_remark_is_listed_with_its_writer(small: Project) -> None:
    """The newest first; an empty one is refused."""
    shown = opened(small)["shown"]
    for words in ("first", "second\nline"):
        assert remark(small, shown, {"who": "lab", "note": words})["note"] == ""
    said = text(opened(small)["notes"])
    assert said.index("second") < said.index("first")
    assert "lab, " in said
    assert text(opened(small, "?release=A1")["notes"]) == "No remark yet."
    assert "the remark is empty; write one" in text(remark(small, shown, {"who": "x", "note": " "})["said"])


def test_a_read_only_project_offers_no_form_and_refuses(
    small: Project, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The reason stands in the place of the fields; whoever sends them all the same is refused."""
    shown = opened(small)["shown"]
    monkeypatch.setattr(state, "may_write", lambda _: False)
    monkeypatch.setattr("correlate.store.store.may_write", lambda _: False)
    app = create_app(small.folder)
    with app.server.test_request_context("/", base_url="http://127.0.0.1:8050"):
        assert app.server.preprocess_request() is None
        said = text(layout(""))
    assert said.count("Disabled: there is no permission to save ratings.") == 2
    assert "the project is read-only" in text(sign(small, shown, GIVEN)["said"])
    assert "the project is read-only" in text(remark(small, shown, {"who": "x", "note": "y"})["said"])


@pytest.fixture
def server(small: Project, tmp_path: Path) -> Iterator[Dash]:
    """Return a server with accounts and jobs over the small project."""
    app = create_app(small.folder)
    engine = with_accounts(app, tmp_path)
    offer_jobs(app, Jobs(tmp_path / "jobs"))
    yield app
    engine.dispose()


def test_an_account_signs_in_its_own_role_and_name(small: Project, server: Dash) -> None:
    """Whatever is typed: name and role are those of the account, and the trail has the line."""
    shown = opened(small)["shown"]
    with server.server.test_request_context("/", base_url="https://ratings.example"):
        g.account = Account(name="office", role=Role.MANAGER)
        assert "Signing requires" not in text(layout(""))
        sign(small, shown, GIVEN | {"who": "somebody else"})
        refused = sign(small, shown, GIVEN | {"role": "lab"})
        g.account = Account(name="guest", role=Role.VIEWER)
        assert "Signing requires the role manager, analyst or lab." in text(layout(""))
    assert "this account cannot sign as 'lab'; sign as manager" in text(refused["said"])
    with open_store(small.folder / "ratings.sqlite") as store:
        (one,) = store.sign_offs()
    assert (one.who, one.role) == ("office", "manager")
    lines = [(line.who, line.what, line.about) for line in server.server.extensions[TRAIL].last(9)]
    assert lines == [("office", "signed a release off", "A2 as manager; scope: seats only")]


def test_a_report_is_started_for_what_is_shown(small: Project, server: Dash) -> None:
    """The number of the job is in the address beside the selection; nothing shown, nothing started."""
    shown = opened(small)["shown"]
    with server.server.test_request_context("/", base_url="https://ratings.example"):
        g.account = Account(name="office", role=Role.MANAGER)
        search, said = export.start(shown, "?release=A2&case=drop")
        assert said == ""
        assert search.startswith("?release=A2&case=drop&job=")
        state_of = jobs_of_server().state(search.split("job=")[1])
        assert state_of.arguments == {"release": "A2", "against": "A1"}
        assert "No release is shown" in text(export.start(None, "")[1])


def test_without_jobs_the_command_is_named(small: Project) -> None:
    """A project that may only be read has no worker on one machine."""
    app = create_app(small.folder)
    with app.server.test_request_context("/", base_url="http://127.0.0.1:8050"):
        said = export.start(opened(small)["shown"], "")[1]
    assert "this server runs no background jobs; use the command line" in text(said)


def test_a_report_that_is_not_there_is_not_handed_out(server: Dash) -> None:
    """Neither to a viewer, who may not, nor anything else than a report to a manager, who may."""
    viewer, manager = server.server.test_client(), server.server.test_client()
    sign_in(viewer, "viewer")
    sign_in(manager, "manager")
    assert asked(viewer, "GET", "/report/x/pdf").status_code == 403
    assert asked(manager, "GET", "/report/x/pdf").status_code == 404
    assert asked(server.server.test_client(), "GET", "/report/x/pdf").status_code == 303


def test_more_objections_than_fit_are_counted_on_paper(tmp_path: Path) -> None:
    """None is lost where details cannot be opened."""
    project = Project(write_board_project(tmp_path, releases=2, load_cases=16))
    stored = project.board(project.campaign())
    assert len(stored.decision.objections) > 12
    more = len(stored.decision.objections) - 12
    said = text(opened(project)["content"])
    assert f"{more} more are on the screen." in said
