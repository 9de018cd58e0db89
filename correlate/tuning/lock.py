"""Locks that end with the process that holds them, however it ends."""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
import signal
import socket
import time
from typing import TYPE_CHECKING, Final

from correlate.errors import SettingsError

if TYPE_CHECKING:
    from pathlib import Path
    from typing import Self

PATIENCE_S: Final = 10.0
"""How long an orphan may take to end after it was told to. Chosen here."""


class Lock:
    """A locked file. The children that inherit its descriptor hold it, too.

    Parameters
    ----------
    path
        Of the file; made when absent.

    Raises
    ------
    BlockingIOError
        Somebody else holds it.
    """

    def __init__(self, path: Path) -> None:
        self.descriptor = os.open(path, os.O_RDWR | os.O_CREAT, 0o644)
        try:
            fcntl.flock(self.descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            os.close(self.descriptor)
            raise
        self.sign(None)

    def sign(self, group: int | None) -> None:
        """Write down the host, and the process group that works under the lock."""
        text = json.dumps({"host": socket.gethostname(), "group": group}).encode()
        os.ftruncate(self.descriptor, 0)
        os.pwrite(self.descriptor, text, 0)

    def __enter__(self) -> Self:
        """Return the lock, which is held already."""
        return self

    def __exit__(self, *_: object) -> None:
        """Let go."""
        os.close(self.descriptor)


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
        return Lock(folder / "lock")
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
        return Lock(path)
    try:
        holder = json.loads(path.read_text(encoding="utf-8"))
    except ValueError:
        holder = {"host": "", "group": None}
    if holder["host"] == socket.gethostname() and holder["group"] is not None:
        end_group(holder["group"])
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            with contextlib.suppress(BlockingIOError):
                return Lock(path)
            time.sleep(0.05)
    place = f" on {holder['host']}" if holder["host"] else ""
    raise SettingsError(
        f"is still being run{place}", where=str(path.parent), remedy="wait for it, or stop it there"
    )


def end_group(group: int) -> None:
    """End a process group at once; one that has ended already is no mistake."""
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(group, signal.SIGKILL)
