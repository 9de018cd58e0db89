"""The accounts of a server and its audit trail, in a separate database."""

from dashboard.accounts.audit import AuditTrail, Entry
from dashboard.accounts.book import AccountBook, KnownAccount, open_accounts
from dashboard.accounts.throttle import Throttle

__all__ = ["AccountBook", "AuditTrail", "Entry", "KnownAccount", "Throttle", "open_accounts"]
