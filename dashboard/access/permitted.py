"""The minimum role of every callback and route, declared where it is registered."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import wraps
from typing import TYPE_CHECKING, Any, Final

from dashboard.access.asking import record, require

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from dash import Dash

    from dashboard.access.account import Role

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

    Parameters
    ----------
    app
        The application.
    role
        The least that is needed.
    audited
        What the audit trail says was done; empty where the calls only look.
    takes_files
        Whether the callbacks may receive as much as an upload may be.
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
    """Return what the callbacks and routes of an application ask for.

    Parameters
    ----------
    app
        The application.

    Returns
    -------
    AllNeeds
        Grows with every ``permitted`` block.
    """
    found: AllNeeds = app.server.extensions.setdefault(_NEEDS, AllNeeds())
    return found


def server_callbacks(app: Dash) -> list[str]:
    """Return the keys of the callbacks that run on the server.

    Parameters
    ----------
    app
        The application.

    Returns
    -------
    list of str
    """
    return [key for key, entry in app.callback_map.items() if "callback" in entry]


def without_role(app: Dash) -> list[str]:
    """Return the callbacks of the server that were registered without a role.

    Parameters
    ----------
    app
        The application.

    Returns
    -------
    list of str
        Their keys.
    """
    known = needs_of(app).callbacks
    return [key for key in server_callbacks(app) if key not in known]


def _checked(function: Callable[..., Any], needs: Needs) -> Callable[..., Any]:
    @wraps(function)
    def check_first(*values: Any, **named: Any) -> Any:
        require(needs.role)
        answer = function(*values, **named)
        if needs.audited:
            record(needs.audited)
        return answer

    return check_first
