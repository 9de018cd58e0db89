"""Who may start runs of a project, and what becomes of a run whose starter was killed."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import socket
import time
from typing import TYPE_CHECKING, Final

from correlate.errors import SettingsError
from correlate.files import Lock

if TYPE_CHECKING:
    from pathlib import Path

PATIENCE_S: Final = 10.0
"""How long an orphan may take to end after it was told to. Chosen here."""


def sign(lock: Lock, group: int | None) -> None:
    """Write down the host, and the process group that works under a lock."""
    lock.write(json.dumps({"host": socket.gethostname(), "group": group}))


def lock_of_project(folder: Path) -> Lock:
    """Lock the runs of a project, so that one program at a time starts runs there.

    Parameters
    ----------
    folder
        Of the runs.

    Returns
    -------
    Lock

    Raises
    ------
    SettingsError
        Another program holds it.
    """
    try:
        return _signed(folder / "lock")
    except BlockingIOError:
        raise SettingsError(
            "another program is running design points here",
            where=str(folder),
            remedy="wait for it, or stop it first",
        ) from None


def lock_of_run(path: Path) -> Lock:
    """Lock one run; a leftover of a killed program that still works under the lock is stopped first.

    Parameters
    ----------
    path
        Of the lock file.

    Returns
    -------
    Lock

    Raises
    ------
    SettingsError
        It is being run on another machine, or by a process that cannot be stopped.
    """
    with contextlib.suppress(BlockingIOError):
        return _signed(path)
    try:
        holder = json.loads(path.read_text(encoding="utf-8"))
    except ValueError:
        holder = {"host": "", "group": None}
    if holder["host"] == socket.gethostname() and holder["group"] is not None:
        end_group(holder["group"])
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            with contextlib.suppress(BlockingIOError):
                return _signed(path)
            time.sleep(0.05)
    place = f" on {holder['host']}" if holder["host"] else ""
    raise SettingsError(
        f"is still being run{place}", where=str(path.parent), remedy="wait for it, or stop it there"
    )


def _signed(path: Path) -> Lock:
    lock = Lock(path)
    sign(lock, None)
    return lock


def end_group(group: int) -> None:
    """End a process group at once; one that has ended already is no mistake."""
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(group, signal.SIGKILL)
