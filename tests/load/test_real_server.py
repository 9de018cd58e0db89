"""The server as its users start it: many visitors, large bodies, half-open connections."""

from __future__ import annotations

import json
import socket
from threading import Thread
from typing import TYPE_CHECKING

import pytest

from dashboard.access import Role
from dashboard.app import create_app
from tests.dashboard.project import write_project
from tests.load.real_server import CALLBACKS, Client, real_server
from tests.soak.soaking import visited, visitor_names
from tests.soak.visitors import script_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from tests.load.real_server import RealServer

LARGE = 60_000_000
VISITORS = visitor_names(20)


@pytest.fixture(scope="module")
def project(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the small project."""
    return write_project(tmp_path_factory.mktemp("small"))


@pytest.fixture(scope="module")
def server(project: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[RealServer]:
    """Serve it with an account for each role, and for visitors."""
    accounts = {role.value: role for role in Role} | dict.fromkeys(VISITORS, Role.ANALYST)
    with real_server(project, tmp_path_factory.mktemp("server"), accounts=accounts) as running:
        yield running


@pytest.mark.parametrize(
    ("name", "output", "status"),
    [
        ("", "data-results-file.children", 401),
        ("viewer", "data-results-file.children", 413),
        ("viewer", "data-package.contents", 403),
    ],
    ids=["without a session", "a callback that takes no files", "a role that sends no files"],
)
def test_bodies_that_are_refused_need_no_memory(
    server: RealServer, name: str, output: str, status: int
) -> None:
    """Two at a time of 60 MB each."""
    with Client(server.port) as first, Client(server.port) as second:
        if name:
            first.sign_in(name)
            first.ask("GET", "/")
            second.cookies = first.cookies
            keys = json.loads(first.ask("GET", "/_dash-dependencies").body)
            output = next(one["output"] for one in keys if output in one["output"])
        body = json.dumps({"output": output, "inputs": [{"value": "x" * LARGE}]}).encode()
        headers = {"Content-Type": "application/json", "X-CSRFToken": first.cookies.get("_csrf_token", "")}
        got: list[int] = []
        server.forget_most_memory()
        before_mb = server.memory_mb()

        def send(client: Client) -> None:
            got.append(client.ask("POST", CALLBACKS, body, headers).status)

        threads = [Thread(target=send, args=(client,)) for client in (first, second)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
    assert got == [status, status]
    assert server.most_memory_mb() - before_mb < LARGE / 1e6 / 3


def test_half_open_connections_keep_nobody_out(server: RealServer) -> None:
    """Neither of another address nor, after so many, of their own."""
    held = [socket.create_connection(("127.0.0.1", server.port)) for _ in range(110)]
    for line in held:
        line.sendall(b"GET / HTTP/1.1\r\n")
    for source in ("127.0.0.1", "127.0.0.2"):
        with Client(server.port, source=source) as client:
            assert client.ask("GET", "/sign-in").status == 200
    for line in held:
        line.close()


def test_visitors_see_no_error(server: RealServer, project: Path) -> None:
    """Twenty for five seconds, each with an account, on all pages."""
    measured = visited(server, script_of(create_app(project)), VISITORS, seconds=5, think_s=1)
    assert measured.failures == []
    assert {one.kind for one in measured.sent} == {"document", "quick", "expensive"}
    assert measured.processor_s > 0
    assert f"20 clients for 5 s: {len(measured.sent)} requests" in measured.lines()[0]
