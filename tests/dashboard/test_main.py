"""Starting the server: where it listens and what it says."""

from __future__ import annotations

import socket
import subprocess
import sys
from contextlib import suppress
from http.client import HTTPConnection
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

import click
import pytest
from click.testing import CliRunner

from correlate.private_folder import project_state_folder
from dashboard import __main__ as program
from tests.dashboard.printed_address import PrintedAddress
from tests.read_only import contents

if TYPE_CHECKING:
    from collections.abc import Iterator

ROOT = Path(__file__).parents[2]


def _has_ipv6() -> bool:
    with suppress(OSError), socket.socket(socket.AF_INET6) as probe:
        probe.bind(("::1", 0))
        return True
    return False


def _close(sockets: list[socket.socket]) -> None:
    for one in sockets:
        one.close()


@pytest.fixture
def taken() -> Iterator[int]:
    """Take a port and return its number."""
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        yield other.getsockname()[1]


def test_it_listens_on_this_machine_only() -> None:
    """The socket is bound to the loopback address."""
    listening = program.listen(_free_port())
    assert [one.getsockname()[0] for one in listening][: len(listening)] in (
        ["127.0.0.1"],
        ["127.0.0.1", "::1"],
    )
    assert len({one.getsockname()[1] for one in listening}) == 1
    _close(listening)


@pytest.mark.skipif(not _has_ipv6(), reason="this machine has no ::1")
def test_a_port_in_use_at_the_other_address_is_not_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    """A browser that asks ::1 for localhost must not reach another program."""
    with socket.socket(socket.AF_INET6) as other:
        other.bind(("::1", 0))
        other.listen()
        port = other.getsockname()[1]
        with pytest.raises(click.ClickException, match=f"port {port} cannot be used"):
            program.listen(port)
        monkeypatch.setattr(program, "DEFAULT_PORT", port)
        listening = program.listen(port)
        assert port not in {one.getsockname()[1] for one in listening}
        _close(listening)


def test_a_taken_usual_port_gives_a_free_one(
    taken: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """When the usual port is taken another is used, and the user is told."""
    monkeypatch.setattr(program, "DEFAULT_PORT", taken)
    listening = program.listen(taken)
    assert not {one.getsockname()[1] for one in listening} & {0, taken}
    _close(listening)
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
    assert "this folder is inside the project" in said[0]
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


def test_every_name_of_this_machine_is_served_with_the_key_and_nothing_without(tmp_path: Path) -> None:
    """Real requests to 127.0.0.1 and ::1, as 127.0.0.1, localhost and [::1], with and without the cookie."""
    command = [sys.executable, "-u", "-m", "dashboard", str(tmp_path), "--port", str(_free_port())]
    with subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    ) as server:
        try:
            assert server.stdout
            printed = PrintedAddress.in_lines(server.stdout)
            assert printed
            port = urlsplit(printed.origin).port or 0
            for address in ["127.0.0.1", *(["::1"] if _has_ipv6() else [])]:
                for name in ("127.0.0.1", "localhost", "[::1]"):
                    own = {"Host": f"{name}:{port}"}
                    assert _status(address, port, "GET", own) == 403
                    assert _status(address, port, "GET", own | printed.headers) == 200
                    sent = own | printed.headers | {"Origin": f"http://{name}:{port}"}
                    # The gate has let it in; the call itself is none.
                    assert _status(address, port, "POST", sent) == 400
                    assert _status(address, port, "POST", sent | {"Origin": "http://127.0.0.1:1"}) == 403
                assert (
                    _status(address, port, "GET", printed.headers | {"Host": f"evil.example:{port}"}) == 400
                )
        finally:
            server.terminate()


def _status(address: str, port: int, method: str, headers: dict[str, str]) -> int:
    connection = HTTPConnection(address, port, timeout=30)
    path = "/" if method == "GET" else "/_dash-update-component"
    connection.request(method, path, headers=headers)
    answer = connection.getresponse()
    answer.read()
    connection.close()
    return answer.status


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
