"""The present moment, on a clock that may be set and on one that may not."""

from __future__ import annotations

import time
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final
from uuid import uuid4

_BOOT_ID: Final = Path("/proc/sys/kernel/random/boot_id")


@dataclass(frozen=True, slots=True, kw_only=True)
class Instant:
    """The present moment.

    Attributes
    ----------
    moment
        In UTC, by the clock that people and time servers set.
    ticks
        Seconds since the system started, also while it sleeps; nobody sets them.
    boot
        Mark of the system that counts the ticks; they compare only with those of the same mark.
    """

    moment: datetime
    ticks: float
    boot: str


def present() -> Instant:
    """Return the present moment."""
    return Instant(moment=datetime.now(UTC), ticks=_ticks(), boot=_BOOT)


def _boot() -> str:
    """Return the mark of this system since it started; of this process where the system has none."""
    try:
        return _BOOT_ID.read_text(encoding="ascii").strip()
    except (OSError, UnicodeDecodeError):
        return f"process {uuid4().hex}"


_BOOT: Final = _boot()


def _ticks() -> float:
    clock = getattr(time, "CLOCK_BOOTTIME", None)
    return time.monotonic() if clock is None else time.clock_gettime(clock)
