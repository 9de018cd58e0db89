"""Refuses a request by its header, before its body is received."""

from __future__ import annotations

from typing import TYPE_CHECKING

from waitress.parser import HTTPRequestParser
from waitress.utilities import BadRequest, RequestEntityTooLarge

if TYPE_CHECKING:
    from waitress.adjustments import Adjustments

    from dashboard.connections.limits import Reception


class BoundedRequest(HTTPRequestParser):  # type: ignore[misc]  # the library has no types
    """A request that is refused as soon as its body is known to be too large.

    Attributes
    ----------
    refused
        Whether it was, so that the rest of its body still arrives and is dropped.
    """

    def __init__(self, adj: Adjustments, reception: Reception) -> None:
        super().__init__(adj)
        self.refused = False
        self._reception = reception

    def received(self, data: bytes) -> int:
        """Take the next bytes and return how many of them belong to this request."""
        header_known = self.headers_finished
        consumed: int = super().received(data)
        if self.error is None and self.body_rcv is not None and (self.chunked or not header_known):
            self._judge()
        self.refused = self.error is not None and self.body_rcv is not None
        # The rest of a refused body is no new request.
        return len(data) if self.refused else consumed

    def _judge(self) -> None:
        may, size = self._reception, self.content_length
        if self.chunked:
            size, most = self.body_bytes_received, may.chunked
        else:
            most = may.most_bytes(self.path)
        if size > may.unknown_bytes and not may.known(self.headers.get("COOKIE", "")):
            self._refuse(_SignInFirst("Sign in first."))
        elif size > most:
            self._refuse(RequestEntityTooLarge(f"At most {most} bytes are accepted here."))

    def _refuse(self, error: BadRequest) -> None:
        self.error, self.completed = error, True
        # No "100 Continue" for a refused request.
        self.expect_continue = False


class _SignInFirst(BadRequest):  # type: ignore[misc]  # the library has no types
    """The answer to a body that nobody without a session may send."""

    code = 401
    reason = "Unauthorized"
