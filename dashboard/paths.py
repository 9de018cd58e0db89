"""The path of every page in the URL, once."""

from __future__ import annotations

from typing import Final

DECISION: Final = "/"
SCOREBOARD: Final = "/scoreboard"
MATRIX: Final = "/matrix"
PAIR: Final = "/pair"
REPEATS: Final = "/repeats"
TUNING: Final = "/tuning"
DUMMIES: Final = "/dummies"
DATA: Final = "/data"
REPORT: Final = "/report"
"""Of the files of a report; not a page."""
MEDIA: Final = "/media"
"""Of the photos and films of packages; not a page."""
ACCOUNT: Final = "/account"
"""Of the person who is signed in; only on a server with accounts, and not a page of the application."""
HEALTH: Final = "/health"
"""For monitoring; not a page."""
