"""Starting the server: where it listens and what it says."""

from __future__ import annotations

import socket
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click
import pytest
from click.testing import CliRunner

from correlate.private_folder import project_state_folder
from dashboard import __main__ as program
from tests.read_only import contents

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[2]


@pytest.fixture
def taken() -> Iterator[int]:
    """Take a port and return its number."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        yield other.getsockname()[1]


def test_it_listens_on_this_machine_only() -> None:
    """The socket is bound to the loopback address."""
    with program.listen(_free_port()) as listening:
        assert listening.getsockname()[0] == "127.0.0.1"


def test_a_taken_usual_port_gives_a_free_one(
    taken: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """When the usual port is taken another is used, and the user is told."""
    monkeypatch.setattr(program, "DEFAULT_PORT", taken)
    with program.listen(taken) as listening:
        assert listening.getsockname()[1] not in {0, taken}
    assert capsys.readouterr().out == f"port {taken} is in use; using a free port\n"


def test_a_taken_port_that_was_asked_for_is_an_error(taken: int) -> None:
    """Nobody is sent to another port than the one they named."""
    with pytest.raises(click.ClickException, match=f"port {taken} cannot be used"):
        program.listen(taken)


def test_a_missing_folder_is_refused(tmp_path: Path) -> None:
    """A folder that is not there gives a sentence and no traceback."""
    done = CliRunner().invoke(program.main, [str(tmp_path / "nothing")])
    assert done.exit_code == 2
    assert "does not exist" in done.output
    assert "Traceback" not in done.output


def test_a_damaged_jobs_table_is_said_and_the_project_is_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A jobs table that is none leaves the project to be looked at, without work in the background."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    folder = tmp_path / "project"
    folder.mkdir()
    jobs = project_state_folder(folder, "jobs")
    jobs.mkdir(parents=True)
    (jobs / "jobs.sqlite").write_bytes(b"planted, and long enough to be looked at " * 40)
    said = _said_by_the_dashboard(folder, 2)
    assert said[0].startswith(f"no work in the background: {jobs}/jobs.sqlite: the jobs table cannot")
    assert "open http://127.0.0.1:" in said[1]


def test_jobs_inside_a_project_are_never_opened(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """They may have come with it; the user is told, and not a byte of them changes."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    folder = tmp_path / "project"
    (folder / ".jobs").mkdir(parents=True)
    (folder / ".jobs/jobs.sqlite").write_bytes(b"planted, and long enough to be looked at " * 40)
    before = contents(folder)
    said = _said_by_the_dashboard(folder, 2)
    assert said[0] == f"{folder}/.jobs is not used and not opened; it may be deleted\n"
    assert "open http://127.0.0.1:" in said[1]
    assert contents(folder) == before
    assert (project_state_folder(folder, "jobs") / "jobs.sqlite").is_file()


def test_a_state_folder_inside_the_project_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What lies there could have come with the project."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    said = _said_by_the_dashboard(tmp_path, 2)
    assert said[0].startswith("no work in the background: ")
    assert "this folder lies inside the project" in said[0]
    assert [*tmp_path.iterdir()] == []


def _said_by_the_dashboard(folder: Path, lines: int) -> list[str]:
    """Start the dashboard, return what it says first, and end it."""
    command = [sys.executable, "-u", "-m", "dashboard", str(folder), "--port", str(_free_port())]
    with subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    ) as server:
        assert server.stdout
        said = [server.stdout.readline() for _ in range(lines)]
        server.terminate()
    return said


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
