"""One connection, which is closed when it is too slow."""

from __future__ import annotations

import socket
import time
from contextlib import suppress
from typing import TYPE_CHECKING, Any

from waitress.channel import HTTPChannel

from dashboard.connections.receiving import BoundedRequest

if TYPE_CHECKING:
    from waitress.adjustments import Adjustments


class TimedChannel(HTTPChannel):  # type: ignore[misc]  # the library has no types
    """A connection whose requests must arrive, and whose answers must be taken, in bounded time."""

    close_when_flushed: bool

    def __init__(self, *given: Any, **named: Any) -> None:
        self._quiet_since = time.monotonic()
        self._answered = False
        self._sent = 0
        self._reading: BoundedRequest | None = None
        self._phase: tuple[object, ...] = ()
        self._phase_since = self._quiet_since
        self._phase_moved = 0
        self._draining_since = 0.0
        super().__init__(*given, **named)

    def parser_class(self, adj: Adjustments) -> BoundedRequest:
        """Return the next request."""
        self._reading = BoundedRequest(adj, self.server.reception)
        return self._reading

    @property
    def waits(self) -> bool:
        """Whether no request is answered here at present."""
        return not self.requests and not self.total_outbufs_len

    @property
    def expendable(self) -> tuple[bool, float]:
        """Order in which connections are given up: those without a body first, then the oldest."""
        receives_body = self.request is not None and self.request.headers_finished
        return receives_body, self._quiet_since

    def overdue(self, now: float) -> bool:
        """Say whether this connection has been too slow; asked about once a second.

        Parameters
        ----------
        now
            Of the monotonic clock, in seconds.
        """
        limits = self.server.limits
        if self._draining_since:
            return bool(now - self._draining_since > limits.header_s)
        if self._waits_for_reader():
            return self._too_slow(now, ("answer",), self._sent)
        if self.requests:
            return False
        request = self.request
        if request is not None and request.headers_finished:
            return self._too_slow(now, ("body", id(request)), request.body_bytes_received)
        if request is not None and request.header_plus.strip():
            self._enter(now, ("header", id(request)), 0)
            if now - self._phase_since > limits.header_s:
                return True
        longest = limits.idle_s if self._answered else limits.header_s
        return bool(now - self._quiet_since > longest)

    def _waits_for_reader(self) -> bool:
        """Say whether nothing but the other side holds the answer up."""
        most = self.adj.outbuf_high_watermark if self.requests else 0
        return bool(self.total_outbufs_len > most)

    def _too_slow(self, now: float, phase: tuple[object, ...], moved: int) -> bool:
        """Say whether too little moved since the last look at the rate."""
        self._enter(now, phase, moved)
        limits, spent_s = self.server.limits, now - self._phase_since
        if spent_s <= limits.grace_s:
            return False
        slow = moved - self._phase_moved < limits.least_rate * spent_s
        self._phase_since, self._phase_moved = now, moved
        return bool(slow)

    def _enter(self, now: float, phase: tuple[object, ...], moved: int) -> None:
        if phase != self._phase:
            self._phase, self._phase_since, self._phase_moved = phase, now, moved

    # Called by the web server.

    def send(self, data: bytes, do_close: bool = True) -> int:  # noqa: FBT001, FBT002 - of the library
        """Send, and count what was taken."""
        sent: int = super().send(data, do_close=do_close)
        self._sent += sent
        return sent

    def service(self) -> None:
        """Answer one request."""
        super().service()
        self._answered, self._quiet_since, self._phase = True, time.monotonic(), ()

    def received(self, data: bytes) -> bool:
        """Take what was received; what belongs to a refused request is dropped."""
        if self._draining_since:
            return False
        return bool(super().received(data))

    def readable(self) -> bool:
        """Say whether anything may be received now."""
        if self._draining_since:
            return not self.will_close
        return bool(super().readable())

    def handle_write(self) -> None:
        """Send what is ready; after a refusal, let the other side read it before the connection is closed.

        To close while a body still arrives would reset the connection, and the answer would be lost.
        """
        refused = self._reading is not None and self._reading.refused
        if not (refused and self.close_when_flushed):
            super().handle_write()
            return
        self._flush_exception(self._flush_some)
        if self.will_close:
            self.handle_close()
        elif not self.total_outbufs_len:
            self.close_when_flushed = False
            self._draining_since = time.monotonic()
            with suppress(OSError):
                self.socket.shutdown(socket.SHUT_WR)
