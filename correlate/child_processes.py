"""Child processes that end with this process, even if it is killed.

A process that shares the work waits in a thread for the end of its parent (:func:`end_with_parent`). Other
programs cannot do that: a small watcher process, started with the first of them, is told which process groups
run. When its standard input closes, because this process has ended, it ends the groups that are left
(:func:`attached`, :func:`ended_with_this_process`). On Windows, which has no process groups, programs of
others are not watched.
"""

from __future__ import annotations

import atexit
import multiprocessing
import os
import signal
import subprocess
import sys
import threading
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

PARENT_GONE: Final = 1
"""Exit code of a process whose parent has ended."""

HAS_GROUPS: Final = hasattr(os, "killpg")

# Not a module: it starts without looking at any file, in the 10 ms that Python itself takes.
_WATCH: Final = """
import os, signal, sys
groups = set()
for line in sys.stdin:
    (groups.add if line[0] == "+" else groups.discard)(int(line[1:]))
for group in groups:
    try:
        os.killpg(group, signal.SIGKILL)
    except OSError:
        pass
"""


def end_with_parent() -> None:
    """End this process as soon as its `multiprocessing` parent has ended."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_after, args=[parent], daemon=True).start()


def _end_after(parent: Any) -> None:
    parent.join()
    os._exit(PARENT_GONE)


def end_group(group: int) -> None:
    """End a process group at once; one that has already ended is not an error."""
    with suppress(ProcessLookupError, PermissionError):
        os.killpg(group, signal.SIGKILL)


@contextmanager
def attached(command: Sequence[str], **options: Any) -> Iterator[subprocess.Popen[Any]]:
    """Run a program, which is ended with all it started when the block is left, or when this process ends.

    Parameters
    ----------
    command
        Program and arguments.
    options
        As for `subprocess.Popen`.

    Raises
    ------
    OSError
        It cannot be started.
    """
    started = subprocess.Popen(command, start_new_session=HAS_GROUPS, **options)  # noqa: S603 - as the caller says
    with started as process, ended_with_this_process(process.pid):
        try:
            yield process
        finally:
            # Not reaped yet, so the number still is its own.
            if process.poll() is None:
                if HAS_GROUPS:
                    end_group(process.pid)
                process.kill()


@contextmanager
def ended_with_this_process(group: int) -> Iterator[None]:
    """End a process group when this process ends within the block, however it ends."""
    _WATCHER.add(group)
    try:
        yield
    finally:
        _WATCHER.remove(group)


class _Watcher:
    """The process that ends the groups that are left; started with the first of them."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._groups: set[int] = set()
        self._process: subprocess.Popen[str] | None = None

    def add(self, group: int) -> None:
        """End a group if this process ends before the group is removed."""
        with self._lock:
            self._groups.add(group)
            self._tell(f"+{group}\n")

    def remove(self, group: int) -> None:
        """Leave a group alone from now on."""
        with self._lock:
            self._groups.discard(group)
            self._tell(f"-{group}\n")

    def _tell(self, line: str) -> None:
        """Write a line; a watcher that somebody has ended is started again with all groups."""
        if not HAS_GROUPS:
            return
        if self._process is None or self._process.poll() is not None:
            self._process = self._start()
            line = "".join(f"+{group}\n" for group in self._groups)
        with suppress(BrokenPipeError):
            assert self._process.stdin is not None  # noqa: S101 - it was started with one
            self._process.stdin.write(line)
            self._process.stdin.flush()

    def _start(self) -> subprocess.Popen[str]:
        # In a session of its own, so that what ends this process does not end it, too; with nothing that
        # others wait for, so that a pipe of this process is closed when this process is.
        process = subprocess.Popen(  # noqa: S603 - Python itself
            [sys.executable, "-I", "-S", "-c", _WATCH],
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
            text=True,
        )
        atexit.register(_close, process)
        return process


def _close(process: subprocess.Popen[str]) -> None:
    """Let a watcher end."""
    assert process.stdin is not None  # noqa: S101 - it was started with one
    with suppress(BrokenPipeError):
        process.stdin.close()
    process.wait()


_WATCHER: Final = _Watcher()
