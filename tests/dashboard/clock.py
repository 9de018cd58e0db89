"""A clock that a test sets."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta


class Clock:
    """Tells a moment that only the test changes."""

    def __init__(self) -> None:
        self.now = datetime(2031, 4, 5, 6, 7, tzinfo=UTC)

    def __call__(self) -> datetime:
        """Return the moment."""
        return self.now

    def forward(self, **duration: float) -> None:
        """Let time pass."""
        self.now += timedelta(**duration)
