"""The worker: one job after the other, nothing lost when it stops, dies or shares the table with another."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from correlate import load_campaign
from correlate.store.sharing import ReleaseLocks
from dashboard.access import Account, Role
from dashboard.jobs import Jobs
from dashboard.jobs.table import JobTable
from dashboard.jobs.worker import WORKER_ENDED, LostJobs, process_is_gone
from tests.dashboard.jobs.at_work import desk, until
from tests.dashboard.project import write_project

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.dashboard.jobs.at_work import Desk

ROOT = Path(__file__).parents[3]
ONE = Account(name="one", role=Role.ANALYST)
OTHER = Account(name="other", role=Role.ANALYST)


@pytest.fixture
def work(tmp_path: Path) -> Desk:
    """Return jobs over the small project."""
    return desk(write_project(tmp_path / "project"), tmp_path / "jobs")


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write a project and the settings of its server."""
    folder = tmp_path_factory.mktemp("served")
    write_project(folder / "project")
    (folder / "server.toml").write_text('project = "project"\n[public]\nurl = "https://ratings.example"\n')
    return folder


@contextmanager
def running(place: Path) -> Iterator[subprocess.Popen[bytes]]:
    """Run a worker as a program of its own."""
    command = [sys.executable, "-m", "dashboard.jobs", "--config", str(place / "server.toml")]
    with subprocess.Popen(command, cwd=ROOT) as process:
        try:
            yield process
        finally:
            process.terminate()


@contextmanager
def held_up(place: Path, jobs: Jobs) -> Iterator[str]:
    """Start a job that waits for the end of the block, while another program rates; give its number."""
    campaign = load_campaign(place / "project")
    # A job waits only for what must be rated, and an earlier one may have rated everything.
    (place / "project" / "ratings.sqlite").unlink(missing_ok=True)
    locks = ReleaseLocks(str(campaign.folder / "ratings.sqlite"), campaign.title)
    releases = [one.name for one in campaign.releases]
    assert locks.take_free(releases) == releases
    number = jobs.start("score", {}, ONE)
    until(lambda: jobs.state(number).stage == "running")
    try:
        yield number
    finally:
        locks.let_go_all()


def test_two_users_do_not_block_each_other(place: Path) -> None:
    """While the job of one waits for another program, the job of the other is done."""
    jobs = Jobs(place / "jobs")
    with running(place):
        with held_up(place, jobs) as slow:
            quick = jobs.start("check", {"load_cases": ["impact"]}, OTHER)
            until(lambda: jobs.state(quick).over)
            assert jobs.state(quick).stage == "done"
            assert jobs.state(slow).stage == "running"
        until(lambda: jobs.state(slow).over)
        assert jobs.state(slow).stage == "done"


def test_two_worker_programs_share_the_jobs(place: Path) -> None:
    """Both do jobs of one folder, every job is done once, and neither takes the other's for lost."""
    jobs = Jobs(place / "jobs")
    with ExitStack() as both:
        workers = [both.enter_context(running(place)) for _ in range(2)]
        numbers = [jobs.start("check", {"load_cases": ["impact"]}, ONE) for _ in range(9)]
        until(lambda: all(jobs.state(number).over for number in numbers))
        assert {jobs.state(number).stage for number in numbers} == {"done"}
        assert [worker.poll() for worker in workers] == [None, None]


def test_the_job_of_a_killed_worker_is_marked_as_failed(place: Path) -> None:
    """The next worker says so at once and goes on with the jobs that waited."""
    jobs = Jobs(place / "jobs")
    with ExitStack() as workers:
        killed = workers.enter_context(running(place))
        with held_up(place, jobs) as lost:
            killed.send_signal(signal.SIGKILL)
            assert killed.wait() == -signal.SIGKILL
        waits = jobs.start("check", {"load_cases": ["impact"]}, OTHER)
        assert jobs.state(lost).stage == "running"
        workers.enter_context(running(place))
        until(lambda: jobs.state(lost).over and jobs.state(waits).over)
        assert (jobs.state(lost).stage, jobs.state(lost).failure) == ("failed", WORKER_ENDED)
        assert jobs.state(waits).stage == "done"


def test_a_worker_stops_with_the_standard_input_of_its_parent(place: Path) -> None:
    """Told to end with its parent, it ends with code 0 when its standard input is closed."""
    command = [
        sys.executable,
        "-m",
        "dashboard.jobs",
        "--config",
        str(place / "server.toml"),
        "--with-parent",
    ]
    with subprocess.Popen(command, cwd=ROOT, stdin=subprocess.PIPE) as process:
        assert process.stdin
        process.stdin.close()
        assert process.wait(60) == 0


def test_a_jobs_table_that_cannot_be_used_ends_the_program_with_a_sentence(
    place: Path, tmp_path: Path
) -> None:
    """Exit code 2 and no traceback."""
    (tmp_path / "jobs.sqlite").write_bytes(b"this was a database once" * 50)
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "dashboard.jobs",
            "--project",
            str(place / "project"),
            "--folder",
            str(tmp_path),
        ],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert "jobs.sqlite: the jobs table cannot be used (file is not a database)" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_job_ends_with_its_worker(work: Desk) -> None:
    """At its next step, with a sentence, and nobody waits for it for ever."""
    number = work.jobs.start("score", {}, ONE)
    work.worker.stopping.set()
    work.do_next()
    assert (work.jobs.state(number).stage, work.jobs.state(number).failure) == ("failed", WORKER_ENDED)


def test_a_job_stops_when_it_is_no_longer_its_workers(work: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """A worker that was taken for dead and wakes up ends the job at its next step and changes nothing."""
    number = work.jobs.start("score", {}, ONE)
    report = JobTable.report

    def taken_for_dead(self: JobTable, *values: object) -> bool:
        for claim in self.claims():
            self.give_up(claim, "it was taken for dead")
        return report(self, *values)  # type: ignore[arg-type]

    monkeypatch.setattr(JobTable, "report", taken_for_dead)
    work.do_next()
    state = work.jobs.state(number)
    assert (state.stage, state.failure, state.progress) == ("failed", "it was taken for dead", 0)


def test_a_silent_worker_elsewhere_is_dead_after_a_minute(
    work: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of a worker on another machine only the heartbeat is known: watched for a minute, it must change."""
    clock = [0.0]
    monkeypatch.setattr("dashboard.jobs.worker.time.monotonic", lambda: clock[0])
    silent, alive = (work.jobs.start("check", {}, ONE) for _ in range(2))
    assert (work.table.claim("elsewhere:1:a"), work.table.claim("elsewhere:2:b")) == (silent, alive)
    lost = LostJobs(work.table)
    for clock[0] in (0.0, 30.0, 59.0):
        lost.give_up()
        monkeypatch.setattr("dashboard.jobs.table._now", lambda: f"at {clock[0]}")
        work.table.beat("elsewhere:2:b")
    assert work.jobs.state(silent).stage == "running"
    clock[0] = 61.0
    lost.give_up()
    assert (work.jobs.state(silent).stage, work.jobs.state(silent).failure) == ("failed", WORKER_ENDED)
    assert work.jobs.state(alive).stage == "running"


def test_own_jobs_are_never_given_up(work: Desk) -> None:
    """A worker that looks for lost jobs leaves those that it does itself alone."""
    number = work.jobs.start("check", {}, ONE)
    assert work.table.claim(work.worker.name) == number
    LostJobs(work.table).give_up(work.worker.name)
    assert work.jobs.state(number).stage == "running"


def test_a_process_is_known_to_be_gone_only_on_this_machine() -> None:
    """A dead process, the own number under another name, and nonsense are gone; others may be alive."""
    host = socket.gethostname()
    with subprocess.Popen([sys.executable, "-c", ""]) as ended:
        ended.wait()
    assert process_is_gone(f"{host}:{ended.pid}:x")
    assert process_is_gone(f"{host}:{os.getpid()}:x")
    assert all(
        process_is_gone(name) for name in (None, b"", "", "nonsense", f"{host}:x", f"{host}:{10**40}:")
    )
    assert not process_is_gone(f"{host}:{os.getppid()}:x")
    assert not process_is_gone(f"elsewhere:{ended.pid}:x")
