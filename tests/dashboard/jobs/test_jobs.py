"""Jobs: started by who may, done for real, watched, cancelled, and never lost silently."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest
from werkzeug.exceptions import Forbidden

from correlate import CorrelateError, open_store
from dashboard.access import Account, Role
from dashboard.components.data import job_parts
from dashboard.jobs import Jobs, jobs_of_server, offer_jobs
from dashboard.jobs.jobs import MOST_OPEN
from dashboard.jobs.kinds import KINDS
from dashboard.jobs.table import JobTable
from dashboard.jobs.worker import FAULT, WORKER_ENDED
from tests.dashboard.jobs.at_work import desk
from tests.dashboard.project import write_project
from tests.dashboard.reading import text
from tests.dashboard.served import small_app

if TYPE_CHECKING:
    from pathlib import Path

    from tests.dashboard.jobs.at_work import Desk

ANALYST = Account(name="analyst", role=Role.ANALYST)
LAB = Account(name="lab", role=Role.LAB)
ADMIN = Account(name="admin", role=Role.ADMIN)


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """Write a project of 2 load cases, 2 repeats, 2 releases and 16 pairs; 14 can be rated."""
    return write_project(tmp_path / "project")


@pytest.fixture
def work(project: Path, tmp_path: Path) -> Desk:
    """Return jobs over it."""
    return desk(project, tmp_path / "jobs")


def rated(project: Path) -> int:
    """Return how many ratings the store holds."""
    with open_store(project / "ratings.sqlite") as store:
        return len(list(store.ratings()))


def test_a_campaign_is_rated_in_the_background(work: Desk, project: Path) -> None:
    """From waiting to done; the store has the ratings under the name of who started it."""
    number = work.jobs.start("score", {}, ANALYST)
    waiting = work.jobs.state(number)
    assert (waiting.stage, waiting.progress, waiting.over) == ("waiting", 0, False)
    assert (waiting.kind, waiting.who, waiting.arguments) == ("score", "analyst", {"releases": []})
    work.do_next()
    done = work.jobs.state(number)
    assert (done.stage, done.progress, done.over, done.failure) == ("done", 1, True, "")
    assert done.words == "rating, 4 of 4"
    assert done.result["new"] == rated(project) > 0
    with open_store(project / "ratings.sqlite") as store:
        assert {run.who for run in store.runs("Small <campaign>")} == {"analyst"}


def test_only_the_releases_that_were_asked_for_are_rated(work: Desk) -> None:
    """And what is known is not rated again."""
    one = work.jobs.start("score", {"releases": ["A2"]}, ANALYST)
    every = work.jobs.start("score", {}, ANALYST)
    work.do_next()
    work.do_next()
    first, second = work.jobs.state(one).result, work.jobs.state(every).result
    assert first["reused"] == 0
    assert second["reused"] == first["new"] > 0


def test_progress_is_seen_while_the_job_runs(work: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another look at the table at each step shows what a page would show then."""
    seen: list[tuple[str, float, str]] = []
    number = work.jobs.start("score", {}, ANALYST)
    report = JobTable.report

    def look(self: JobTable, *values: Any) -> bool:
        goes_on = report(self, *values)
        state = work.jobs.state(number)
        seen.append((state.stage, state.progress, state.words))
        return goes_on

    monkeypatch.setattr(JobTable, "report", look)
    work.do_next()
    assert seen == [
        ("running", 0, "rating"),
        *(("running", done / 4, f"rating, {done} of 4") for done in (1, 2, 3, 4)),
    ]


def test_a_running_job_ends_when_it_is_cancelled(
    work: Desk, project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Before its next step; what was rated until then is kept."""
    number = work.jobs.start("score", {}, ANALYST)
    report = JobTable.report

    def cancel_at_half(self: JobTable, of: str, worker: str, progress: float, words: str) -> bool:
        goes_on = report(self, of, worker, progress, words)
        if progress == 0.5:
            work.jobs.cancel(number, ANALYST)
            assert work.jobs.state(number).cancelling
        return goes_on

    monkeypatch.setattr(JobTable, "report", cancel_at_half)
    work.do_next()
    state = work.jobs.state(number)
    assert (state.stage, state.over, state.progress) == ("cancelled", True, 0.5)
    monkeypatch.undo()
    kept = rated(project)
    again = work.jobs.start("score", {}, ANALYST)
    work.do_next()
    assert 0 < kept < rated(project)
    assert work.jobs.state(again).result["reused"] >= kept


def test_a_job_that_waits_is_cancelled_at_once(work: Desk, project: Path) -> None:
    """No worker takes it."""
    number = work.jobs.start("score", {}, ANALYST)
    work.jobs.cancel(number, ANALYST)
    assert work.jobs.state(number).stage == "cancelled"
    assert not work.worker.do_next()
    assert work.jobs.state(number).stage == "cancelled"
    assert not (project / "ratings.sqlite").exists()


def test_a_job_that_is_over_stays_as_it_ended(work: Desk) -> None:
    """Cancelling comes too late."""
    number = work.jobs.start("check", {"load_cases": ["impact"]}, ANALYST)
    work.do_next()
    work.jobs.cancel(number, ANALYST)
    assert work.jobs.state(number).stage == "done"


def test_tests_are_examined(work: Desk, project: Path) -> None:
    """A repeat with a copied channel is found, in the load case it is in."""
    for repeat in ("D01", "D02"):
        file = project / f"laboratory/drop/{repeat}.csv"
        lines = [line.split(",") for line in file.read_text().splitlines()]
        copied = [[time, x, z if number == 0 else x] for number, (time, x, z) in enumerate(lines)]
        file.write_text("\n".join(map(",".join, copied)) + "\n")
    number = work.jobs.start("check", {}, ANALYST)
    work.do_next()
    result = work.jobs.state(number).result
    assert list(result["findings"]) == ["drop", "impact"]
    assert [line for line in result["findings"]["drop"] if "D01.csv" in line]
    assert result["errors"] >= 1


def test_what_cannot_be_done_is_said(work: Desk, project: Path) -> None:
    """The sentence of the project, nothing of the inside."""
    (project / "campaign.toml").write_text("nonsense = 1\n")
    number = work.jobs.start("score", {}, ANALYST)
    work.do_next()
    state = work.jobs.state(number)
    assert state.stage == "failed"
    assert "line 1, nonsense: there is no such key" in state.failure


def test_a_fault_of_the_program_is_owned_up_to(
    work: Desk, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """The page says so, the log says where."""
    monkeypatch.setattr("dashboard.jobs.kinds.load_campaign", lambda _: 1 / 0)
    number = work.jobs.start("score", {}, ANALYST)
    work.do_next()
    assert work.jobs.state(number).failure == FAULT
    assert "ZeroDivisionError" in caplog.text


def test_jobs_outlive_the_server(work: Desk, tmp_path: Path) -> None:
    """Another server over the same folder knows them, as a page does that is loaded again."""
    number = work.jobs.start("score", {}, ANALYST)
    again = Jobs(tmp_path / "jobs")
    assert again.state(number) == work.jobs.state(number)
    assert [state.number for state in again.open_jobs(ANALYST)] == [number]
    assert again.open_jobs(LAB) == []


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_asks_for_its_role(work: Desk, kind: str) -> None:
    """Below it nothing is started, whatever the page offered."""
    order = list(Role)
    below = order[order.index(KINDS[kind].least) - 1]
    with pytest.raises(Forbidden, match=f"This needs the role {KINDS[kind].least.value}"):
        work.jobs.start(kind, {}, Account(name="somebody", role=below))
    assert work.table.open_jobs() == []


def test_nobody_cancels_the_job_of_another(work: Desk) -> None:
    """But an admin."""
    number = work.jobs.start("score", {}, ANALYST)
    with pytest.raises(Forbidden, match="This job was started by someone else"):
        work.jobs.cancel(number, LAB)
    assert work.jobs.state(number).stage == "waiting"
    work.jobs.cancel(number, ADMIN)
    assert work.jobs.state(number).stage == "cancelled"


def test_one_account_does_not_fill_the_queue(work: Desk) -> None:
    """Others still get in."""
    for _ in range(MOST_OPEN):
        work.jobs.start("score", {}, ANALYST)
    with pytest.raises(CorrelateError, match="you already have 10 open jobs; wait, or cancel one"):
        work.jobs.start("score", {}, ANALYST)
    assert work.jobs.start("score", {}, LAB)


@pytest.mark.parametrize(
    ("kind", "arguments", "words"),
    [
        ("nothing", {}, "there is no job 'nothing'; known are score, check, ingest"),
        ("score", {"releases": "A1"}, "the job 'score' does not accept these arguments: releases"),
        ("score", {"store": "elsewhere.sqlite"}, "the job 'score' does not accept these arguments: store"),
        ("ingest", {"upload": "x"}, "the job 'ingest' does not accept these arguments: file"),
    ],
)
def test_what_a_job_cannot_be_told_is_refused(
    work: Desk, kind: str, arguments: dict[str, Any], words: str
) -> None:
    """Before it is started."""
    with pytest.raises(CorrelateError, match=words):
        work.jobs.start(kind, arguments, ADMIN)
    assert work.table.open_jobs() == []


def test_an_unknown_number_is_said(work: Desk) -> None:
    """An old link is no fault of the server."""
    with pytest.raises(CorrelateError, match="there is no such job; start it again"):
        work.jobs.state("unknown")


def test_the_folder_is_for_this_account_alone(work: Desk, tmp_path: Path) -> None:
    """Arguments and results of jobs are nobody else's business."""
    assert work
    assert (tmp_path / "jobs").stat().st_mode & 0o777 == 0o700


def test_a_folder_that_cannot_be_made_is_refused(tmp_path: Path) -> None:
    """With the reason."""
    (tmp_path / "a-file").touch()
    with pytest.raises(CorrelateError, match=r"a-file/jobs: this folder cannot be used"):
        Jobs(tmp_path / "a-file/jobs")


def test_a_server_that_lost_its_worker_takes_no_jobs(work: Desk) -> None:
    """What ran is marked as failed, what waits says what for, new jobs are refused."""
    ran, waits = (work.jobs.start("check", {}, ANALYST) for _ in range(2))
    # As left by a worker that nobody knows the process of.
    assert work.table.claim("gone") == ran
    work.jobs.lose_worker()
    assert (work.jobs.state(ran).stage, work.jobs.state(ran).failure) == ("failed", WORKER_ENDED)
    assert "waiting until the server is started again" in text(job_parts(work.jobs.state(waits)))
    with pytest.raises(CorrelateError, match="the worker of this server has stopped, so that no job can be"):
        work.jobs.start("check", {}, ANALYST)


def test_pages_find_the_jobs_of_their_server(work: Desk) -> None:
    """A server without a worker says so."""
    app = small_app()
    with app.server.test_request_context("/"):
        with pytest.raises(CorrelateError, match="this server runs no background jobs"):
            jobs_of_server()
        offer_jobs(app, work.jobs)
        assert jobs_of_server() is work.jobs
