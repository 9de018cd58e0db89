"""The web server with limits of its connections."""

from __future__ import annotations

import logging
import time
from typing import TYPE_CHECKING, Any

from waitress.adjustments import Adjustments
from waitress.server import TcpWSGIServer
from waitress.task import ThreadedTaskDispatcher

from dashboard.connections.channel import TimedChannel
from dashboard.connections.limits import HEADER_BYTES, MEMORY_BYTES, ConnectionLimits

if TYPE_CHECKING:
    import socket
    from collections.abc import Iterable
    from wsgiref.types import WSGIApplication

    from dashboard.connections.limits import Reception


class LimitedServer(TcpWSGIServer):  # type: ignore[misc]  # the library has no types
    """A web server that gives up the connection that waits longest when there are too many."""

    channel_class = TimedChannel

    def __init__(self, *given: Any, limits: ConnectionLimits, reception: Reception, **named: Any) -> None:
        self.limits = limits
        self.reception = reception
        super().__init__(*given, **named)

    def listen_too(self, listening: socket.socket) -> None:
        """Serve another socket in the same way, with the same threads."""
        LimitedServer(
            self.application,
            self._map,
            _sock=listening,
            dispatcher=self.task_dispatcher,
            adj=self.adj,
            sockinfo=_sockinfo(listening),
            bind_socket=False,
            limits=self.limits,
            reception=self.reception,
        )

    def accept(self) -> tuple[socket.socket, Any] | None:
        """Return the next connection; None where it was closed at once."""
        found: tuple[socket.socket, Any] | None = super().accept()
        if found is None or self._make_room(found[1][0]):
            return found
        found[0].close()
        return None

    def maintenance(self, now: float) -> None:  # noqa: ARG002 - of the library, on a clock that may be set
        """Close the connections that are too slow."""
        present = time.monotonic()
        for channel in list(self.active_channels.values()):
            if channel.overdue(present):
                # Not when it may be written to next: of an answer that nobody takes that is never.
                channel.will_close = True
                channel.handle_close()

    def _make_room(self, address: str) -> bool:
        """Say whether one more connection may be kept, after closing another where it must be."""
        channels, limits = list(self.active_channels.values()), self.limits
        same = [channel for channel in channels if channel.addr[0] == address]
        if address not in limits.exempt and len(same) >= limits.per_address:
            return _give_up_one(same)
        return len(channels) < limits.total or _give_up_one(channels)


def _sockinfo(listening: socket.socket) -> tuple[Any, ...]:
    return listening.family, listening.type, listening.proto, listening.getsockname()


def _give_up_one(channels: Iterable[TimedChannel]) -> bool:
    """Close the connection that has waited longest; return False where all are being answered."""
    waiting = [channel for channel in channels if channel.waits]
    if not waiting:
        return False
    min(waiting, key=lambda channel: channel.expendable).handle_close()
    return True


def limited_server(
    application: WSGIApplication,
    listening: socket.socket,
    *,
    threads: int,
    reception: Reception,
    limits: ConnectionLimits | None = None,
) -> LimitedServer:
    """Return a web server, ready to ``run``.

    Parameters
    ----------
    application
        Answers the requests.
    listening
        Socket that listens already.
    threads
        Requests answered at a time.
    reception
        Limits on bodies.
    limits
        Of the connections.
    """
    # A browser asks for a dozen scripts at once; that they queue for a moment is nothing to report.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    kept = limits or ConnectionLimits()
    adjustments = Adjustments(
        sockets=[listening],
        threads=threads,
        ident=None,
        max_request_header_size=HEADER_BYTES,
        max_request_body_size=reception.largest + 1,
        inbuf_overflow=MEMORY_BYTES,
        # The limits of this module apply first: this one would leave new connections waiting.
        connection_limit=2 * kept.total + 100,
        cleanup_interval=1,
        asyncore_use_poll=True,
        # `public.proxies` decides which of them to trust.
        clear_untrusted_proxy_headers=False,
    )
    dispatcher = ThreadedTaskDispatcher()
    dispatcher.set_thread_count(threads)
    return LimitedServer(
        application,
        {},
        _sock=listening,
        dispatcher=dispatcher,
        adj=adjustments,
        sockinfo=_sockinfo(listening),
        bind_socket=False,
        limits=kept,
        reception=reception,
    )
