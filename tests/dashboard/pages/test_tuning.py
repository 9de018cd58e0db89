"""The tuning page: runs, surrogates, and proposals that are ticked and exported."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING, Any

import plotly.graph_objects as go
import pytest
from dash import html, no_update

from correlate import tuning_overview
from correlate.tuning.definition import load_tuning
from correlate.tuning.points import read_points
from dashboard import ids
from dashboard.access import THIS_MACHINE, Account, Role
from dashboard.access.account import ACCOUNT, needs_of
from dashboard.app import create_app
from dashboard.components.data import job_parts
from dashboard.jobs import Jobs, JobState, jobs_of_server, offer_jobs
from dashboard.jobs.table import JobTable
from dashboard.jobs.worker import JobSettings, Worker
from dashboard.pages.page import Event
from dashboard.pages.tuning import callbacks as tuning
from dashboard.pages.tuning.fit import export, show_fit, start_fit
from dashboard.pages.tuning.layout import asked_for, ticked_numbers
from dashboard.selection import read_query
from dashboard.state import Project
from tests.dashboard.project import write_project
from tests.dashboard.reading import properties, text
from tests.dashboard.tuned_project import SEVERAL, write_tuning

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str, JobState]:
    """Write the project and fit it as the page would, once: the folder, the address then, and the job."""
    folder = write_tuning(write_project(tmp_path_factory.mktemp("tuned")))
    jobs = tmp_path_factory.mktemp("jobs")
    app = create_app(folder)
    offer_jobs(app, Jobs(jobs))
    with app.server.test_request_context("/"):
        from flask import g  # noqa: PLC0415 - there is a request only now

        setattr(g, ACCOUNT, THIS_MACHINE)
        search, _ = start_fit("?outcome=train&ticked=1")
        number = read_query(search, ["job"])["job"]
        assert Worker(table=JobTable(jobs), place=JobSettings(project=folder)).do_next()
        return folder, search, jobs_of_server().state(number)


@pytest.fixture(scope="module")
def fitted(made: tuple[Path, str, JobState]) -> Path:
    """Return the folder of a project with a fit; tests that change files copy it."""
    return made[0]


@pytest.fixture
def unfitted(tmp_path: Path) -> Path:
    """Write a project without a fit."""
    return write_tuning(write_project(tmp_path / "unfitted"))


@pytest.fixture
def request_of_admin(unfitted: Path, tmp_path: Path) -> Iterator[None]:
    """Answer a request of the person at this machine, on a server with jobs."""
    app = create_app(unfitted)
    offer_jobs(app, Jobs(tmp_path / "jobs"))
    with app.server.test_request_context("/"):
        from flask import g  # noqa: PLC0415 - there is a request only now

        setattr(g, ACCOUNT, THIS_MACHINE)
        yield


def asking(search: str = "", *, trigger: str | None = None, **picked: Any) -> Event:
    """Return what the browser sends."""
    fields = {"outcome": None, "along": None, "ticked": []} | picked
    return Event(trigger=trigger, search=search, picked=fields, theme="light")


def test_runs_are_shown_as_they_ended(fitted: Path) -> None:
    """Title as text, how runs ended, what the best brought; a row a run with its reason; figures drawn."""
    shown = tuning.show_runs(Project(fitted), "light")
    words = text(shown["heading"])
    assert "Skin <b> and rubber" in words
    assert "2 parameters, 13 runs: 11 done, 1 failed, 1 waiting" in words
    assert "at the start" in words
    assert [row["end"] for row in shown["rows"][-2:]] == ["failed", "waiting"]
    assert shown["rows"][-2]["why"] == "the program ended with code 3"
    assert shown["rows"][-1]["outcome 0"] is None
    overview = tuning_overview(fitted)
    assert shown["rows"][3]["outcome 0"] == float(overview.table.outcomes["train"][3])
    assert [one["headerName"] for one in shown["columns"]][-2:] == ["skin [MPa]", "rubber [kN/m]"]
    assert isinstance(shown["all_runs"], go.Figure)
    assert (shown["hidden"], shown["front_hidden"], shown["next_hidden"]) == (False, True, True)
    assert "There is one objective, train" in text(shown["front_words"])


def test_one_round_is_told_and_two_are_drawn(unfitted: Path) -> None:
    """A figure with one point would say nothing."""
    shown = tuning.show_runs(Project(unfitted), "light")
    overview = tuning_overview(unfitted)
    words = text(shown["progress_words"])
    assert shown["progress_hidden"]
    assert "Only the design has been run." in words
    assert f"{overview.rounds[0].raised['train']:.3f}" in words
    design = unfitted / "design.csv"
    lines = design.read_text(encoding="utf-8").splitlines()
    lines[8:] = [one.replace(",0,", ",1,", 1) for one in lines[8:]]
    design.write_text("\n".join(lines) + "\n", encoding="utf-8")
    shown = tuning.show_runs(Project(unfitted), "light")
    assert not shown["progress_hidden"]
    assert list(shown["progress"].data[0].x) == [0, 1]


def test_the_numbers_of_a_column_have_equal_decimals(unfitted: Path) -> None:
    """Ratings three; a parameter as many as its bounds need."""
    shown = tuning.show_runs(Project(unfitted), "light")
    formats = {
        one["headerName"]: one["valueFormatter"]["function"]
        for one in shown["columns"]
        if "valueFormatter" in one
    }
    assert "d3.format('.3f')" in formats["train"]
    assert "d3.format('.2f')" in formats["skin [MPa]"]
    assert "d3.format('.3f')" in formats["rubber [kN/m]"]


@pytest.mark.parametrize(("finished", "added"), [(2, 2), (3, 1)])
def test_points_that_a_fit_lacks_are_added(tmp_path: Path, finished: int, added: int) -> None:
    """Five runs are needed; one point waits. Afterwards enough points wait, and the button is gone."""
    project = Project(write_tuning(write_project(tmp_path / "few"), finished=finished))
    before = (project.folder / "design.csv").read_text(encoding="utf-8")
    shown = tuning.show_runs(project, "light")
    assert f"{finished} finished, 1 waiting" in text(shown["next_words"])
    assert (shown["next_hidden"], shown["add_hidden"]) == (False, False)
    assert shown["add_words"] == (f"Add {added} design points" if added > 1 else "Add 1 design point")
    assert show_fit(project, asking())["start_disabled"]
    changed, said = tuning.add_points(project, 1)
    assert changed
    assert text(said).startswith(f"{added} point")
    after = (project.folder / "design.csv").read_text(encoding="utf-8")
    assert after.startswith(before)
    assert len(after.splitlines()) == len(before.splitlines()) + added
    shown = tuning.show_runs(project, "light")
    assert "correlate tune run" in text(shown["next_words"])
    assert (shown["next_hidden"], shown["add_hidden"]) == (False, True)
    _, said = tuning.add_points(project, 2)
    assert "the design has enough points" in text(said)


def test_a_design_is_begun_on_the_page(unfitted: Path) -> None:
    """Without design points nothing is wrong: the page says what they are for, and adds them."""
    (unfitted / "design.csv").unlink()
    project = Project(unfitted)
    shown = tuning.show_runs(project, "light")
    assert text(shown["heading"]).startswith("Skin <b> and rubber")
    assert (shown["problem"], shown["next_hidden"], shown["hidden"]) == ("", False, True)
    assert shown["add_words"] == "Add 5 design points"
    _, said = tuning.add_points(project, 1)
    assert "restore it, or move runs away" in text(said)
    assert not (unfitted / "design.csv").exists()
    shutil.rmtree(unfitted / "runs")
    _, said = tuning.add_points(project, 1)
    assert "5 points added" in text(said)
    assert len(tuning_overview(unfitted).table) == 5


def test_a_run_that_looks_better_but_breaks_a_limit_is_told_in_the_heading(unfitted: Path) -> None:
    """Its rating and the limit that it misses; without such a run nothing is said."""
    assert "violates the limit" not in text(tuning.show_runs(Project(unfitted), "light")["heading"])
    file = unfitted / "runs/p004/record.json"
    record = json.loads(file.read_text(encoding="utf-8"))
    record["outcomes"] |= {"train": 0.95, "load case/impact": 0.6}
    file.write_text(json.dumps(record), encoding="utf-8")
    words = text(tuning.show_runs(Project(unfitted), "light")["heading"])
    assert "p004 has 0.950 but violates the limit 'load case/impact' (−0.03)" in words


def test_several_outcomes_have_a_front(tmp_path: Path) -> None:
    """The runs that no other beats are drawn and counted."""
    folder = write_tuning(write_project(tmp_path / "several"), objective=SEVERAL)
    shown = tuning.show_runs(Project(folder), "dark")
    assert not shown["front_hidden"]
    front = tuning_overview(folder).front
    assert front
    assert f"{len(front.rows)} runs are not beaten by any other" in text(shown["front_words"])
    assert isinstance(shown["front"], go.Figure)


@pytest.mark.parametrize(
    ("absent", "title", "way_out"),
    [
        (("tuning.toml",), "No tuning in this project yet", "correlate tune design"),
        (("model.template",), "The tuning project cannot be read", "Correct the file"),
    ],
)
def test_what_is_absent_has_a_way_out(
    unfitted: Path, absent: tuple[str, ...], title: str, way_out: str
) -> None:
    """No project, or one that cannot be read: said with what to do, and nothing else."""
    for name in absent:
        (unfitted / name).unlink()
    shown = tuning.show_runs(Project(unfitted), "light")
    assert title in text(shown["problem"])
    assert way_out in text(shown["problem"])
    assert shown["hidden"]
    assert show_fit(Project(unfitted), asking())["words"] is no_update


def test_runs_that_cannot_be_compared_are_still_shown(unfitted: Path) -> None:
    """Without the run at the start point there is no best one; the table is there all the same."""
    shutil.rmtree(unfitted / "runs/p000")
    shown = tuning.show_runs(Project(unfitted), "light")
    assert "The runs cannot be compared yet: the start point has no finished run" in text(shown["problem"])
    assert len(shown["rows"]) == 13
    assert shown["progress_hidden"]
    assert "No runs to compare yet." in text(shown["progress_words"])


def test_without_a_fit_there_is_a_word_and_no_figure(unfitted: Path) -> None:
    """What a fit would say, and that nothing is proposed."""
    shown = show_fit(Project(unfitted), asking())
    assert "No surrogates have been fitted yet" in text(shown["words"])
    assert (shown["hidden"], shown["ticked"]) == (True, [])
    assert "No run is proposed yet." in text(shown["proposals"])


def test_the_fit_is_shown_for_the_outcome_and_parameter_of_the_link(fitted: Path) -> None:
    """Menus, words and the three figures follow the address; the strongest parameter comes first."""
    shown = show_fit(Project(fitted), asking())
    assert (shown["outcome"], shown["along"]) == ("train", "skin")
    assert "Each run predicted from the others: Q² 0.9" in shown["outcome_words"]
    assert "Fitted to all finished runs." in text(shown["words"])
    shown = show_fit(Project(fitted), asking("?outcome=load+case%2Fimpact&along=rubber"))
    assert (shown["outcome"], shown["along"]) == ("load case/impact", "rubber")
    assert shown["slice"].layout.xaxis.title.text == "rubber [kN/m]"
    assert shown["predicted"].layout.xaxis.title.text == "load case/impact, rated"
    assert isinstance(shown["sensitivity"], go.Figure)
    assert shown["search"] is no_update


def test_a_link_to_what_was_not_fitted_leaves_the_menu_open(fitted: Path) -> None:
    """The page says that it has to be picked."""
    shown = show_fit(Project(fitted), asking("?outcome=nothing"))
    assert shown["outcome"] is None
    assert "was not fitted" in shown["outcome_words"]


def test_picks_and_ticks_are_written_into_the_address(fitted: Path) -> None:
    """What is picked on the page is a link a moment later, the job of the address kept."""
    event = asking("?job=abc", trigger=ids.TUNING_CHOSEN, outcome="train", along="rubber", ticked=["2", "0"])
    asked = {key: value for key, value in asked_for(event).items() if value}
    assert asked == {"job": "abc", "outcome": "train", "along": "rubber", "ticked": "1,3"}
    shown = show_fit(Project(fitted), event)
    assert shown["asked"] == {"outcome": "train", "along": "rubber", "ticked": "1,3"}
    assert read_query(shown["search"], ["ticked", "along"]) == {"ticked": "1,3", "along": "rubber"}
    assert shown["ticked"] == ["0", "2"]
    assert ticked_numbers("0,4,-1,²") == [3]


def test_proposals_have_predictions_and_reasons(fitted: Path) -> None:
    """Each is named, with its interval, its reason and its values; older ticks are dropped."""
    shown = show_fit(Project(fitted), asking("?ticked=2,9"))
    words = text(shown["proposals"])
    assert "Proposal 3" in words
    assert "95 % between" in words
    assert "kN/m" in words
    assert shown["ticked"] == ["1"]
    assert len(properties(shown["proposals"], html.Article)) == 8


def test_ticked_proposals_are_a_design(fitted: Path, tmp_path: Path) -> None:
    """The file is what design.csv would take: the next round, new names, inside the bounds."""
    file, said = export(Project(fitted), "?ticked=1,3")
    assert (file["filename"], said) == ("proposed-runs.csv", "")
    (tmp_path / "proposed.csv").write_text(file["content"], encoding="utf-8")
    points = read_points(tmp_path / "proposed.csv", load_tuning(fitted).space)
    assert [(one.identity, one.round) for one in points] == [("p013", 1), ("p014", 1)]
    overview = tuning_overview(fitted)
    assert overview.fit
    assert points[1].values["skin"] == pytest.approx(overview.fit.proposals[2].point[0], rel=1e-5)


@pytest.mark.parametrize(
    ("search", "words"), [("", "No proposal is selected."), ("?ticked=9", "there is no proposal 9")]
)
def test_nothing_to_export_is_said(fitted: Path, search: str, words: str) -> None:
    """No tick, or one of a proposal that is gone."""
    file, said = export(Project(fitted), search)
    assert file is no_update
    assert words in text(said)


def test_a_fit_of_other_runs_says_so(fitted: Path, tmp_path: Path) -> None:
    """With one run fewer the fit is old; torn, it cannot be read; both say what to do."""
    folder = tmp_path / "older"
    shutil.copytree(fitted, folder)
    shutil.rmtree(folder / "runs/p011")
    shown = show_fit(Project(folder), asking())
    assert "fit again to include them" in text(shown["words"])
    assert not shown["hidden"]
    (folder / "fit.json").write_text("{", encoding="utf-8")
    shown = show_fit(Project(folder), asking())
    assert "fit the surrogates again" in text(shown["words"])
    assert shown["hidden"]


def test_a_fit_is_made_by_a_job(made: tuple[Path, str, JobState]) -> None:
    """Started from the page, done by the worker, shown afterwards; ticks of the old proposals are gone."""
    folder, search, state = made
    asked = read_query(search, ["outcome", "ticked"])
    assert asked == {"outcome": "train", "ticked": ""}
    assert (state.stage, state.progress) == ("done", 1.0)
    assert "5 outcomes were fitted, 8 runs are proposed." in text(job_parts(state))
    assert not show_fit(Project(folder), asking(search))["hidden"]


@pytest.mark.usefixtures("request_of_admin")
def test_too_few_runs_end_the_job_with_a_sentence(tmp_path: Path) -> None:
    """The job fails with the reason, and no fit is there."""
    folder = write_tuning(write_project(tmp_path / "few"), finished=3)
    number = read_query(start_fit("")[0], ["job"])["job"]
    assert Worker(table=JobTable(tmp_path / "jobs"), place=JobSettings(project=folder)).do_next()
    assert "too few for a surrogate" in jobs_of_server().state(number).failure
    assert not (folder / "fit.json").exists()


def test_the_server_checks_the_roles(unfitted: Path) -> None:
    """Everybody looks; fitting and taking proposals away need an analyst, and only an analyst sees how."""
    app = create_app(unfitted)
    needs = needs_of(app).callbacks
    for output, least in (
        (ids.TUNING_GRID, Role.VIEWER),
        (ids.TUNING_PROPOSALS, Role.VIEWER),
        (ids.TUNING_FIT_SAID, Role.ANALYST),
        (f"{ids.TUNING_FILE}.data", Role.ANALYST),
    ):
        (found,) = [one for key, one in needs.items() if f"{output}." in key or output in key.split("...")[0]]
        assert found.role == least, output
    with app.server.test_request_context("/"):
        from flask import g  # noqa: PLC0415 - there is a request only now

        setattr(g, ACCOUNT, Account(name="a viewer", role=Role.VIEWER))
        hidden = [one for one in properties(tuning.layout(""), html.Div) if one.get("hidden")]
        assert "Export selected as CSV" in text([one["children"] for one in hidden])
