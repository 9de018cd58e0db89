"""The gate that every request passes before it is processed."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, Final, Protocol
from urllib.parse import quote, urlsplit

from flask import abort, g, redirect, request
from werkzeug.exceptions import BadRequest, Forbidden
from werkzeug.test import create_environ

from dashboard.access.account import (
    ACCOUNT,
    THIS_MACHINE,
    Account,
    AllNeeds,
    Needs,
    Role,
    current_account,
    needs_of,
    record,
    require,
    without_role,
)
from dashboard.access.bodies import (
    FORM_BYTES,
    MENU_BYTES,
    bring_no_files,
    is_large,
    needs_of_large,
    see_that_it_is_named,
)
from dashboard.access.local_key import without_key
from dashboard.access.slots import SlotLimits, limit_expensive, take_slot
from dashboard.connections import Reception

if TYPE_CHECKING:
    from collections.abc import Callable

    from dash import Dash
    from flask import Response

    from dashboard.access.local_key import LocalKey

_GATE: Final = "correlate-gate"

_USER: Final = "_user_id"
"""Under which the library of sessions keeps whose a session is."""

LOOKING: Final = frozenset({"GET", "HEAD", "OPTIONS"})
"""Methods that change nothing."""

CALLBACKS: Final = "/_dash-update-component"
"""Endpoint of all callbacks."""

PAGES: Final = frozenset({"/", "/<path:path>"})
"""Endpoints of what a person types into the URL."""

COMPONENTS: Final = "/_dash-component-suites/<string:package_name>/<path:fingerprinted_path>"
"""Endpoint of the scripts of the component libraries."""

SHELL: Final = PAGES | {
    "/_dash-layout",
    "/_dash-dependencies",
    COMPONENTS,
    "/_reload-hash",
    "/_favicon.ico",
}
"""Endpoints of the empty application; they know nothing of the project."""

HEALTH: Final = "health"
"""Endpoint of monitoring, which has no account."""

ASSETS: Final = "_dash_assets.static"
"""Endpoint of the style sheets and scripts of the project, which the sign-in page needs too."""


class Gate(Protocol):
    """Lets a request in, or answers it."""

    def __call__(self) -> Any:
        """Return None to let the request in, else the answer."""

    def knows(self, cookies: str) -> bool:
        """Say whether cookies look like those of a permitted user; no database is read."""


_THIS_MACHINE: Final = re.compile(r"(127\.0\.0\.1|localhost|\[::1\])(:\d{1,5})?")
"""Names of the server of one machine; a request under another name was sent by a page elsewhere."""


class OneMachine:
    """Accepts requests with the key of this server, and none from pages of another server.

    Parameters
    ----------
    app
        Whose callbacks and routes are asked for.
    key
        Of the server; without one, everybody on this machine has access.
    """

    def __init__(self, app: Dash, key: LocalKey | None = None) -> None:
        self._needs = needs_of(app)
        self._key = key

    def __call__(self) -> Response | None:
        """Refuse a request from a page elsewhere, or without the key."""
        if not _THIS_MACHINE.fullmatch(request.host):
            abort(400, "This server only answers at 127.0.0.1, localhost and [::1].")
        answer = None if self._key is None else self._key.admit()
        setattr(g, ACCOUNT, THIS_MACHINE)
        if request.method not in LOOKING:
            refuse_foreign(request.host_url)
        _limit_body(self._needs)
        return answer

    def knows(self, cookies: str) -> bool:
        """Say whether cookies contain the key; without a key, everybody on this machine has access."""
        return self._key is None or self._key.is_in(cookies)


class SignedIn:
    """Lets in who is signed in and has the role that is needed; everything else is denied."""

    def __init__(
        self,
        app: Dash,
        *,
        origin: str,
        who: Callable[[], Account | None],
        sign_in: str,
        check_token: Callable[[], object],
        open_to_all: frozenset[str],
    ) -> None:
        if forgotten := without_role(app):
            raise RuntimeError(f"callbacks without a role: {'; '.join(forgotten)}")
        self._server = app.server
        self._needs = needs_of(app)
        self._origin = origin
        self._who = who
        self._sign_in = sign_in
        self._check_token = check_token
        self._open = open_to_all | {ASSETS, HEALTH}

    def __call__(self) -> Any:
        """Let the request in, ask to sign in, or refuse."""
        if isinstance(request.routing_exception, BadRequest):
            # Asked under a name that is not ours, which is found out before anything else.
            if self._is_other_name_of_this_machine():
                return redirect(f"{self._origin.rstrip('/')}{without_key()}", 303)
            abort(400, f"This server answers at {self._origin} only. Open that address.")
        account = self._who()
        if account is not None:
            setattr(g, ACCOUNT, account)
        if request.endpoint in self._open:
            bring_no_files()
            self._see_that_it_is_ours()
            return None
        if account is None:
            return self._ask_to_sign_in()
        try:
            _limit_body(self._needs)
            self._see_that_it_is_ours()
            self._require()
        except Forbidden:
            record("was refused", f"{request.method} {request.path}")
            raise
        return None

    def _is_other_name_of_this_machine(self) -> bool:
        """Say whether a trial server at localhost is requested under another name."""
        name, _, _ = request.headers.get("Host", "").rpartition(":")
        is_trial = urlsplit(self._origin).hostname == "localhost"
        return is_trial and request.method in LOOKING and name in {"127.0.0.1", "[::1]"}

    def knows(self, cookies: str) -> bool:
        """Say whether cookies hold a session that this server signed, which may have ended since."""
        asked = self._server.request_class(create_environ(headers={"Cookie": cookies}))
        found = self._server.session_interface.open_session(self._server, asked)
        return found is not None and _USER in found

    def _see_that_it_is_ours(self) -> None:
        """Refuse what a page of another server made the browser send."""
        if request.method not in LOOKING:
            refuse_foreign(self._origin)
            self._check_token()

    def _require(self) -> None:
        if request.endpoint == CALLBACKS:
            needs = self._callback_needs()
        elif request.endpoint in SHELL:
            needs = Needs(role=Role.VIEWER)
        else:
            found = self._needs.endpoints.get(request.endpoint or "")
            needs = found or abort(403, "Nobody has permission for this.")
        require(needs.role)

    def _callback_needs(self) -> Needs:
        body = call_body()
        key = body.get("output") if isinstance(body, dict) else None
        see_that_it_is_named(key)
        needs = self._needs.callbacks.get(key) if isinstance(key, str) else None
        if needs is None:
            abort(403, "There is no such callback.")
        return needs

    def _ask_to_sign_in(self) -> Any:
        if request.method == "GET" and request.endpoint in PAGES | self._needs.endpoints.keys():
            wanted = request.full_path.removesuffix("?")
            return redirect(f"{self._sign_in}?next={quote(wanted, safe='/')}", 303)
        return abort(401, "Sign in first.")


def call_body() -> Any:
    """Return what a callback is sent; None where it is not JSON."""
    try:
        return request.get_json(silent=True)
    except RecursionError:
        # Nested more deeply than the parser goes.
        return None


def _limit_body(all_needs: AllNeeds) -> None:
    """Refuse a large body unless a callback takes it and the account has its role; nothing is parsed.

    Large bodies need several times their size in memory, so that only a few are read at a time.
    """
    if request.endpoint != CALLBACKS:
        bring_no_files()
    elif is_large():
        require(needs_of_large(all_needs).role)
        take_slot(current_account().name)


def refuse_foreign(own: str) -> None:
    """Refuse a request that a page of another server made a browser send."""
    sender, site = request.headers.get("Origin"), request.headers.get("Sec-Fetch-Site")
    if sender is not None and _origin(sender) != _origin(own):
        abort(403, "The request came from a page of another server.")
    if site not in {None, "same-origin", "none"}:
        abort(403, "The request came from a page of another server.")


def install(app: Dash, gate: Gate) -> None:
    """Put a gate before every request, in place of the one that was there."""
    extensions = app.server.extensions

    def ask_the_gate() -> Any:
        present: Gate = extensions[_GATE]
        return present()

    if _GATE not in extensions:
        app.server.before_request(ask_the_gate)
        limit_expensive(app, SlotLimits())
    extensions[_GATE] = gate


def reception_of(app: Dash) -> Reception:
    """Return the limits on bodies by path and cookies, which the web server knows before the body arrives."""
    gate: Gate = app.server.extensions[_GATE]
    largest = int(app.server.config["MAX_CONTENT_LENGTH"])
    return Reception(
        known=gate.knows,
        unknown_bytes=FORM_BYTES,
        most_bytes=lambda path: largest if path == CALLBACKS else MENU_BYTES,
        largest=largest,
        chunked=MENU_BYTES,
    )


def _origin(address: str) -> tuple[str, str]:
    parts = urlsplit(address)
    return parts.scheme, parts.netloc
