"""The server as a whole: from its settings to its answers."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import urllib.error
import urllib.request
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner

from dashboard.access import Account, Role
from dashboard.jobs import Jobs, jobs_of_server
from dashboard.jobs.worker import WORKER_ENDED
from dashboard.server_settings import load_settings
from dashboard.serving import main, server_app
from dashboard.uploads import upload_limits
from tests.dashboard.jobs.at_work import until
from tests.processes import Marked, needs_proc

if TYPE_CHECKING:
    from dash import Dash

ROOT = Path(__file__).parents[2]


def settings_file(project: Path, folder: Path, *, more: str = "", proxies: int = 0, port: int = 8050) -> Path:
    """Write settings and a secret key into a folder."""
    (folder / "secret.key").write_text("k" * 48)
    (folder / "secret.key").chmod(0o600)
    file = folder / "server.toml"
    file.write_text(
        f'project = "{project}"\n[public]\nurl = "https://ratings.example"\nproxies = {proxies}\n'
        f'[accounts]\nsecret_key_file = "secret.key"\n[listen]\nport = {port}\n{more}'
    )
    return file


def test_the_settings_reach_the_application(folder: Path, tmp_path: Path) -> None:
    """Name, limits and jobs are those of the file, and nobody is let in without an account."""
    more = "[uploads]\nlargest_mb = 3\nmost_files = 4\n"
    app = server_app(load_settings(settings_file(folder, tmp_path, more=more)))
    client = app.server.test_client()
    assert client.get("/_dash-layout", base_url="https://ratings.example").status_code == 401
    elsewhere = client.get("/", base_url="http://127.0.0.1")
    assert elsewhere.status_code == 400
    assert "This server answers at https://ratings.example only. Open that address." in elsewhere.text
    with app.server.test_request_context("/"):
        assert (upload_limits().bytes, upload_limits().files) == (3_000_000, 4)
        assert jobs_of_server()
    assert (tmp_path / "jobs/jobs.sqlite").exists()


@pytest.mark.parametrize("host", ["127.0.0.1:8050", "[::1]:8050"])
def test_a_server_at_localhost_is_found_under_the_addresses_of_the_machine(
    folder: Path, tmp_path: Path, host: str
) -> None:
    """They lead to its public address, where the session is; nothing is done under them, and by no other."""
    file = settings_file(folder, tmp_path)
    file.write_text(file.read_text().replace("https://ratings.example", "http://localhost:8050"))
    client = server_app(load_settings(file)).server.test_client()
    answer = client.get("/pair?release=A1", headers={"Host": host})
    assert (answer.status_code, answer.location) == (303, "http://localhost:8050/pair?release=A1")
    assert client.post("/sign-in", headers={"Host": host}).status_code == 400
    assert client.get("/", headers={"Host": "evil.example"}).status_code == 400


@pytest.mark.parametrize(("proxies", "address"), [(0, "127.0.0.1"), (1, "192.0.2.9")])
def test_a_proxy_is_believed_when_there_is_one(
    folder: Path, tmp_path: Path, proxies: int, address: str
) -> None:
    """Without a proxy anybody could write these headers; then they count for nothing."""
    app = server_app(load_settings(settings_file(folder, tmp_path, proxies=proxies)))
    app.server.add_url_rule("/seen", "seen", lambda: "")
    seen: list[str] = []
    _listen(app, seen)
    headers = {
        "X-Forwarded-For": "198.51.100.1, 192.0.2.9",
        "X-Forwarded-Proto": "https",
        "X-Forwarded-Host": "ratings.example",
    }
    app.server.test_client().get("/sign-in", base_url="http://127.0.0.1:8050", headers=headers)
    assert seen == [address]


def test_a_mistake_in_the_settings_ends_the_program_with_a_sentence(tmp_path: Path) -> None:
    """Exit code 2, no traceback, nothing written."""
    (tmp_path / "server.toml").write_text("nonsense = 1\n")
    done = CliRunner().invoke(main, ["--config", str(tmp_path / "server.toml")])
    assert done.exit_code == 2
    assert "line 1, nonsense: there is no such key" in done.output
    assert "Traceback" not in done.output
    assert [path.name for path in tmp_path.iterdir()] == ["server.toml"]


def test_the_command_serves_works_and_ends_with_nothing_left(folder: Path, tmp_path: Path) -> None:
    """``correlate serve`` answers on its port, runs a worker, and takes it along when it is told to end."""
    file = settings_file(folder, tmp_path, port=_free_port())
    command = [sys.executable, "-m", "correlate", "serve", "--config", str(file)]
    environment = os.environ | {"PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True) as server:
        assert server.stdout
        assert server.stdout.readline() == f"{folder}: https://ratings.example (Ctrl+C ends it)\n"
        port = load_settings(file).listen.port
        request = urllib.request.Request(
            f"http://127.0.0.1:{port}/_dash-layout", headers={"Host": "ratings.example"}
        )
        with pytest.raises(urllib.error.HTTPError, match="401"):
            urllib.request.urlopen(request)  # noqa: S310 - the server under test
        (worker,) = _workers_of(server.pid)
        server.terminate()
        assert server.wait(30) is not None
    # The worker reads the end of its input when the server is gone, however it went.
    with suppress(ChildProcessError, ProcessLookupError):
        descriptor = os.pidfd_open(worker)
        import select  # noqa: PLC0415

        assert select.select([descriptor], [], [], 20)[0]
        os.close(descriptor)


@needs_proc
def test_a_worker_that_is_killed_alone_is_noticed(folder: Path, tmp_path: Path) -> None:
    """The server says so and starts another; the job was interrupted, the next one is done, all is well."""
    file = settings_file(folder, tmp_path, port=_free_port(), more="[jobs]\nat_once = 1\n")
    jobs = Jobs(tmp_path / "jobs")
    marked = Marked(str(tmp_path))
    command = [sys.executable, "-m", "correlate", "serve", "--config", str(file)]
    environment = marked.environment | {"PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(
        command, cwd=ROOT, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as server:
        assert server.stdout
        assert server.stderr
        assert "Ctrl+C ends it" in server.stdout.readline()
        broken = jobs.start("report", {"release": "A2"}, Account(name="boss", role=Role.MANAGER))
        waits = jobs.start("check", {}, Account(name="one", role=Role.ANALYST))
        marked.until(1, "--release=A2")
        (killed,) = _workers_of(server.pid)
        os.kill(killed, signal.SIGKILL)
        said = server.stderr.readline()
        assert said == "the worker was ended by signal 9; it is started again in 1 s\n"
        until(lambda: jobs.state(waits).over)
        assert jobs.state(waits).stage == "done"
        assert (jobs.state(broken).stage, jobs.state(broken).failure) == ("failed", WORKER_ENDED)
        assert _workers_of(server.pid) != [killed]
        assert _health(load_settings(file).listen.port)["status"] == "ok"
        server.kill()
    # The server alone was killed; the worker reads the end of its input.
    marked.until_none()


def _health(port: int) -> dict[str, Any]:
    request = urllib.request.Request(f"http://127.0.0.1:{port}/health", headers={"Host": "ratings.example"})
    with urllib.request.urlopen(request) as answer:  # noqa: S310 - the server under test
        found: dict[str, Any] = json.load(answer)
        return found


def _listen(app: Dash, seen: list[str]) -> None:
    from flask import request  # noqa: PLC0415

    app.server.before_request_funcs[None].insert(0, lambda: seen.append(str(request.remote_addr)))


def _free_port() -> int:
    import socket  # noqa: PLC0415

    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _workers_of(process: int) -> list[int]:
    """Return the workers among the children of a server, whichever of its threads started them."""
    files = Path(f"/proc/{process}/task").glob("*/children")
    children = [child for file in files for child in file.read_text().split()]
    return [
        int(child) for child in children if "dashboard.jobs" in Path(f"/proc/{child}/cmdline").read_text()
    ]
