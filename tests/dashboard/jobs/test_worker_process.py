"""The worker beside a server: started again when it dies, not for ever, and ended with the server."""

from __future__ import annotations

import os
import signal
from contextlib import suppress
from threading import Event
from typing import TYPE_CHECKING

import pytest

from dashboard.access import Account, Role
from dashboard.components.data import job_parts
from dashboard.jobs import Jobs
from dashboard.jobs.worker import WORKER_ENDED
from dashboard.jobs.worker_process import Restarts, worker
from tests.dashboard.jobs.at_work import PATIENCE_S, until
from tests.dashboard.project import write_project
from tests.dashboard.reading import text
from tests.processes import MARK, Marked, needs_proc

if TYPE_CHECKING:
    from pathlib import Path

BOSS = Account(name="boss", role=Role.MANAGER)
ONE = Account(name="one", role=Role.ANALYST)


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """Write the small project."""
    return write_project(tmp_path / "project")


def arguments(project: Path) -> list[str]:
    """Return what a worker of the project is told."""
    return ["--project", str(project), "--folder", str(project.parent / "jobs")]


def runs(process: int) -> bool:
    """Return whether a process is there."""
    with suppress(ProcessLookupError):
        os.kill(process, 0)
        return True
    return False


def test_a_killed_worker_is_started_again(project: Path, caplog: pytest.LogCaptureFixture) -> None:
    """Another process does the next job, and the log says why there is another."""
    jobs = Jobs(project.parent / "jobs")
    with worker(arguments(project), restarts=Restarts(first_pause_s=0.1)) as watched:
        first = jobs.start("check", {"load_cases": ["impact"]}, ONE)
        until(lambda: jobs.state(first).over)
        killed = watched.pid
        os.kill(killed, signal.SIGKILL)
        second = jobs.start("check", {"load_cases": ["impact"]}, ONE)
        until(lambda: jobs.state(second).over)
        assert (jobs.state(first).stage, jobs.state(second).stage) == ("done", "done")
        assert watched.pid != killed
    assert caplog.messages == ["the worker was ended by signal 9; it is started again in 0.1 s"]
    assert not runs(watched.pid)


@needs_proc
def test_a_worker_that_is_killed_in_the_middle_of_a_job(
    project: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page says that the job was interrupted, its command is ended, and a job that waits is done next."""
    marked = Marked(str(tmp_path))
    monkeypatch.setenv(MARK, marked.environment[MARK])
    jobs = Jobs(project.parent / "jobs")
    with worker(arguments(project), restarts=Restarts(first_pause_s=0.1)) as watched:
        broken = jobs.start("report", {"release": "A2"}, BOSS)
        waits = jobs.start("check", {"load_cases": ["impact"]}, ONE)
        marked.until(1, "--release=A2")
        os.kill(watched.pid, signal.SIGKILL)
        marked.until_none("--release=A2")
        # It did not end by itself after a while.
        assert not [*project.parent.glob("jobs/reports/*/*.html")]
        until(lambda: jobs.state(waits).over)
        assert jobs.state(waits).stage == "done"
        said = text(job_parts(jobs.state(broken)))
        assert "Failed" in said
        assert WORKER_ENDED in said
    marked.until_none()


def test_pauses_grow_until_it_is_enough() -> None:
    """Each restart waits twice as long; after too many there is none, until they are long ago."""
    restarts = Restarts(most=4, within_s=100, first_pause_s=1)
    assert [restarts.pause(now) for now in (0, 10, 20, 30, 40)] == [1, 2, 4, 8, None]
    assert restarts.pause(125) == 2
    assert restarts.pause(500) == 1


def test_a_worker_that_cannot_start_is_left_alone(
    tmp_path: Path, caplog: pytest.LogCaptureFixture, capfd: pytest.CaptureFixture[str]
) -> None:
    """It is started again as often as allowed; then the log says so, and the server learns it."""
    ended = Event()
    settings = tmp_path / "server.toml"
    with worker(
        ["--config", str(settings)], restarts=Restarts(most=2, first_pause_s=0), gave_up=ended.set
    ) as watched:
        assert ended.wait(PATIENCE_S)
        assert not runs(watched.pid)
    again = "the worker ended with code 2; it is started again in 0 s"
    end = "the worker ended with code 2, after 2 restarts within 600 s; it is not started again"
    assert caplog.messages == [again, again, end]
    assert capfd.readouterr().err.count("server.toml: cannot be read") == 3


def test_a_worker_is_not_started_again_once_the_server_ends(
    project: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """The end of the server cuts the pause before a restart short."""
    with worker(arguments(project), restarts=Restarts(first_pause_s=3600)) as watched:
        killed = watched.pid
        os.kill(killed, signal.SIGKILL)
        until(lambda: "it is started again in 3600 s" in caplog.text)
    assert watched.pid == killed


def test_code_in_the_working_folder_is_not_run(
    project: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The worker of a server that runs in a received folder is the installed one, not one planted there."""
    (tmp_path / "dashboard/jobs").mkdir(parents=True)
    for planted in ("dashboard/__init__.py", "dashboard/jobs/__init__.py", "dashboard/jobs/__main__.py"):
        (tmp_path / planted).write_text("import pathlib; pathlib.Path('planted-code-ran').touch()\n")
    monkeypatch.chdir(tmp_path)
    jobs = Jobs(project.parent / "jobs")
    with worker(arguments(project)):
        number = jobs.start("check", {"load_cases": ["impact"]}, ONE)
        until(lambda: jobs.state(number).over)
    assert jobs.state(number).stage == "done"
    assert not (tmp_path / "planted-code-ran").exists()
