"""What the routes of signing in share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from flask import redirect, request

if TYPE_CHECKING:
    from dashboard.account_settings import AccountsTable
    from dashboard.accounts import AccountBook, Attempt, AuditTrail, KnownAccount, SecondFactors
    from dashboard.signing_in.guesses import Guesses
    from dashboard.signing_in.sessions import Sessions

TOO_MANY: Final = "Too many attempts. Try again later."


@dataclass(frozen=True, slots=True, kw_only=True)
class Services:
    """Settings, accounts and sessions of a server.

    Attributes
    ----------
    settings
        How people sign in.
    server
        Host name, for the apps that produce codes.
    book, factors, sessions, trail, guesses
        Accounts, second factors, sessions, audit trail, and the limit on attempts.
    """

    settings: AccountsTable
    server: str
    book: AccountBook
    factors: SecondFactors
    sessions: Sessions
    trail: AuditTrail
    guesses: Guesses

    def finish(self, known: KnownAccount, wanted: str, *, by: str = "", about: str = "") -> Any:
        """Sign somebody in who has proved everything that is asked for."""
        self.sessions.start(known, by=by)
        self.note(known.name, "signed in", about)
        return redirect(wanted, 303)

    def note(self, who: str, what: str, about: str = "") -> None:
        """Add to the audit trail what somebody did who may not be signed in yet."""
        self.trail.add(who=who, what=what, about=about, address=request.remote_addr or "")

    def count(self, who: str, what: str) -> None:
        """Count for the audit trail what somebody did who may be anybody and may do it without end."""
        self.trail.count(who=who, what=what, address=request.remote_addr or "")

    def recheck(self, name: str, password: str, failure: str) -> Rechecked:
        """Check the password of who is signed in once more."""
        attempt = self.guesses.begin(name)
        if attempt.wait_s:
            return Rechecked(attempt, TOO_MANY, 429)
        if self.book.opened_with(name, password) is None:
            self.note(name, failure)
            return Rechecked(attempt, "Current password is incorrect.", 400)
        self.guesses.give_back(attempt)
        return Rechecked(attempt, "", 200)


class Rechecked(NamedTuple):
    """Result of checking a password once more.

    Attributes
    ----------
    attempt
        As it was counted.
    said
        Why it is refused; empty if it is right.
    status
        Of the answer.
    """

    attempt: Attempt
    said: str
    status: int
