"""Sessions, and the pages where people sign in and out, change their password and read the audit trail."""

from dashboard.signing_in.routes import keep_accounts

__all__ = ["keep_accounts"]
