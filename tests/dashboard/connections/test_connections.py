"""Connections: too many, too slow, and bodies that are refused by their header."""

from __future__ import annotations

import select
import socket
import time
from contextlib import contextmanager, suppress
from dataclasses import replace
from threading import Event, Thread
from typing import TYPE_CHECKING, Any, Final

import pytest

from dashboard.connections import ConnectionLimits, LimitedServer, Reception, limited_server

if TYPE_CHECKING:
    from collections.abc import Iterator

LONGEST_S: Final = 20
QUICK: Final = ConnectionLimits(header_s=0.3, idle_s=0.3, grace_s=0.3, least_rate=1000)
PATIENT: Final = ConnectionLimits(total=30, per_address=10)
RECEPTION: Final = Reception(
    known=lambda cookies: "session" in cookies,
    unknown_bytes=1000,
    most_bytes=lambda path: 500_000 if path == "/files" else 5000,
    largest=500_000,
    chunked=5000,
)
HALF: Final = b"GET / HTTP/1.1\r\nHost: x\r\n"
WHOLE: Final = b"GET / HTTP/1.1\r\nHost: x\r\n\r\n"


class Application:
    """Answers with the length of the body, or with many bytes, or when it is told to."""

    def __init__(self) -> None:
        self.go, self.bodies = Event(), list[int]()

    def __call__(self, environ: dict[str, Any], start: Any) -> list[bytes]:
        """Answer a request."""
        if environ["PATH_INFO"] == "/wait":
            assert self.go.wait(LONGEST_S)
        self.bodies.append(len(environ["wsgi.input"].read()))
        answer = b"x" * 8_000_000 if environ["PATH_INFO"] == "/long" else b"done"
        start("200 OK", [("Content-Type", "text/plain"), ("Content-Length", str(len(answer)))])
        return [answer]


@contextmanager
def running(application: Application, limits: ConnectionLimits) -> Iterator[LimitedServer]:
    """Run a server that looks at its connections all the time."""
    listening = socket.create_server(("127.0.0.1", 0))
    server = limited_server(application, listening, threads=2, reception=RECEPTION, limits=limits)
    server.adj.cleanup_interval, server.adj.asyncore_loop_timeout = 0, 0.02
    ended = Event()

    def run() -> None:
        while not ended.is_set():
            server.asyncore.loop(timeout=0.02, map=server._map, use_poll=True, count=1)

    thread = Thread(target=run)
    thread.start()
    try:
        yield server
    finally:
        ended.set()
        thread.join(LONGEST_S)
        application.go.set()
        server.task_dispatcher.shutdown()
        for channel in list(server.active_channels.values()):
            channel.handle_close()
        server.close()


def connect(server: LimitedServer, sent: bytes = b"", source: str = "127.0.0.1") -> socket.socket:
    """Open a connection, say something and leave it open."""
    line = socket.create_connection(
        ("127.0.0.1", server.socket.getsockname()[1]), timeout=LONGEST_S, source_address=(source, 0)
    )
    line.sendall(sent)
    return line


def answer_of(line: socket.socket) -> bytes:
    """Return the first line of an answer; empty where the connection is closed without one."""
    with suppress(ConnectionError):
        return line.recv(65_536).split(b"\r\n")[0]
    return b""


def is_closed(line: socket.socket) -> bool:
    """Say whether the server has closed a connection."""
    ready, _, _ = select.select([line], [], [], 0)
    return bool(ready) and answer_of(line) == b""


def until(condition: Any) -> None:
    """Wait for a condition with a deadline."""
    end = time.monotonic() + LONGEST_S
    while not condition():
        assert time.monotonic() < end, "it did not happen in time"
        Event().wait(0.01)


@pytest.mark.parametrize(
    "said",
    [
        b"",
        HALF,
        b"POST /files HTTP/1.1\r\nHost: x\r\nCookie: session\r\nContent-Length: 9000\r\n\r\nabc",
        WHOLE,
    ],
    ids=["says nothing", "half a header", "a body that stops", "no second request"],
)
def test_a_connection_that_stops_is_closed(said: bytes) -> None:
    """However far its request has come."""
    with running(Application(), QUICK) as server, connect(server, said) as line:
        if said == WHOLE:
            assert answer_of(line) == b"HTTP/1.1 200 OK"
        until(lambda: is_closed(line))
        until(lambda: not server.active_channels)


@pytest.mark.parametrize(
    ("said", "drop"),
    [
        (b"GET / HTTP/1.1\r\nX: ", b"x"),
        (b"", b"\r\n\r\n"),
        (b"POST /files HTTP/1.1\r\nHost: x\r\nCookie: session\r\nContent-Length: 9000\r\n\r\n", b"x"),
    ],
    ids=["header", "empty lines", "body"],
)
def test_a_connection_that_drips_is_closed(said: bytes, drop: bytes) -> None:
    """A byte now and then, as long as one likes, is no reason to keep it."""
    with running(Application(), QUICK) as server, connect(server, said) as line:

        def dripped() -> bool:
            with suppress(ConnectionError):
                line.sendall(drop)
            return not server.active_channels

        until(lambda: bool(server.active_channels))
        until(dripped)


def test_a_body_that_comes_fast_enough_may_take_longer_than_a_header() -> None:
    """The rate decides, not the time."""
    application = Application()
    head = b"POST /files HTTP/1.1\r\nHost: x\r\nCookie: session\r\nContent-Length: 4000\r\n\r\n"
    with running(application, replace(QUICK, grace_s=0.5)) as server, connect(server, head) as line:
        for _ in range(40):
            line.sendall(b"x" * 100)
            Event().wait(0.02)
        assert answer_of(line) == b"HTTP/1.1 200 OK"
        assert application.bodies == [4000]


def test_an_answer_that_nobody_reads_is_given_up() -> None:
    """Its memory is freed."""
    with running(Application(), QUICK) as server, connect(server, WHOLE.replace(b"/ ", b"/long ")):
        until(lambda: bool(server.active_channels))
        until(lambda: not server.active_channels)


def test_a_request_that_is_computed_is_waited_for() -> None:
    """However long it takes."""
    application = Application()
    with (
        running(application, QUICK) as server,
        connect(server, WHOLE.replace(b"/ ", b"/wait ")) as line,
        connect(server) as other,
    ):
        # By then this one would have been closed as well.
        until(lambda: is_closed(other))
        application.go.set()
        assert answer_of(line) == b"HTTP/1.1 200 OK"


@pytest.mark.parametrize("source", ["127.0.0.1", "127.0.0.2"])
def test_half_open_connections_of_one_address_block_nobody(source: str) -> None:
    """Neither another address nor their own: one more takes the place of the oldest."""
    with running(Application(), PATIENT) as server:
        held = [connect(server, HALF, source) for _ in range(110)]
        with connect(server, WHOLE) as line:
            assert answer_of(line) == b"HTTP/1.1 200 OK"
        assert len(server.active_channels) <= PATIENT.per_address + 1
        for one in held:
            one.close()


def test_half_open_connections_of_many_addresses_block_nobody() -> None:
    """The total is bounded, too."""
    with running(Application(), PATIENT) as server:
        held = [connect(server, HALF, f"127.0.1.{1 + number % 50}") for number in range(110)]
        with connect(server, WHOLE) as line:
            assert answer_of(line) == b"HTTP/1.1 200 OK"
        assert len(server.active_channels) <= PATIENT.total
        for one in held:
            one.close()


def test_connections_of_a_proxy_are_not_counted_by_address() -> None:
    """It speaks for many."""
    with running(Application(), replace(PATIENT, exempt=frozenset({"127.0.0.1"}))) as server:
        held = [connect(server, HALF) for _ in range(25)]
        until(lambda: len(server.active_channels) == 25)
        for one in held:
            one.close()


def test_a_connection_is_refused_only_while_all_others_are_answered() -> None:
    """A request under way is never given up for a new connection."""
    application = Application()
    with running(application, replace(PATIENT, per_address=2)) as server:
        waiting = WHOLE.replace(b"/ ", b"/wait ")
        first, second = connect(server, waiting), connect(server, waiting)
        until(lambda: sum(bool(one.requests) for one in server.active_channels.values()) == 2)
        with connect(server) as third:
            until(lambda: is_closed(third))
        application.go.set()
        for line in (first, second):
            assert answer_of(line) == b"HTTP/1.1 200 OK"
            line.close()


@pytest.mark.parametrize(
    ("path", "cookie", "length", "status"),
    [
        ("/files", "session", 400_000, "200 OK"),
        ("/files", "session", 600_000, "413 Request Entity Too Large"),
        ("/menus", "session", 6000, "413 Request Entity Too Large"),
        ("/files", "none", 2000, "401 Unauthorized"),
        ("/files", "none", 900, "200 OK"),
    ],
)
def test_a_body_is_refused_by_the_header_alone(path: str, cookie: str, length: int, status: str) -> None:
    """By its path and the session of its sender; the answer arrives though the body is still sent."""
    application = Application()
    head = f"POST {path} HTTP/1.1\r\nHost: x\r\nCookie: {cookie}\r\nContent-Length: {length}\r\n\r\n"
    with running(application, PATIENT) as server, connect(server, head.encode()) as line:
        if not status.startswith("200"):
            assert answer_of(line) == f"HTTP/1.1 {status}".encode()
            line.sendall(b"x" * length)
            line.close()
            until(lambda: not server.active_channels)
            assert application.bodies == []
            return
        line.sendall(b"x" * length)
        assert answer_of(line) == f"HTTP/1.1 {status}".encode()
        assert application.bodies == [length]


@pytest.mark.parametrize(("cookie", "status"), [("session", b"413"), ("none", b"401")])
def test_a_body_without_a_length_is_refused_when_it_is_too_long(cookie: str, status: bytes) -> None:
    """It is counted as it arrives."""
    application = Application()
    head = f"POST /files HTTP/1.1\r\nHost: x\r\nCookie: {cookie}\r\nTransfer-Encoding: chunked\r\n\r\n"
    with running(application, PATIENT) as server, connect(server, head.encode()) as line:
        line.sendall((b"400\r\n" + b"x" * 1024 + b"\r\n") * 8)
        assert answer_of(line).split()[1] == status
        assert application.bodies == []
