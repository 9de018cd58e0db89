"""Sessions: who is signed in, in the cookie of a browser."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Final

from flask import request, session
from flask_login import LoginManager, UserMixin, current_user, login_user, logout_user
from flask_wtf.csrf import generate_csrf

from dashboard.access.gate import PAGES

if TYPE_CHECKING:
    from collections.abc import Callable

    from flask import Flask, Response

    from dashboard.access import Account
    from dashboard.accounts import AccountBook, KnownAccount


SESSION_COOKIE: Final = "__Host-correlate"
"""A browser takes a cookie with this beginning from this very server over an encrypted line only."""

TOKEN_COOKIE: Final = "_csrf_token"  # noqa: S105 - the name that dash reads the token from
"""Readable by the page, which sends it back in a header; worth nothing without the session."""

_SINCE: Final = "since"


class _Visitor(UserMixin):  # type: ignore[misc]  # the library has no types
    """A known account, as the library of sessions asks for it."""

    def __init__(self, known: KnownAccount) -> None:
        self.known = known

    def get_id(self) -> str:
        """Return what the session holds."""
        return f"{self.known.session_mark} {self.known.name}"


class Sessions:
    """Starts and ends sessions, and says whose the present one is."""

    def __init__(
        self, server: Flask, book: AccountBook, *, longest_s: float, now: Callable[[], float] = time.time
    ) -> None:
        self._book = book
        self._longest_s = longest_s
        self._now = now
        server.config.update(
            SESSION_COOKIE_NAME=SESSION_COOKIE,
            SESSION_COOKIE_PATH="/",
            SESSION_COOKIE_SECURE=True,
            SESSION_COOKIE_HTTPONLY=True,
            # Strict would ask whoever follows a link from a message to sign in again.
            SESSION_COOKIE_SAMESITE="Lax",
        )
        manager = LoginManager(server)
        # The mark of the account and the age of the session decide, not the address of the browser.
        manager.session_protection = None
        manager.user_loader(self._visitor)
        _give_token(server)

    def start(self, known: KnownAccount) -> None:
        """Begin a session; nothing of the one before is kept, so that nobody can plant one."""
        session.clear()
        login_user(_Visitor(known))
        session[_SINCE] = self._now()

    def end(self) -> None:
        """End the session of this browser."""
        logout_user()
        session.clear()

    def account(self) -> Account | None:
        """Return who is signed in."""
        return current_user.known.account if current_user.is_authenticated else None

    def _visitor(self, kept: str) -> _Visitor | None:
        since = session.get(_SINCE)
        if not isinstance(since, float) or not 0 <= self._now() - since < self._longest_s:
            return None
        mark, _, name = kept.partition(" ")
        known = self._book.find(name)
        if known is None or known.closed or known.session_mark != mark:
            return None
        return _Visitor(known)


def _give_token(server: Flask) -> None:
    """Give the page its token whenever it is loaded."""

    def add(response: Response) -> Response:
        loaded = request.endpoint in PAGES and response.status_code == 200
        if loaded and current_user.is_authenticated:
            response.set_cookie(TOKEN_COOKIE, generate_csrf(), secure=True, samesite="Strict")
        return response

    server.after_request(add)
