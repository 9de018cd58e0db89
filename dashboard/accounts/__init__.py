"""The accounts of a server and its audit trail, in a separate database."""

from dashboard.accounts.audit import AuditTrail, Entry
from dashboard.accounts.book import AccountBook, KnownAccount, check_accounts, open_accounts
from dashboard.accounts.devices import KnownDevices
from dashboard.accounts.guesses import Attempt, Throttle

__all__ = [
    "AccountBook",
    "Attempt",
    "AuditTrail",
    "Entry",
    "KnownAccount",
    "KnownDevices",
    "Throttle",
    "check_accounts",
    "open_accounts",
]
