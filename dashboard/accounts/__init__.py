"""The accounts of a server and its audit trail, in a separate database."""

from dashboard.accounts.audit import AuditTrail, Entry
from dashboard.accounts.book import AccountBook, check_accounts, open_accounts
from dashboard.accounts.devices import KnownDevices
from dashboard.accounts.guesses import Attempt, Throttle
from dashboard.accounts.known import Identity, KnownAccount
from dashboard.accounts.open_sessions import OpenSession, SessionBook
from dashboard.accounts.second_factor import SecondFactors

__all__ = [
    "AccountBook",
    "Attempt",
    "AuditTrail",
    "Entry",
    "Identity",
    "KnownAccount",
    "KnownDevices",
    "OpenSession",
    "SecondFactors",
    "SessionBook",
    "Throttle",
    "check_accounts",
    "open_accounts",
]
