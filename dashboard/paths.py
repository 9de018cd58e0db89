"""The path of every page in the URL, once."""

from __future__ import annotations

from typing import Final

SCOREBOARD: Final = "/"
MATRIX: Final = "/matrix"
PAIR: Final = "/pair"
REPEATS: Final = "/repeats"
TUNING: Final = "/tuning"
DATA: Final = "/data"
ACCOUNT: Final = "/account"
"""Of the person who is signed in; on a server with accounts alone, and no page of the application."""
