"""Questions about the request that is being answered."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Protocol

from flask import abort, current_app, g, has_request_context, request

from dashboard.access.account import THIS_MACHINE, Account

if TYPE_CHECKING:
    from dashboard.access.account import Role

TRAIL: Final = "correlate-trail"
"""Under which the web server knows its audit trail."""

ACCOUNT: Final = "account"
"""Under which a request knows its account."""


class Trail(Protocol):
    """Keeps what was done; entries are added and never changed."""

    def add(self, *, who: str, what: str, about: str = "", address: str = "") -> None:
        """Add an entry.

        Parameters
        ----------
        who
            Name of the account.
        what
            Was done, in words.
        about
            Which thing it was done to.
        address
            Of the browser in the network.
        """


def current_account() -> Account:
    """Return the account behind the request.

    Returns
    -------
    Account
        `THIS_MACHINE` where there are no accounts, and outside of requests.

    Raises
    ------
    werkzeug.exceptions.Unauthorized
        Nobody is signed in; the answer is 401.
    """
    if not has_request_context():
        return THIS_MACHINE
    account: Account | None = g.get(ACCOUNT)
    if account is None:
        abort(401, "Sign in first.")
    return account


def require(role: Role) -> None:
    """Go on only when the account behind the request has at least a role.

    Parameters
    ----------
    role
        The least that is needed.

    Raises
    ------
    werkzeug.exceptions.Unauthorized
        Nobody is signed in; the answer is 401.
    werkzeug.exceptions.Forbidden
        The role is not enough; the answer is 403.
    """
    account = current_account()
    if not account.role.allows(role):
        words = (
            f"This needs the role {role.value}; the account {account.name} has the role {account.role.value}."
        )
        abort(403, words)


def record(what: str, about: str = "") -> None:
    """Add to the audit trail what the account behind the request did; nothing where there are no accounts.

    Parameters
    ----------
    what
        Was done, in words.
    about
        Which thing it was done to.
    """
    trail: Trail | None = current_app.extensions.get(TRAIL) if has_request_context() else None
    if trail is not None:
        address = request.remote_addr or ""
        trail.add(who=current_account().name, what=what, about=about, address=address)
