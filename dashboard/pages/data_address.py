"""What the URL of the data page may say."""

from __future__ import annotations

from typing import Final

NAME: Final = "data"
"""Of the page, in its ids."""

KEYS: Final[tuple[str, ...]] = ("job", "release")
"""The job that is watched, and the release whose results lack partners."""
