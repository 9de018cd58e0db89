"""What is known of an account."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from dashboard.access import Account, Role

if TYPE_CHECKING:
    from sqlalchemy import Row


@dataclass(frozen=True, slots=True)
class Identity:
    """Who somebody is at an identity provider.

    Attributes
    ----------
    issuer
        Address of the provider.
    subject
        What it calls the person, forever: not a name or an e-mail address, which may be given to another.
    """

    issuer: str
    subject: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownAccount:
    """An account as it is kept; its password hash stays in the book.

    Attributes
    ----------
    name, role
        Of the account.
    session_mark
        Changes whenever the sessions of the account end; a sign-in that is not finished must carry it.
    closed
        Whether nobody may sign in with it.
    added
        When.
    has_password, has_second_factor
        What it can prove itself with.
    """

    name: str
    role: Role
    session_mark: str
    closed: bool
    added: str
    has_password: bool
    has_second_factor: bool

    @property
    def account(self) -> Account:
        """Who asks, when a request is made with it."""
        return Account(name=self.name, role=self.role)


def known_account(row: Row[Any]) -> KnownAccount:
    """Return the account of a row of its table."""
    return KnownAccount(
        name=row.name,
        role=Role(row.role),
        session_mark=row.session_mark,
        closed=bool(row.closed),
        added=row.added,
        has_password=bool(row.password_hash),
        has_second_factor=row.totp_secret is not None,
    )
