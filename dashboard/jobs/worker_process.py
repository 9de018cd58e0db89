"""Runs the worker beside a server: started with it, started again when it dies, ended with it."""

from __future__ import annotations

import logging
import subprocess
import sys
import time
from contextlib import contextmanager
from dataclasses import dataclass, field
from threading import Event, Lock, Thread
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

PATIENCE_S: Final = 20
"""For which a worker may finish its step before it is killed."""

_LOG: Final = logging.getLogger("dashboard.jobs")


@dataclass(frozen=True, slots=True, kw_only=True)
class Restarts:
    """Decides when a worker that ended is started again: after pauses that double, and not too often.

    Attributes
    ----------
    most
        Restarts within ``within_s`` seconds; when it ends once more, it is left alone.
    within_s
        After which a restart is forgotten, and the pauses are short again.
    first_pause_s
        Before the first restart.
    """

    most: int = 6
    within_s: float = 600
    first_pause_s: float = 1
    _times: list[float] = field(default_factory=list)

    def pause(self, now: float) -> float | None:
        """Return how long to wait before a restart, or None where there were too many."""
        self._times[:] = [time for time in self._times if now - time < self.within_s]
        if len(self._times) >= self.most:
            return None
        self._times.append(now)
        return self.first_pause_s * 2.0 ** (len(self._times) - 1)


class WatchedWorker:
    """A worker process and the thread that starts it again."""

    def __init__(self, arguments: Sequence[str], restarts: Restarts, gave_up: Callable[[], None]) -> None:
        self._command = [sys.executable, "-P", "-m", "dashboard.jobs", *arguments, "--with-parent"]
        self._restarts, self._gave_up = restarts, gave_up
        self._stopping, self._starting = Event(), Lock()
        self._process = self._start()
        self._thread = Thread(target=self._watch, daemon=True)
        self._thread.start()

    @property
    def pid(self) -> int:
        """Number of the process that runs now, or that ran last."""
        return self._process.pid

    def stop(self) -> None:
        """End the worker for good; one that does not finish its step in time is killed."""
        with self._starting:
            self._stopping.set()
        self._process.terminate()
        try:
            self._process.wait(PATIENCE_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
        self._thread.join()

    def _start(self) -> subprocess.Popen[bytes]:
        """Start the process, which ends too when this one is killed and its standard input closes."""
        # In a session of its own: Ctrl+C is for the server, which ends the worker after its last request.
        return subprocess.Popen(self._command, stdin=subprocess.PIPE, start_new_session=True)  # noqa: S603 - our own module

    def _watch(self) -> None:
        """Start the worker again whenever it ends, until that happens too often."""
        ended = self._wait()
        while not self._stopping.is_set():
            pause = self._restarts.pause(time.monotonic())
            if pause is None:
                _LOG.error(
                    "the worker %s, after %d restarts within %g s; it is not started again",
                    ended,
                    self._restarts.most,
                    self._restarts.within_s,
                )
                self._gave_up()
                return
            _LOG.warning("the worker %s; it is started again in %g s", ended, pause)
            if not self._stopping.wait(pause):
                ended = self._run_again()

    def _run_again(self) -> str:
        """Run the process once more; say how it ended."""
        try:
            with self._starting:
                if self._stopping.is_set():
                    return "was stopped"
                self._process = self._start()
        except OSError as error:
            return f"cannot be started ({error.strerror})"
        return self._wait()

    def _wait(self) -> str:
        """Wait for the end of the process; say how it ended."""
        process = self._process
        code = process.wait()
        if process.stdin:
            process.stdin.close()
        return f"was ended by signal {-code}" if code < 0 else f"ended with code {code}"


@contextmanager
def worker(
    arguments: Sequence[str],
    *,
    restarts: Restarts | None = None,
    gave_up: Callable[[], None] = lambda: None,
) -> Iterator[WatchedWorker]:
    """Run a worker as long as the block lasts."""
    watched = WatchedWorker(arguments, restarts or Restarts(), gave_up)
    try:
        yield watched
    finally:
        watched.stop()
