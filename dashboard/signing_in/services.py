"""What the routes of signing in share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from flask import redirect, request

if TYPE_CHECKING:
    from dashboard.account_settings import AccountsTable
    from dashboard.accounts import AccountBook, AuditTrail, KnownAccount, SecondFactors, Throttle
    from dashboard.signing_in.sessions import Sessions

TOO_MANY = "Too many attempts. Try again later."


@dataclass(frozen=True, slots=True, kw_only=True)
class Services:
    """Settings, accounts and sessions of a server.

    Attributes
    ----------
    settings
        How people sign in.
    server
        Host name, for the apps that produce codes.
    book, factors, sessions, trail, throttle
        Accounts, second factors, sessions, audit trail, and the limit on attempts.
    """

    settings: AccountsTable
    server: str
    book: AccountBook
    factors: SecondFactors
    sessions: Sessions
    trail: AuditTrail
    throttle: Throttle

    def finish(self, known: KnownAccount, wanted: str, *, by: str = "", about: str = "") -> Any:
        """Sign somebody in who has proved everything that is asked for."""
        self.sessions.start(known, by=by)
        self.note(known.name, "signed in", about)
        return redirect(wanted, 303)

    def note(self, who: str, what: str, about: str = "") -> None:
        """Add to the audit trail what somebody did who may not be signed in yet."""
        self.trail.add(who=who, what=what, about=about, address=request.remote_addr or "")

    def wait_s(self, name: str) -> float:
        """Return for how long no attempt of a name from this address is processed."""
        return self.throttle.wait_s(name, request.remote_addr or "")

    def failed(self, name: str, what: str) -> None:
        """Count a failed attempt."""
        self.throttle.failed(name, request.remote_addr or "")
        self.note(name, what)

    def succeeded(self, name: str) -> None:
        """Forget the failed attempts of a name from this address."""
        self.throttle.succeeded(name, request.remote_addr or "")

    def why_not(self, name: str, password: str, failure: str) -> tuple[str, int] | None:
        """Check the password of who is signed in once more; return the sentence and status if it is wrong."""
        if self.wait_s(name):
            return TOO_MANY, 429
        if self.book.opened_with(name, password) is None:
            self.failed(name, failure)
            return "Current password is incorrect.", 400
        return None
