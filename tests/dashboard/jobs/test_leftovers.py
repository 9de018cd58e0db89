"""What jobs that ended early leave: uploads, parts and reports are removed, those of open jobs are not."""

from __future__ import annotations

import base64
import errno
import os
import subprocess
import sys
import zipfile
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING, Any

import pytest

from correlate import CorrelateError, load_campaign
from correlate.temporary import temporary_folder
from dashboard import uploads
from dashboard.access import Account, Role
from dashboard.components.data import job_parts
from dashboard.jobs import jobs as jobs_module
from dashboard.jobs.leftovers import remove_leftovers, remove_parts, storing
from dashboard.jobs.table import JobTable
from dashboard.jobs.worker import WORKER_ENDED, Worker
from tests.dashboard.jobs.at_work import desk
from tests.dashboard.project import write_project
from tests.dashboard.reading import text

if TYPE_CHECKING:
    from tests.dashboard.jobs.at_work import Desk

ROOT = Path(__file__).parents[3]
ADMIN = Account(name="admin", role=Role.ADMIN)


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """Write the small project."""
    return write_project(tmp_path / "project")


@pytest.fixture
def work(project: Path, tmp_path: Path) -> Desk:
    """Return jobs over it."""
    return desk(project, tmp_path / "jobs")


def sent(work: Desk, project: Path, name: str) -> str:
    """Send the results of release A2 in as another release; return the number of the job."""
    packed = work.table.folder.parent / "results.zip"
    with zipfile.ZipFile(packed, "w") as archive:
        for file in ("drop.csv", "impact.csv"):
            archive.write(project / "releases/A2" / file, f"out/{file}")
    content = "data:application/zip;base64," + base64.b64encode(packed.read_bytes()).decode()
    return work.jobs.start_with_file("results", "results.zip", content, {"name": name}, ADMIN)


def kept(work: Desk) -> set[str]:
    """Return the uploads that are there."""
    return {one.name for one in (work.table.folder / "uploads").iterdir()}


def upload_of(work: Desk, number: str) -> str:
    """Return the name of the upload of a job."""
    return str(work.jobs.state(number).arguments["upload"])


def contents(folder: Path) -> set[str]:
    """Return the paths of all that is in a folder."""
    return {str(one.relative_to(folder)) for one in folder.rglob("*")}


def ends_soon(work: Desk) -> None:
    """Let a worker look once at what others left, and end."""
    worker = Worker(table=work.table, place=work.worker.place)
    worker.stopping.set()
    worker.work(1)


def test_cancelling_a_job_that_waits_removes_its_upload(work: Desk, project: Path) -> None:
    """That of another job that waits stays, and its job is done."""
    cancelled, waits = sent(work, project, "B1"), sent(work, project, "B2")
    assert kept(work) == {upload_of(work, number) for number in (cancelled, waits)}
    work.jobs.cancel(cancelled, ADMIN)
    assert kept(work) == {upload_of(work, waits)}
    assert "Nothing was stored." in text(job_parts(work.jobs.state(cancelled)))
    work.do_next()
    assert work.jobs.state(waits).stage == "done"
    assert kept(work) == set()


def test_cancelling_a_job_that_runs_removes_its_upload_and_parts(
    work: Desk, project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At its next step; the project is as it was."""
    before = contents(project)
    number = sent(work, project, "B1")
    report = JobTable.report

    def cancel(self: JobTable, of: str, worker: str, progress: float, words: str) -> bool:
        if progress >= 0.5 and not work.jobs.state(number).cancelling:
            assert contents(project) != before
            work.jobs.cancel(number, ADMIN)
            assert kept(work), "it is in use"
        return report(self, of, worker, progress, words)

    monkeypatch.setattr(JobTable, "report", cancel)
    work.do_next()
    assert work.jobs.state(number).stage == "cancelled"
    assert (kept(work), contents(project)) == (set(), before)


KILLED = """
import os, signal, sys
from pathlib import Path
from dashboard.jobs.table import JobTable
from dashboard.jobs.worker import JobSettings, Worker

report = JobTable.report

def die(self, number, worker, progress, words):
    if progress >= 0.5:
        os.kill(os.getpid(), signal.SIGKILL)
    return report(self, number, worker, progress, words)

JobTable.report = die
Worker(table=JobTable(Path(sys.argv[1])), place=JobSettings(project=Path(sys.argv[2]))).do_next()
"""


def test_a_worker_that_was_killed_leaves_nothing_to_the_next(work: Desk, project: Path) -> None:
    """Upload and parts go when the lost job is given up; the upload of a job that waits stays."""
    before = contents(project)
    killed, waits = sent(work, project, "B1"), sent(work, project, "B2")
    command = [sys.executable, "-c", KILLED, str(work.table.folder), str(project)]
    ended = subprocess.run(command, cwd=ROOT, env=os.environ | {"PYTHONPATH": str(ROOT)}, check=False)
    assert ended.returncode == -9
    assert contents(project) != before
    assert len(kept(work)) == 2
    ends_soon(work)
    assert (kept(work), contents(project)) == ({upload_of(work, waits)}, before)
    state = work.jobs.state(killed)
    assert (state.stage, state.failure) == ("failed", WORKER_ENDED)
    said = text(job_parts(state))
    assert "If the upload is missing, upload the file again" in said
    assert "Nothing was stored" not in said
    assert [one.name for one in load_campaign(project).releases] == ["A1", "A2"]


def test_reports_of_jobs_that_failed_are_removed(work: Desk) -> None:
    """Those that were written stay, and so does what a job writes now."""
    numbers = {
        stage: work.jobs.start("report", {"release": "A1"}, ADMIN) for stage in ("done", "failed", "running")
    }
    for stage, number in numbers.items():
        assert work.table.claim("worker") == number
        (work.table.folder / "reports" / number).mkdir(parents=True)
        if stage == "done":
            work.table.end(number, "worker", "done", result='{"release": "A1", "files": [], "problem": ""}')
        elif stage == "failed":
            work.table.end(number, "worker", "failed", failure="no")
    remove_leftovers(work.table)
    left = {one.name for one in (work.table.folder / "reports").iterdir()}
    assert left == {numbers["done"], numbers["running"]}


def test_an_upload_that_is_being_stored_is_not_removed(
    work: Desk, project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its job is not in the table yet, while somebody else looks for uploads without a job."""
    others: list[Thread] = []

    def keep(*told: Any, **more: Any) -> list[Path]:
        found = uploads.keep_uploads(*told, **more)
        others.append(Thread(target=remove_leftovers, args=[work.table]))
        others[0].start()
        return found

    monkeypatch.setattr(jobs_module, "keep_uploads", keep)
    number = sent(work, project, "B1")
    others[0].join()
    assert kept(work) == {upload_of(work, number)}


def test_a_part_that_a_program_works_on_is_left_alone(project: Path) -> None:
    """One that nobody works on goes."""
    abandoned = project / "received/.kelp.0123456789ab.part"
    abandoned.mkdir(parents=True)
    with temporary_folder(project / "received/gull") as used:
        remove_parts(project)
        assert used.is_dir()
        assert not abandoned.exists()


def test_an_upload_whose_job_cannot_be_started_is_removed(work: Desk, project: Path) -> None:
    """As where an account has too many jobs."""
    for _ in range(jobs_module.MOST_OPEN):
        work.jobs.start("check", {}, ADMIN)
    with pytest.raises(CorrelateError, match="you already have 10 open jobs"):
        sent(work, project, "B1")
    assert kept(work) == set()


@pytest.mark.parametrize(
    ("number", "words"),
    [
        (errno.ENOSPC, "No space left on device.*free some space"),
        (errno.EDQUOT, "Disk quota exceeded.*free some space"),
        (errno.EROFS, "Read-only file system.*not read-only"),
    ],
)
def test_an_upload_that_the_disk_refuses_is_said(
    work: Desk, project: Path, monkeypatch: pytest.MonkeyPatch, number: int, words: str
) -> None:
    """One sentence with the name that the user knows, no path of the server, and nothing stays."""

    def refuse(self: Path, _: bytes) -> int:
        raise OSError(number, os.strerror(number), str(self))

    with monkeypatch.context() as patch:
        patch.setattr(Path, "write_bytes", refuse)
        (work.table.folder.parent / "results.zip").touch()
        with pytest.raises(CorrelateError, match=rf"^results\.zip: this cannot be written \({words}") as said:
            work.jobs.start_with_file("results", "results.zip", "data:x;base64,AAAA", {"name": "B1"}, ADMIN)
    assert str(project.parent) not in str(said.value)
    assert kept(work) == set()
    assert work.table.open_jobs() == []


def test_uploads_are_for_the_user_of_the_server_alone(work: Desk) -> None:
    """Whatever the program is told to allow."""
    before = os.umask(0)
    try:
        with storing(work.table.folder) as place:
            assert place.stat().st_mode & 0o777 == 0o700
    finally:
        os.umask(before)
