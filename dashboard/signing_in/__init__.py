"""Sessions, the ways to sign in, and the pages of an account."""

from dashboard.signing_in.header import HeaderOfProxy
from dashboard.signing_in.routes import keep_accounts

__all__ = ["HeaderOfProxy", "keep_accounts"]
