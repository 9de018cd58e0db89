"""The second step of a sign-in: the code of an app, or adding one."""

from __future__ import annotations

import io
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import segno
from flask import redirect, request, session
from markupsafe import Markup

from correlate import CorrelateError
from dashboard.accounts.second_factor import DIGITS, looks_like_code, otpauth
from dashboard.signing_in.pages import PATHS, shown
from dashboard.signing_in.services import TOO_MANY, Services

if TYPE_CHECKING:
    from dashboard.accounts import AccountBook, Attempt, KnownAccount

_HALF: Final = "half"
_SEALED: Final = "sealed"

PATIENCE_S: Final = 600
"""After which a sign-in that was not finished begins again."""

_WRONG: Final = "Incorrect code. Enter the current code from the app, or an unused recovery code."
_WRONG_FIRST: Final = (
    "Incorrect code. Check the clock of the device, then enter the current code from the app."
)
UNREADABLE: Final = "The second factor of this account cannot be checked. Ask the administrator to remove it."


@dataclass(frozen=True, slots=True)
class Half:
    """A sign-in whose first step is done.

    Attributes
    ----------
    known
        Account whose password was right.
    wanted
        Where to go afterwards.
    """

    known: KnownAccount
    wanted: str


def remember_half(known: KnownAccount, wanted: str) -> None:
    """Remember in the cookie that the first step is done; nobody is signed in by that."""
    session[_HALF] = {
        "name": known.name,
        "mark": known.session_mark,
        "until": time.time() + PATIENCE_S,
        "next": wanted,
    }
    session.pop(_SEALED, None)


def half_of(book: AccountBook) -> Half | None:
    """Return the sign-in of this browser that waits for its second step."""
    kept = session.get(_HALF)
    if not isinstance(kept, dict) or not 0 < kept["until"] - time.time() <= PATIENCE_S:
        return None
    known = book.find(kept["name"])
    if known is None or known.closed or known.session_mark != kept["mark"]:
        return None
    return Half(known, kept["next"])


def _forget_half() -> None:
    for key in (_HALF, _SEALED):
        session.pop(key, None)


@dataclass(frozen=True, slots=True)
class SecondStep:
    """The routes."""

    services: Services

    def after_password(self, known: KnownAccount, wanted: str, attempt: Attempt) -> Any:
        """Go on after a right password: ask for the code, have one added, or sign in."""
        services = self.services
        if known.has_second_factor or services.settings.requires_second_factor(known.role):
            # Other failures remain counted: somebody who knows the password may still guess the code.
            services.guesses.give_back(attempt)
            services.sessions.end("was replaced by another sign-in")
            remember_half(known, wanted)
            return redirect(PATHS.code if known.has_second_factor else PATHS.new_factor, 303)
        services.guesses.succeeded(attempt)
        return services.finish(known, wanted)

    def ask(self) -> Any:
        """Show the page for the code."""
        half = half_of(self.services.book)
        if half is None or not half.known.has_second_factor:
            return redirect(PATHS.sign_in, 303)
        return shown("second-step", "Second factor")

    def check(self) -> Any:
        """Check the code, or a recovery code."""
        half, services = half_of(self.services.book), self.services
        if half is None or not half.known.has_second_factor:
            return redirect(PATHS.sign_in, 303)
        name, code = half.known.name, request.form.get("code", "")[:100]
        attempt = services.guesses.begin(name)
        if attempt.wait_s:
            services.count(name, "was throttled at the second factor")
            return shown("second-step", "Second factor", said=TOO_MANY), 429
        try:
            how = self.accepted(name, code)
        except CorrelateError as error:
            services.note(name, "has a second factor that cannot be checked", str(error))
            return shown("second-step", "Second factor", said=UNREADABLE), 500
        if not how:
            services.note(name, "gave a wrong second factor")
            return shown("second-step", "Second factor", said=_WRONG), 401
        services.guesses.succeeded(attempt)
        return services.finish(half.known, half.wanted, about=how)

    def offer(self) -> Any:
        """Show the secret of a new second factor."""
        half = half_of(self.services.book)
        if half is None or half.known.has_second_factor:
            return redirect(PATHS.sign_in, 303)
        session.setdefault(_SEALED, self.services.factors.new_secret(half.known.name))
        return self._offer_page(half.known)

    def confirm(self) -> Any:
        """Add the second factor whose first code is right, and show the recovery codes."""
        half, services, sealed = half_of(self.services.book), self.services, session.get(_SEALED)
        # Whoever knows only the password must not replace the second factor.
        if half is None or half.known.has_second_factor or not isinstance(sealed, str):
            return redirect(PATHS.sign_in, 303)
        name = half.known.name
        attempt = services.guesses.begin(name)
        if attempt.wait_s:
            return self._offer_page(half.known, TOO_MANY), 429
        codes = services.factors.add(name, sealed, request.form.get("code", "")[:100])
        if not codes:
            services.note(name, "gave a wrong code for a new second factor")
            return self._offer_page(half.known, _WRONG_FIRST), 400
        _forget_half()
        services.guesses.succeeded(attempt)
        services.note(name, "added a second factor")
        fresh = services.book.find(name)
        if fresh is not None:
            services.finish(fresh, half.wanted, about="with a new second factor")
        return shown("recovery", "Recovery codes", codes=codes, next=half.wanted)

    def accepted(self, name: str, code: str) -> str:
        """Say with what the code is right; empty if it is wrong."""
        factors = self.services.factors
        if looks_like_code(code):
            return "with the second factor" if factors.accepts(name, code) else ""
        if factors.accepts_recovery(name, code):
            return f"with a recovery code, {factors.recovery_left(name)} left"
        return ""

    def _offer_page(self, known: KnownAccount, said: str = "") -> str:
        secret = self.services.factors.shown(session[_SEALED], known.name)
        address = otpauth(secret, known.name, self.services.server)
        return shown(
            "new-factor",
            "Add a second factor",
            said=said,
            account=known,
            required=self.services.settings.requires_second_factor(known.role),
            signed_in=self.services.sessions.present() is not None,
            secret=" ".join(secret[at : at + 4] for at in range(0, len(secret), 4)),
            address=address,
            picture=_picture(address),
            digits=DIGITS,
        )


def _picture(address: str) -> Markup:
    """Draw an address as a QR code: dark on light in both themes, as cameras expect."""
    drawn = io.BytesIO()
    segno.make(address, error="m", micro=False).save(
        drawn,
        kind="svg",
        xmldecl=False,
        svgns=True,
        scale=4,
        border=4,
        # In every theme: cameras expect black on white.
        dark="black",
        light="white",
        title="QR code",
    )
    return Markup(drawn.getvalue().decode())  # noqa: S704 - drawn from squares
