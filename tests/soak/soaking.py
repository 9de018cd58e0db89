"""Runs a server with many visitors for a while and describes what became of them and of its memory."""

from __future__ import annotations

import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from threading import Event, Thread
from typing import TYPE_CHECKING, Final

import numpy as np

from dashboard.access import Role
from dashboard.app import create_app
from tests.load.real_server import Client, real_server
from tests.soak.visitors import Visitor, percentile, script_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from tests.load.real_server import RealServer
    from tests.soak.visitors import Script, Sent

KINDS: Final = ("document", "quick", "expensive")


@dataclass(frozen=True, slots=True, kw_only=True)
class Soak:
    """What was measured.

    Attributes
    ----------
    clients
        Visitors at a time.
    seconds
        For which they came.
    sent
        All requests.
    failures
        Sentences about those that failed.
    memory
        Seconds and megabytes of the web server, about once a second.
    processor_s
        Processor time of the web server.
    """

    clients: int
    seconds: float
    sent: Sequence[Sent]
    failures: Sequence[str]
    memory: Sequence[tuple[float, float]]
    processor_s: float

    @property
    def growth_mb_per_min(self) -> float:
        """Slope of the memory over the second half, when everything has been loaded once."""
        late = [one for one in self.memory if one[0] >= self.memory[-1][0] / 2]
        return float(np.polyfit([at for at, _ in late], [mb for _, mb in late], 1)[0] * 60)

    def lines(self) -> list[str]:
        """Return what is printed."""
        rate, failed = len(self.sent) / self.seconds, len(self.failures)
        half = self.memory[len(self.memory) // 2][1]
        head = f"{self.clients} clients for {self.seconds:.0f} s: {len(self.sent)} requests"
        said = [f"{head}, {rate:.1f} per second, {failed} failed"]
        for kind in KINDS:
            of_kind = [one for one in self.sent if one.kind == kind]
            shares = " ".join(
                f"p{100 * share:.0f} {percentile([one.seconds for one in of_kind], share):.2f} s"
                for share in (0.5, 0.95, 0.99)
            )
            waited = sum(one.refusals > 0 for one in of_kind)
            said.append(f"  {kind:9} {len(of_kind):6}: {shares}; {waited} waited for a busy server")
        first, last = self.memory[0][1], self.memory[-1][1]
        growth = f"{self.growth_mb_per_min:+.1f} MB per minute over the second half"
        said.append(
            f"  memory {first:.0f} MB at the start, {half:.0f} half way, {last:.0f} at the end; {growth}"
        )
        each_ms = 1000 * self.processor_s / max(1, len(self.sent))
        said.append(f"  processor {self.processor_s:.0f} s, {each_ms:.0f} ms for each request")
        return said + [f"  {sentence}" for sentence in self.failures[:10]]


def soak(project: Path, *, clients: int, seconds: float, think_s: float) -> Soak:
    """Serve a project to visitors.

    Parameters
    ----------
    project
        Folder of the campaign.
    clients
        Visitors, each with an account, a session and a connection.
    seconds
        After which they go; they arrive during the first third.
    think_s
        Mean time for which each looks at a page.
    """
    accounts = dict.fromkeys(visitor_names(clients), Role.ANALYST)
    script = script_of(create_app(project))
    with (
        tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder,
        real_server(project, Path(folder), accounts=accounts) as server,
    ):
        return visited(server, script, list(accounts), seconds=seconds, think_s=think_s)


def visitor_names(clients: int) -> list[str]:
    """Return the names of the accounts of visitors."""
    return [f"visitor-{number}" for number in range(clients)]


def visited(
    server: RealServer, script: Script, names: Sequence[str], *, seconds: float, think_s: float
) -> Soak:
    """Let visitors with accounts come to a server that runs."""
    ended = Event()
    visitors = [
        Visitor(Client(server.port, source=_address(place)), name, script, think_s, ended)
        for place, name in enumerate(names)
    ]
    threads = [
        Thread(target=one.visit, args=(seconds / 3 * place / len(names), place))
        for place, one in enumerate(visitors)
    ]
    before_s = server.processor_s()
    for thread in threads:
        thread.start()
    memory = _watch(server, seconds)
    processor_s = server.processor_s() - before_s
    ended.set()
    for thread in threads:
        thread.join()
    return Soak(
        clients=len(names),
        seconds=seconds,
        sent=[sent for one in visitors for sent in one.sent],
        failures=[sentence for one in visitors for sentence in one.failures],
        memory=memory,
        processor_s=processor_s,
    )


def _address(place: int) -> str:
    """Return an address of this machine: visitors share one at most with a few others."""
    return f"127.0.{1 + place // 200}.{1 + place % 200}"


def _watch(server: RealServer, seconds: float) -> list[tuple[float, float]]:
    begin, seen = time.monotonic(), [(0.0, server.memory_mb())]
    while seen[-1][0] < seconds:
        Event().wait(min(1.0, seconds / 20))
        seen.append((time.monotonic() - begin, server.memory_mb()))
    return seen
