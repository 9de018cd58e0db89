"""Sessions: who is signed in, in the cookie of a browser."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING, Any, Final

from flask import request, session
from flask_login import LoginManager, UserMixin, current_user, login_user, logout_user
from flask_wtf.csrf import generate_csrf

from correlate import CorrelateError
from dashboard.access.bodies import is_large
from dashboard.access.gate import CALLBACKS, PAGES

if TYPE_CHECKING:
    from flask import Flask, Response

    from dashboard.access import Account
    from dashboard.accounts import AuditTrail, KnownAccount, OpenSession, SessionBook


SESSION_COOKIE: Final = "__Host-correlate"
"""A browser takes a cookie with this beginning from this very server over an encrypted connection only."""

TOKEN_COOKIE: Final = "_csrf_token"  # noqa: S105 - the name that dash reads the token from
"""Readable by the page, which sends it back in a header; useless without the session."""


_BY: Final = "by"


class _Visitor(UserMixin):  # type: ignore[misc]  # the library has no types
    """A session in use, as the library of sessions asks for it."""

    def __init__(self, secret: str, open_session: OpenSession) -> None:
        self.secret = secret
        self.session = open_session

    def get_id(self) -> str:
        """Return what the cookie holds."""
        return self.secret


class Sessions:
    """Starts and ends sessions, and says whose the present one is."""

    def __init__(self, server: Flask, book: SessionBook, trail: AuditTrail) -> None:
        self._book = book
        self._trail = trail
        server.config.update(
            SESSION_COOKIE_NAME=SESSION_COOKIE,
            SESSION_COOKIE_PATH="/",
            SESSION_COOKIE_SECURE=True,
            SESSION_COOKIE_HTTPONLY=True,
            # Strict would ask whoever follows a link from a message to sign in again.
            SESSION_COOKIE_SAMESITE="Lax",
        )
        manager = LoginManager(server)
        # The table decides, not the address of the browser.
        manager.session_protection = None
        manager.user_loader(self._visitor)
        _give_token(server)

    def start(self, known: KnownAccount, *, by: str = "") -> None:
        """Begin a session; nothing of the one before is kept, so that nobody can plant one.

        ``by`` is what proved who it is, beside or instead of a password.
        """
        self.end("was replaced by another sign-in")
        secret = self._book.start(known.name, request.remote_addr or "")
        begun = self._book.find(secret)
        if begun is not None:
            login_user(_Visitor(secret, begun))
            session[_BY] = by

    def by(self) -> str:
        """Return what proved who is signed in; empty for a password."""
        return str(session.get(_BY, ""))

    def end(self, how: str) -> None:
        """End the session of this browser: a copy of its cookie is refused from then on."""
        present = self.present()
        if present is not None:
            self._book.end(present.id, how, of=present.known.name)
        logout_user()
        session.clear()

    def end_other(self, session_id: str) -> bool:
        """End a session of the account that is signed in; say whether it was open."""
        present = self.present()
        return present is not None and self._book.end(
            session_id, "was ended on the account page", of=present.known.name
        )

    def present(self) -> OpenSession | None:
        """Return the session of this browser."""
        return current_user.session if current_user.is_authenticated else None

    def account(self) -> Account | None:
        """Return who is signed in."""
        present = self.present()
        return None if present is None else present.known.account

    def all_of_account(self) -> list[OpenSession]:
        """Return the open sessions of the account that is signed in."""
        present = self.present()
        return [] if present is None else self._book.open_of(present.known.name)

    def _visitor(self, secret: str) -> _Visitor | None:
        found = self._book.find(secret)
        if found is None:
            return None
        over = self._book.over(found)
        if over:
            # Of requests that arrive together, one ends it.
            if self._book.end(found.id, over, of=found.known.name):
                self._trail.add(who=found.known.name, what=f"a session {over}", address=found.address)
            return None
        if self._book.due(found) and not _sent_by_a_clock():
            # With a full disk, people can still read.
            with suppress(CorrelateError):
                self._book.seen(found)
        return _Visitor(secret, found)


def _sent_by_a_clock() -> bool:
    """Say whether a page sent the request on its own, at an interval, and no person did anything."""
    # A large body is not parsed before its sender is known to be allowed one; a clock sends none.
    if request.path != CALLBACKS or is_large():
        return False
    body: Any = request.get_json(silent=True)
    changed = body.get("changedPropIds") if isinstance(body, dict) else None
    if not isinstance(changed, list) or not changed:
        return False
    return all(isinstance(one, str) and one.endswith(".n_intervals") for one in changed)


def _give_token(server: Flask) -> None:
    """Give the page its token whenever it is loaded."""

    def add(response: Response) -> Response:
        loaded = request.endpoint in PAGES and response.status_code == 200
        if loaded and current_user.is_authenticated:
            response.set_cookie(TOKEN_COOKIE, generate_csrf(), secure=True, samesite="Strict")
        return response

    server.after_request(add)
