"""The worker as a separate process."""

from __future__ import annotations

import os
import subprocess
import sys
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from dashboard.access import Account, Role
from dashboard.jobs import Jobs
from dashboard.jobs.worker_process import worker
from tests.dashboard.jobs.at_work import until
from tests.dashboard.project import write_project

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[3]
ONE = Account(name="one", role=Role.ANALYST)
OTHER = Account(name="other", role=Role.ANALYST)


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write a project and the settings of its server."""
    folder = tmp_path_factory.mktemp("served")
    write_project(folder / "project")
    (folder / "server.toml").write_text('project = "project"\n[public]\nurl = "https://ratings.example"\n')
    return folder


@pytest.fixture(scope="module")
def process(place: Path) -> Iterator[subprocess.Popen[bytes]]:
    """Run the worker that a server starts."""
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(ROOT)
        with worker(["--config", str(place / "server.toml")]) as started:
            yield started


def test_two_users_do_not_block_each_other(place: Path, process: subprocess.Popen[bytes]) -> None:
    """While the job of one waits for a campaign file that does not come, the job of the other is done."""
    assert process.poll() is None
    jobs, campaign = Jobs(place / "jobs"), place / "project/campaign.toml"
    content = campaign.read_bytes()
    campaign.unlink()
    os.mkfifo(campaign)
    slow = jobs.start("check", {"load_cases": ["drop"]}, ONE)
    # Can be opened as soon as the job reads from it, which then waits for what is written.
    writer = opened_when_read(campaign)
    campaign.unlink()
    campaign.write_bytes(content)
    quick = jobs.start("check", {"load_cases": ["impact"]}, OTHER)
    until(lambda: jobs.state(quick).over)
    assert jobs.state(quick).stage == "done"
    assert jobs.state(slow).stage == "running"
    os.write(writer, content)
    os.close(writer)
    until(lambda: jobs.state(slow).over)
    assert jobs.state(slow).stage == "done"


def opened_when_read(pipe: Path) -> int:
    """Return the end to write to, once another process reads."""
    found: list[int] = []

    def try_it() -> bool:
        with suppress(OSError):
            found.append(os.open(pipe, os.O_WRONLY | os.O_NONBLOCK))
        return bool(found)

    until(try_it)
    return found[0]


def test_a_second_worker_is_refused(place: Path, process: subprocess.Popen[bytes]) -> None:
    """It would take the jobs of the first for lost."""
    jobs = Jobs(place / "jobs")
    first = jobs.start("check", {"load_cases": ["impact"]}, ONE)
    until(lambda: jobs.state(first).over)
    done = subprocess.run(
        [sys.executable, "-m", "dashboard.jobs", "--config", str(place / "server.toml")],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    assert "another worker is using this job folder; stop it, or set another folder" in done.stderr
    assert process.poll() is None
