"""The account page: sessions, password and second factor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from flask import abort, redirect, request

from correlate import CorrelateError
from dashboard.access import Role, record
from dashboard.access.account import current_account
from dashboard.accounts.second_factor import RECOVERY
from dashboard.signing_in.pages import PATHS, shown
from dashboard.signing_in.second_step import UNREADABLE, remember_half
from dashboard.signing_in.services import TOO_MANY

if TYPE_CHECKING:
    from collections.abc import Callable

    from dashboard.accounts import KnownAccount
    from dashboard.signing_in.second_step import SecondStep
    from dashboard.signing_in.services import Services


@dataclass(frozen=True, slots=True, kw_only=True)
class AccountPage:
    """The routes.

    Attributes
    ----------
    services
        Accounts and sessions.
    second_step
        Checks codes.
    signed_out
        Returns the answer to a browser that was signed out, given its way of signing in.
    """

    services: Services
    second_step: SecondStep
    signed_out: Callable[[str], Any]

    def show(self) -> Any:
        """Show the account."""
        return self._page()

    def sign_out(self) -> Any:
        """End the session of this browser, or all of the account."""
        everywhere, by = "everywhere" in request.form, self.services.sessions.by()
        record("signed out everywhere" if everywhere else "signed out")
        if everywhere:
            self.services.book.end_sessions(current_account().name)
        self.services.sessions.end("signed out")
        return self.signed_out(by)

    def end_session(self) -> Any:
        """End one of the sessions of the account."""
        sessions, chosen = self.services.sessions, request.form.get("session", "")[:100]
        present = sessions.present()
        if present is not None and present.id == chosen:
            return self.sign_out()
        if sessions.end_other(chosen):
            record("ended a session of the account")
        return redirect(PATHS.account, 303)

    def change_password(self) -> Any:
        """Change the password of the account, after a check of the current one."""
        name, form = current_account().name, request.form
        checked = self.services.recheck(name, form.get("password", ""), "could not change the password")
        if checked.said:
            return self._page(checked.said), checked.status
        if form.get("new", "") != form.get("again", ""):
            return self._page("The new passwords do not match."), 400
        try:
            self.services.book.change_password(name, form.get("new", ""))
        except CorrelateError as error:
            sentence = str(error)
            return self._page(sentence[:1].upper() + sentence[1:] + "."), 400
        record("changed the password")
        self.services.guesses.succeeded(checked.attempt)
        self._start_again(name)
        return redirect(PATHS.account, 303)

    def add_factor(self) -> Any:
        """Go on to the page where a second factor is added, after the password."""
        known = self._known()
        checked = self.services.recheck(
            known.name, request.form.get("password", ""), "could not add a second factor"
        )
        if checked.said:
            return self._page(checked.said), checked.status
        remember_half(known, PATHS.account)
        return redirect(PATHS.new_factor, 303)

    def remove_factor(self) -> Any:
        """Remove the second factor, after the password and a code."""
        known, failure = self._known(), "could not remove the second factor"
        checked = self.services.recheck(known.name, request.form.get("password", ""), failure)
        if checked.said:
            return self._page(checked.said), checked.status
        attempt = self.services.guesses.begin(known.name)
        if attempt.wait_s:
            return self._page(TOO_MANY), 429
        try:
            accepted = self.second_step.accepted(known.name, request.form.get("code", "")[:100])
        except CorrelateError:
            return self._page(UNREADABLE), 500
        if not accepted:
            record(failure)
            return self._page("Incorrect code."), 400
        self.services.guesses.succeeded(attempt)
        self.services.factors.remove(known.name)
        record("removed the second factor")
        self.services.sessions.end("second factor removed")
        return redirect(PATHS.sign_in, 303)

    def _known(self) -> KnownAccount:
        present = self.services.sessions.present()
        return present.known if present is not None else abort(401, "Sign in first.")

    def _start_again(self, name: str) -> None:
        known = self.services.book.find(name)
        if known is not None:
            self.services.sessions.start(known)

    def _page(self, said: str = "") -> str:
        known, sessions = self._known(), self.services.sessions
        present = sessions.present()
        return shown(
            "account",
            "Your account",
            said=said,
            account=known,
            audit=known.role.allows(Role.ADMIN),
            passwords=self.services.settings.take_passwords and known.has_password,
            required=self.services.settings.requires_second_factor(known.role),
            left=self.services.factors.recovery_left(known.name) if known.has_second_factor else 0,
            of=RECOVERY,
            sessions=sessions.all_of_account(),
            idle=f"{self.services.settings.idle_minutes:g}",
            this="" if present is None else present.id,
        )
