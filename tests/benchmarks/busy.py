"""How quickly a server answers others while it computes for many: the frame of a page beside cross-plots."""

from __future__ import annotations

import tempfile
import time
from pathlib import Path
from threading import Event, Thread
from typing import TYPE_CHECKING, Final

from dashboard import paths
from dashboard.access import Role
from dashboard.app import create_app
from tests.dashboard.project import write_project
from tests.load.real_server import Client, real_server
from tests.soak.visitors import BUSY, percentile, script_of

if TYPE_CHECKING:
    from typing import Any

    from tests.load.real_server import RealServer

ACCOUNTS, REQUESTS = 8, 16
SECONDS: Final = 15
GOAL_S: Final = 0.5


def report() -> str:
    """Ask for the frame of a page alone and while others ask for cross-plots all the time.

    Returns
    -------
    str
    """
    names = {f"analyst-{number}": Role.ANALYST for number in range(ACCOUNTS)} | {"viewer": Role.VIEWER}
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        project, settings = write_project(Path(folder) / "project"), Path(folder) / "server"
        settings.mkdir()
        script = script_of(create_app(project))
        with real_server(project, settings, accounts=names) as server:
            alone, busy, computed, refused = _measured(server, script.frame, script.pages[paths.REPEATS][-1])
    times = percentile(busy, 0.95) / percentile(alone, 0.95)
    middle_ms, slow_ms = 1e3 * percentile(busy, 0.5), 1e3 * percentile(busy, 0.95)
    who = f"{REQUESTS} clients of {ACCOUNTS} accounts ask for cross-plots"
    took = f"{middle_ms:.0f} ms (median) and {slow_ms:.0f} ms (95th percentile, goal {1e3 * GOAL_S:.0f})"
    return (
        f"While {who} ({computed} answered, {refused} told to wait), the frame of a page takes {took}, "
        f"{times:.1f} times as long as alone."
    )


def _measured(
    server: RealServer, quick: dict[str, Any], expensive: dict[str, Any]
) -> tuple[list[float], list[float], int, int]:
    ended, statuses = Event(), list[int]()
    with Client(server.port) as viewer:
        _sign_in(viewer, "viewer")
        viewer.call(expensive)
        alone = _times(viewer, quick)
        clients = [Client(server.port, source=f"127.0.1.{1 + place}") for place in range(REQUESTS)]
        for place, client in enumerate(clients):
            _sign_in(client, f"analyst-{place % ACCOUNTS}")

        def compute(client: Client) -> None:
            while not ended.is_set():
                answer = client.call(expensive)
                statuses.append(answer.status)
                if answer.status == BUSY:
                    ended.wait(float(answer.headers["retry-after"]))
            client.close()

        threads = [Thread(target=compute, args=(client,)) for client in clients]
        for thread in threads:
            thread.start()
        busy = _times(viewer, quick)
        ended.set()
        for thread in threads:
            thread.join()
    return alone, busy, statuses.count(200), statuses.count(BUSY)


def _sign_in(client: Client, name: str) -> None:
    client.sign_in(name)
    client.ask("GET", "/")


def _times(client: Client, body: dict[str, Any]) -> list[float]:
    times, end = [], time.monotonic() + SECONDS
    while time.monotonic() < end:
        begin = time.perf_counter()
        assert client.call(body).status == 200
        times.append(time.perf_counter() - begin)
        Event().wait(0.05)
    return times
