"""The routes of signing in, and who may ask for them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urlsplit

from flask import redirect
from flask_wtf import CSRFProtect

from correlate import need_extra
from dashboard.access import Role, permitted
from dashboard.access.account import TRAIL
from dashboard.access.gate import SignedIn, install
from dashboard.accounts import AccountBook, AuditTrail, KnownDevices, SecondFactors, SessionBook, Throttle
from dashboard.signing_in.account_page import AccountPage
from dashboard.signing_in.guesses import Guesses
from dashboard.signing_in.header import HeaderSignIn
from dashboard.signing_in.pages import PATHS, shown
from dashboard.signing_in.passwords import PasswordSignIn
from dashboard.signing_in.second_step import SecondStep
from dashboard.signing_in.services import Services
from dashboard.signing_in.sessions import Sessions
from dashboard.signing_in.trail_page import TrailPage

if TYPE_CHECKING:
    from collections.abc import Callable

    from dash import Dash
    from flask import Flask
    from sqlalchemy import Engine

    from dashboard.account_settings import AccountsTable
    from dashboard.accounts.book import Passwords
    from dashboard.signing_in.provider import ProviderSignIn

_OPEN: Final = frozenset(
    {
        "sign-in",
        "signing-in",
        "second-step",
        "check-second-step",
        "new-factor",
        "confirm-factor",
        "begin-with-provider",
        "answer-of-provider",
        "signed-out",
    }
)
"""Endpoints that do not require a session."""


def keep_accounts(
    app: Dash,
    engine: Engine,
    *,
    origin: str,
    settings: AccountsTable,
    client_secret: str = "",
    passwords: Passwords | None = None,
    now: Callable[[], datetime] = lambda: datetime.now(UTC),
) -> None:
    """Require a session for every request from now on."""
    server = app.server
    # The token is as old as its session at most. Whether the sender is this server is asked by the gate: the
    # check of the library needs the referrer, which our pages do not send.
    server.config.update(WTF_CSRF_CHECK_DEFAULT=False, WTF_CSRF_TIME_LIMIT=None, WTF_CSRF_SSL_STRICT=False)
    csrf = CSRFProtect(server)
    trail = AuditTrail(engine)
    server.extensions[TRAIL] = trail
    idle, longest = timedelta(minutes=settings.idle_minutes), timedelta(hours=settings.session_hours)
    services = Services(
        settings=settings,
        server=urlsplit(origin).hostname or "",
        book=AccountBook(engine, passwords=passwords),
        factors=SecondFactors(engine, str(server.secret_key), now=now),
        sessions=Sessions(server, SessionBook(engine, longest=longest, idle=idle, now=now), trail),
        trail=trail,
        guesses=Guesses(throttle=Throttle(engine), devices=KnownDevices(engine)),
    )
    gate = SignedIn(
        app,
        origin=origin,
        who=_offer_ways_in(app, services, origin, client_secret),
        sign_in=PATHS.sign_in,
        check_token=csrf.protect,
        open_to_all=_OPEN,
    )
    install(app, gate)


def _offer_ways_in(app: Dash, services: Services, origin: str, client_secret: str) -> Callable[[], Any]:
    """Add the routes of every way to sign in, and return who says whose a request is."""
    settings, server, step = services.settings, app.server, SecondStep(services)
    header = None
    if settings.header is not None:
        header = HeaderSignIn(services, settings.header, frozenset({"sign-in", "signed-out"}))
    provider = None
    if settings.provider is not None:
        need_extra("sign-in", what="[accounts.provider]")
        from dashboard.signing_in.provider import provider_sign_in  # noqa: PLC0415 - of an extra

        provider = provider_sign_in(services, settings.provider, client_secret, origin)
        server.add_url_rule(PATHS.provider, "begin-with-provider", provider.begin)
        server.add_url_rule(PATHS.answer, "answer-of-provider", provider.answered)
    entry = PasswordSignIn(services, step, header.refusal if header else str)
    server.add_url_rule(PATHS.sign_in, "sign-in", entry.sign_in)
    leaving = _SigningOut(header, provider)
    server.add_url_rule(PATHS.signed_out, "signed-out", leaving.page)
    page = AccountPage(services=services, second_step=step, signed_out=leaving.answer)
    _offer_account(app, page)
    if settings.take_passwords:
        server.add_url_rule(PATHS.sign_in, "signing-in", entry.signing_in, methods=["POST"])
        _offer_second_step(server, step)
        _offer_passwords(app, page)
    return header.account if header else services.sessions.account


def _offer_account(app: Dash, page: AccountPage) -> None:
    with permitted(app, Role.VIEWER):
        app.server.add_url_rule(PATHS.account, "account", page.show)
        app.server.add_url_rule(PATHS.sign_out, "sign-out", page.sign_out, methods=["POST"])
        app.server.add_url_rule(PATHS.sessions, "end-session", page.end_session, methods=["POST"])
    trail = TrailPage(page.services.trail)
    with permitted(app, Role.ADMIN, audited="read the audit trail"):
        app.server.add_url_rule(PATHS.audit, "audit-trail", trail.show)
    with permitted(app, Role.ADMIN, audited="exported the audit trail"):
        app.server.add_url_rule(PATHS.trail_export, "export-audit-trail", trail.export)


def _offer_passwords(app: Dash, page: AccountPage) -> None:
    with permitted(app, Role.VIEWER):
        app.server.add_url_rule(PATHS.account, "change-password", page.change_password, methods=["POST"])
        app.server.add_url_rule(PATHS.add_factor, "add-factor", page.add_factor, methods=["POST"])
        app.server.add_url_rule(PATHS.remove_factor, "remove-factor", page.remove_factor, methods=["POST"])


def _offer_second_step(server: Flask, step: SecondStep) -> None:
    server.add_url_rule(PATHS.code, "second-step", step.ask)
    server.add_url_rule(PATHS.code, "check-second-step", step.check, methods=["POST"])
    server.add_url_rule(PATHS.new_factor, "new-factor", step.offer)
    server.add_url_rule(PATHS.new_factor, "confirm-factor", step.confirm, methods=["POST"])


@dataclass(frozen=True, slots=True)
class _SigningOut:
    """Where a browser goes that was signed out."""

    header: HeaderSignIn | None
    provider: ProviderSignIn | None

    def answer(self, by: str) -> Any:
        """Answer a browser that was signed out, from what had proved who it is."""
        onward = self.provider.onward() if self.provider is not None and by == "provider" else ""
        if not onward:
            return redirect(PATHS.signed_out, 303)
        # Not redirected: browsers forbid that a form of this server leads to another one.
        return self._page(onward), 200, {"Refresh": f"0; url={onward}"}

    def page(self) -> Any:
        """Show the page after signing out."""
        return self._page("")

    def _page(self, onward: str) -> str:
        return shown("signed-out", "Signed out", onward=onward, header=self.header is not None)
