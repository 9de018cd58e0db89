"""A disk that is full or read-only: one sentence on the page, and the worker goes on when there is space."""

from __future__ import annotations

import subprocess
from threading import Thread
from typing import TYPE_CHECKING

import pytest

from dashboard.access import THIS_MACHINE, Account, Role
from dashboard.access.account import ACCOUNT
from dashboard.app import create_app
from dashboard.jobs import Jobs, offer_jobs, worker
from dashboard.jobs.table import DiskFullError, JobTable
from dashboard.jobs.worker import JobSettings, Worker
from dashboard.pages.data.sending import send_package, start_rating
from dashboard.state import Project
from tests.dashboard.jobs.at_work import desk, until
from tests.dashboard.project import write_project
from tests.dashboard.reading import text
from tests.read_only import read_only, run_bound

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

ADMIN = Account(name="admin", role=Role.ADMIN)


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """Write the small project, on a disk with space."""
    return write_project(tmp_path / "project")


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """Return a folder on a disk of its own with 200 kB."""
    place = tmp_path / "disk"
    place.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=200k,mode=700", "tmpfs", str(place)],
        capture_output=True,
        check=False,
    )
    if made.returncode:
        pytest.skip("only root can make a disk")
    try:
        yield place
    finally:
        subprocess.run(["umount", "--lazy", str(place)], check=True)


def fill(disk: Path) -> Path:
    """Fill a disk; return the file that does."""
    filler = disk / "filler"
    with filler.open("wb", buffering=0) as stream:
        try:
            while True:
                stream.write(b"x" * 4096)
        except OSError:
            return filler


def test_pages_say_that_the_disk_is_full(project: Path, small_disk: Path) -> None:
    """One sentence with the remedy and without a path; the next attempt works when there is space."""
    app = create_app(project)
    jobs = Jobs(small_disk / "jobs")
    offer_jobs(app, jobs)
    filler = fill(small_disk)
    content = "data:application/zip;base64," + "AAAA" * 10_000
    with app.server.test_request_context("/"):
        from flask import g  # noqa: PLC0415 - there is a request only now

        setattr(g, ACCOUNT, THIS_MACHINE)
        said = text(start_rating("")[1])
        assert said.startswith("jobs.sqlite: the jobs table cannot be written: the disk is full")
        assert "free some space on the disk of the server" in said
        said = text(send_package(Project(project), content, "drops.zip", "")[1])
        assert said.startswith("drops.zip: this cannot be written (No space left on device); free some space")
        filler.unlink()
        assert start_rating("")[1] == ""
    assert [*(small_disk / "jobs/uploads").iterdir()] == []


def test_a_worker_waits_for_space(
    project: Path, small_disk: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """A job that ended while the disk was full is written down later; the worker stays, and says it once."""
    monkeypatch.setattr(worker, "FULL_S", 0.01)
    work = desk(project, small_disk / "jobs")
    number = work.jobs.start("check", {"load_cases": ["impact"]}, ADMIN)
    assert work.table.claim(work.worker.name) == number
    filler = fill(small_disk)
    ending = Thread(target=work.worker._do, args=[number], daemon=True)
    ending.start()
    until(lambda: "the disk is full" in caplog.text)
    assert ending.is_alive()
    filler.unlink()
    ending.join()
    # Its progress could not be written.
    assert work.jobs.state(number).stage == "failed"
    assert "free some space" in work.jobs.state(number).failure
    assert caplog.text.count("the disk is full") == 1


def test_a_full_disk_does_not_end_the_worker(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Neither its heartbeat nor its look for the next job."""
    monkeypatch.setattr(worker, "FULL_S", 0.01)
    monkeypatch.setattr(worker, "BEAT_S", 0.01)
    table, asked = JobTable(tmp_path), []

    def full(*_: object) -> None:
        asked.append("")
        raise DiskFullError("the disk is full")

    with monkeypatch.context() as patch:
        for name in ("beat", "claim", "claims", "leave"):
            patch.setattr(JobTable, name, full)
        busy = Worker(table=table, place=JobSettings(project=tmp_path))
        thread = Thread(target=busy.work, args=[1], daemon=True)
        thread.start()
        until(lambda: len(asked) > 20)
        assert thread.is_alive()
    until(lambda: table.activity().silent_s is not None)
    busy.stopping.set()
    thread.join()


READ_ONLY = """
import sys
from pathlib import Path
from correlate import CorrelateError
from dashboard.jobs.table import JobTable
try:
    JobTable(Path(sys.argv[1])).add("one", "check", {}, "somebody")
except CorrelateError as error:
    print(error)
"""


def test_a_table_that_can_only_be_read_is_said(tmp_path: Path) -> None:
    """Bound by permissions, as on a disk that is read-only."""
    JobTable(tmp_path / "jobs")
    with read_only(tmp_path / "jobs"):
        done = run_bound("-c", READ_ONLY, tmp_path / "jobs")
    assert done.stdout.startswith("jobs.sqlite: the jobs table cannot be written: its disk or file")
    assert done.stderr == ""
