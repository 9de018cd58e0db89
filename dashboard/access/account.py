"""Roles, and the account that a request is made with."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Final


class Role(Enum):
    """What an account may do; each may do what those before it may.

    Examples
    --------
    >>> Role.LAB.allows(Role.ANALYST), Role.VIEWER.allows(Role.ANALYST)
    (True, False)
    """

    VIEWER = "viewer"
    """Views scores and curves; cannot download raw data."""

    ANALYST = "analyst"
    """Rates, tunes, uploads model results and downloads data."""

    LAB = "lab"
    """Adds reference data as well."""

    ADMIN = "admin"
    """Manages accounts and reads the audit trail as well."""

    def allows(self, least: Role) -> bool:
        """Say whether this role is enough.

        Parameters
        ----------
        least
            That is asked for.

        Returns
        -------
        bool
        """
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


THIS_MACHINE: Final = Account(name="admin on this machine", role=Role.ADMIN)
"""Who asks where there are no accounts: the person at the machine."""
