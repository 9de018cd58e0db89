"""Signing in with a name and a password."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from flask import redirect, request

from dashboard.signing_in.pages import own_path, shown

if TYPE_CHECKING:
    from collections.abc import Callable

    from dashboard.signing_in.second_step import SecondStep
    from dashboard.signing_in.services import Services

_WRONG: Final = "Incorrect user name or password."


@dataclass(frozen=True, slots=True)
class PasswordSignIn:
    """The routes.

    Attributes
    ----------
    services
        Accounts and sessions.
    second_step
        What follows a right password.
    refusal
        Says why nobody was signed in without a password; empty where that is no question.
    """

    services: Services
    second_step: SecondStep
    refusal: Callable[[], str]

    def sign_in(self) -> Any:
        """Show the sign-in page."""
        wanted = own_path(request.args.get("next"))
        if self.services.sessions.account() is not None:
            return redirect(wanted, 303)
        said = self.refusal()
        return sign_in_page(self.services, wanted, said), 403 if said else 200

    def signing_in(self) -> Any:
        """Check a name and a password."""
        services, name = self.services, request.form.get("name", "")[:100]
        wanted = own_path(request.form.get("next"))
        attempt = services.guesses.begin(name)
        if wait_s := attempt.wait_s:
            services.count(name, "was throttled at sign-in")
            said = f"Too many attempts. Try again in {round(wait_s // 60) + 1} minutes."
            return sign_in_page(services, wanted, said, name), 429, {"Retry-After": str(int(wait_s) + 1)}
        known = services.book.opened_with(name, request.form.get("password", ""))
        if known is None:
            # Attempts for an account are throttled, so they are few; names that do not exist have no limit.
            tell = services.count if services.book.find(name) is None else services.note
            tell(name, "could not sign in")
            return sign_in_page(services, wanted, _WRONG, name), 401
        return self.second_step.after_password(known, wanted, attempt)


def sign_in_page(services: Services, wanted: str, said: str = "", name: str = "") -> str:
    """Return the page with every way to sign in that the settings offer, and the user name that was typed."""
    settings = services.settings
    return shown(
        "sign-in",
        "Sign in",
        said=said,
        name=name,
        next=wanted,
        passwords=settings.take_passwords,
        provider=settings.provider is not None,
        header=settings.header is not None,
    )
