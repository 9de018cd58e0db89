"""Who asks, and what they may do."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass, field
from enum import Enum
from functools import wraps
from typing import TYPE_CHECKING, Any, Final, Protocol

from flask import abort, current_app, g, has_request_context, request

from dashboard.access.slots import take_slot

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from dash import Dash


class Role(Enum):
    """What an account may do; each may do what those before it may.

    Examples
    --------
    >>> Role.LAB.allows(Role.ANALYST), Role.VIEWER.allows(Role.ANALYST)
    (True, False)
    """

    VIEWER = "viewer"
    """Views scores and curves; cannot download raw data."""

    MANAGER = "manager"
    """Signs releases off, writes remarks and exports reports, which hold no samples."""

    ANALYST = "analyst"
    """Rates, tunes, uploads model results and downloads data."""

    LAB = "lab"
    """Adds reference data as well."""

    ADMIN = "admin"
    """Manages accounts and reads the audit trail as well."""

    def allows(self, least: Role) -> bool:
        """Say whether this role is enough."""
        order = list(Role)
        return order.index(self) >= order.index(least)


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """Who asks.

    Attributes
    ----------
    name
        For display and for the records.
    role
        What the account may do.
    """

    name: str
    role: Role


_SIGNS_AS: Final[dict[Role, tuple[str, ...]]] = {
    Role.VIEWER: (),
    Role.MANAGER: ("manager",),
    Role.ANALYST: ("analyst",),
    Role.LAB: ("lab",),
    Role.ADMIN: ("manager", "analyst", "lab"),
}


def signs_as(account: Account) -> tuple[str, ...]:
    """Return in which roles an account may sign a release off: its own, an admin in any.

    Examples
    --------
    >>> signs_as(Account(name="office", role=Role.MANAGER))
    ('manager',)
    """
    return _SIGNS_AS[account.role]


THIS_MACHINE: Final = Account(name="admin on this machine", role=Role.ADMIN)
"""Who asks where there are no accounts: the person at the machine."""


TRAIL: Final = "correlate-trail"
"""Under which the web server knows its audit trail."""

ACCOUNT: Final = "account"
"""Under which a request knows its account."""


class Trail(Protocol):
    """Keeps what was done; entries are added and never changed."""

    def add(self, *, who: str, what: str, about: str = "", address: str = "") -> None:
        """Add an entry."""


def current_account() -> Account:
    """Return the account behind the request."""
    if not has_request_context():
        return THIS_MACHINE
    account: Account | None = g.get(ACCOUNT)
    if account is None:
        abort(401, "Sign in first.")
    return account


def require(role: Role) -> None:
    """Go on only when the account behind the request has at least a role."""
    account = current_account()
    if not account.role.allows(role):
        words = (
            f"This needs the role {role.value}; the account {account.name} has the role "
            f"{account.role.value}. "
            "Ask the administrator of this server if you need it."
        )
        abort(403, words)


def record(what: str, about: str = "") -> None:
    """Add to the audit trail what the account behind the request did; nothing where there are no accounts."""
    trail: Trail | None = current_app.extensions.get(TRAIL) if has_request_context() else None
    if trail is not None:
        address = request.remote_addr or ""
        trail.add(who=current_account().name, what=what, about=about, address=address)


_NEEDS: Final = "correlate-needs"


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """What a callback or route asks of whoever calls it.

    Attributes
    ----------
    role
        The least.
    audited
        What the audit trail says was done; empty where the call only looks.
    takes_files
        Whether it may receive as much as an upload may be.
    """

    role: Role
    audited: str = ""
    takes_files: bool = False


@dataclass(slots=True)
class AllNeeds:
    """What the callbacks and routes of an application ask for.

    Attributes
    ----------
    callbacks
        By their key in ``app.callback_map``.
    endpoints
        By their name in the web server.
    """

    callbacks: dict[str, Needs] = field(default_factory=dict)
    endpoints: dict[str, Needs] = field(default_factory=dict)


@contextmanager
def permitted(app: Dash, role: Role, *, audited: str = "", takes_files: bool = False) -> Iterator[None]:
    """Give every callback and route that is registered inside its least role.

    A block inside a block speaks for what is registered in it.
    """
    all_needs, needs = needs_of(app), Needs(role=role, audited=audited, takes_files=takes_files)
    callbacks, endpoints = set(app.callback_map), set(app.server.view_functions)
    yield
    for key in app.callback_map.keys() - callbacks - all_needs.callbacks.keys():
        all_needs.callbacks[key] = needs
        entry = app.callback_map[key]
        # Callbacks that run in the browser have none.
        if "callback" in entry:
            entry["callback"] = _checked(entry["callback"], needs)
    for name in app.server.view_functions.keys() - endpoints - all_needs.endpoints.keys():
        all_needs.endpoints[name] = needs
        app.server.view_functions[name] = _checked(app.server.view_functions[name], needs)


def needs_of(app: Dash) -> AllNeeds:
    """Return what the callbacks and routes of an application ask for."""
    found: AllNeeds = app.server.extensions.setdefault(_NEEDS, AllNeeds())
    return found


def server_callbacks(app: Dash) -> list[str]:
    """Return the keys of the callbacks that run on the server."""
    return [key for key, entry in app.callback_map.items() if "callback" in entry]


def without_role(app: Dash) -> list[str]:
    """Return the callbacks of the server that were registered without a role."""
    known = needs_of(app).callbacks
    return [key for key in server_callbacks(app) if key not in known]


def expensive(function: Callable[..., Any]) -> Callable[..., Any]:
    """Let a callback or route compute only while its request holds a slot; put it below ``app.callback``."""

    @wraps(function)
    def wait_for_slot(*values: Any, **named: Any) -> Any:
        take_slot(current_account().name)
        return function(*values, **named)

    return wait_for_slot


def _checked(function: Callable[..., Any], needs: Needs) -> Callable[..., Any]:
    @wraps(function)
    def check_first(*values: Any, **named: Any) -> Any:
        require(needs.role)
        answer = function(*values, **named)
        if needs.audited:
            record(needs.audited)
        return answer

    return check_first
