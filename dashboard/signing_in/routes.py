"""What the routes of signing in answer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from flask import redirect, request
from flask_wtf import CSRFProtect

from correlate import CorrelateError
from dashboard.access import Role, permitted, record
from dashboard.access.account import TRAIL, current_account
from dashboard.access.gate import SignedIn, install
from dashboard.accounts import AccountBook, AuditTrail, KnownDevices, Throttle
from dashboard.signing_in.guesses import Guesses
from dashboard.signing_in.pages import PATHS, own_path, shown
from dashboard.signing_in.sessions import Sessions

if TYPE_CHECKING:
    from dash import Dash
    from sqlalchemy import Engine

    from dashboard.accounts.book import Passwords

_LINES: Final = 200
"""Of the audit trail on its page."""

_WRONG: Final = "Incorrect user name or password."


def keep_accounts(
    app: Dash, engine: Engine, *, origin: str, session_hours: float, passwords: Passwords | None = None
) -> None:
    """Let in only who is signed in, from now on."""
    server = app.server
    # The token is as old as its session at most. Whether the sender is this server is asked by the gate: the
    # check of the library needs the referrer, which no page of ours gives away.
    server.config.update(WTF_CSRF_CHECK_DEFAULT=False, WTF_CSRF_TIME_LIMIT=None, WTF_CSRF_SSL_STRICT=False)
    csrf = CSRFProtect(server)
    book = AccountBook(engine, passwords=passwords)
    trail = AuditTrail(engine)
    server.extensions[TRAIL] = trail
    sessions = Sessions(server, book, longest_s=session_hours * 3600)
    guesses = Guesses(throttle=Throttle(engine), devices=KnownDevices(engine))
    pages = _Pages(book=book, trail=trail, sessions=sessions, guesses=guesses)
    with permitted(app, Role.VIEWER):
        server.add_url_rule(PATHS.account, "account", pages.account)
        server.add_url_rule(PATHS.account, "change-password", pages.change_password, methods=["POST"])
        server.add_url_rule(PATHS.sign_out, "sign-out", pages.sign_out, methods=["POST"])
    with permitted(app, Role.ADMIN, audited="read the audit trail"):
        server.add_url_rule(PATHS.audit, "audit-trail", pages.audit)
    server.add_url_rule(PATHS.sign_in, "sign-in", pages.sign_in)
    server.add_url_rule(PATHS.sign_in, "signing-in", pages.signing_in, methods=["POST"])
    gate = SignedIn(
        app,
        origin=origin,
        who=sessions.account,
        sign_in=PATHS.sign_in,
        check_token=csrf.protect,
        open_to_all=frozenset({"sign-in", "signing-in"}),
    )
    install(app, gate)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pages:
    """What the routes answer."""

    book: AccountBook
    trail: AuditTrail
    sessions: Sessions
    guesses: Guesses

    def sign_in(self) -> Any:
        """Show the page where one signs in."""
        wanted = own_path(request.args.get("next"))
        if self.sessions.account() is not None:
            return redirect(wanted, 303)
        return shown("sign-in", "Sign in", next=wanted)

    def signing_in(self) -> Any:
        """Look at a name and a password."""
        name, address = request.form.get("name", "")[:100], request.remote_addr or ""
        wanted = own_path(request.form.get("next"))
        attempt = self.guesses.begin(name)
        if wait_s := attempt.wait_s:
            self.trail.add(who=name, what="was throttled at sign-in", address=address)
            minutes = round(wait_s // 60) + 1
            said = f"Too many attempts. Try again in {minutes} minutes."
            return (
                shown("sign-in", "Sign in", said=said, next=wanted),
                429,
                {"Retry-After": str(int(wait_s) + 1)},
            )
        known = self.book.opened_with(name, request.form.get("password", ""))
        if known is None:
            self.trail.add(who=name, what="could not sign in", address=address)
            return shown("sign-in", "Sign in", said=_WRONG, next=wanted), 401
        self.guesses.succeeded(attempt)
        self.sessions.start(known)
        self.trail.add(who=known.name, what="signed in", address=address)
        return redirect(wanted, 303)

    def sign_out(self) -> Any:
        """End the session of this browser, or all of the account."""
        everywhere = "everywhere" in request.form
        record("signed out everywhere" if everywhere else "signed out")
        if everywhere:
            self.book.end_sessions(current_account().name)
        self.sessions.end()
        return redirect(PATHS.sign_in, 303)

    def account(self) -> Any:
        """Show the account."""
        return self._account_page()

    def change_password(self) -> Any:
        """Give the account another password, for which it must know the one until now."""
        name, form = current_account().name, request.form
        attempt = self.guesses.begin(name)
        if attempt.wait_s:
            return self._account_page("Too many attempts. Try again later."), 429
        if self.book.opened_with(name, form.get("password", "")) is None:
            record("could not change the password")
            return self._account_page("Current password is incorrect."), 400
        self.guesses.give_back(attempt)
        if form.get("new", "") != form.get("again", ""):
            return self._account_page("The new passwords do not match."), 400
        try:
            self.book.change_password(name, form.get("new", ""))
        except CorrelateError as error:
            sentence = str(error)
            return self._account_page(sentence[:1].upper() + sentence[1:] + "."), 400
        record("changed the password")
        self.guesses.succeeded(attempt)
        known = self.book.find(name)
        if known is not None:
            self.sessions.start(known)
        return redirect(PATHS.account, 303)

    def audit(self) -> Any:
        """Show the end of the audit trail."""
        newest_first = self.trail.last(_LINES)[::-1]
        return shown("audit", "Audit trail", entries=newest_first)

    def _account_page(self, said: str = "") -> str:
        account = current_account()
        audit = account.role.allows(Role.ADMIN)
        return shown("account", "Your account", said=said, account=account, audit=audit)
