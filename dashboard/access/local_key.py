"""The key of a local dashboard, which keeps other users of the machine out.

The program prints an address with the key; the browser that opens it is given a cookie and is sent on to the
same address without the key. Browsers send cookies to every port of a host, so the cookie of each port has
its own name. Another server on this machine that the same browser opens therefore receives the cookie, too.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final
from urllib.parse import urlencode

from flask import make_response, redirect, request
from werkzeug.exceptions import Forbidden
from werkzeug.http import parse_cookie

if TYPE_CHECKING:
    from flask import Response

PARAMETER: Final = "key"
"""Of the address that the program prints."""


class WithoutKey(Forbidden):
    """Nobody who asks without the key is shown anything."""

    description = (
        "Only the person who started this dashboard can open it. Use the address that it printed in the "
        "terminal; the address contains the key."
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LocalKey:
    """A key that is created at every start; keys of earlier starts are not valid.

    Attributes
    ----------
    port
        Of the server.
    secret
        In the address and in the cookie.
    """

    port: int
    secret: str = field(default_factory=lambda: secrets.token_urlsafe(32), repr=False)

    @property
    def cookie(self) -> str:
        """Name of the cookie.

        Examples
        --------
        >>> LocalKey(port=8050).cookie
        'correlate-8050'
        """
        return f"correlate-{self.port}"

    @property
    def query(self) -> str:
        """Query of the address that the program prints."""
        return f"?{PARAMETER}={self.secret}"

    def admit(self) -> Response | None:
        """Let a request with the cookie in, give one with the key the cookie, and refuse any other."""
        given = request.args.get(PARAMETER)
        if given is not None and request.method == "GET":
            return self._with_cookie(given)
        if not self._is_right(request.cookies.get(self.cookie, "")):
            raise WithoutKey
        return None

    def is_in(self, cookies: str) -> bool:
        """Say whether a header of cookies holds the key."""
        return self._is_right(parse_cookie(cookies).get(self.cookie, ""))

    def _with_cookie(self, given: str) -> Response:
        if not self._is_right(given.strip()):
            raise WithoutKey(
                "This key is not valid. The dashboard creates a new key at every start: use the address "
                "that it printed last."
            )
        answer = make_response(redirect(without_key(), 303))
        # Strict: no page of another site can make the browser ask with it.
        answer.set_cookie(self.cookie, self.secret, httponly=True, samesite="Strict")
        return answer

    def _is_right(self, given: str) -> bool:
        """Compare in the same time whatever differs."""
        return secrets.compare_digest(given.encode(errors="replace"), self.secret.encode())


def without_key() -> str:
    """Return the path and query of the request without the key; always a path of this server."""
    kept = [(name, value) for name, value in request.args.items(multi=True) if name != PARAMETER]
    # Two slashes would begin the name of another server.
    path = "/" + request.path.lstrip("/\\")
    return f"{path}?{urlencode(kept)}" if kept else path
