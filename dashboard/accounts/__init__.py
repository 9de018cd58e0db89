"""The accounts of a server and its audit trail, in a separate database."""

from dashboard.accounts.audit import AuditTrail, Entry, Throttle
from dashboard.accounts.book import AccountBook, KnownAccount, open_accounts

__all__ = ["AccountBook", "AuditTrail", "Entry", "KnownAccount", "Throttle", "open_accounts"]
