"""Finds every process that a test started, whoever of them started it."""

from __future__ import annotations

import os
import signal
import time
from contextlib import suppress
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PATIENCE_S = 30
MARK = "CORRELATE_TEST_OF_CHILD_PROCESSES"

needs_proc = pytest.mark.skipif(not Path("/proc/self/environ").exists(), reason="looks into /proc")


class Marked:
    """A program and everything it starts, found by a variable of the environment that all inherit."""

    def __init__(self, name: str) -> None:
        self._entry = f"{MARK}={name}".encode()
        self.environment = {**os.environ, MARK: name, "PYTHONPATH": str(ROOT)}

    def processes(self, word: str = "") -> set[int]:
        """Return those that run now and have a word in their command."""
        found = set()
        for place in Path("/proc").glob("[0-9]*"):
            # One that ends meanwhile, or that has ended and was not asked how, has no environment.
            with suppress(OSError):
                inherited = (place / "environ").read_bytes().split(b"\0")
                if self._entry in inherited and word.encode() in (place / "cmdline").read_bytes():
                    found.add(int(place.name))
        return found

    def end(self) -> None:
        """End whatever is left."""
        for process in self.processes():
            with suppress(ProcessLookupError):
                os.kill(process, signal.SIGKILL)

    def until(self, least: int, word: str = "") -> None:
        """Wait until so many run."""
        end = time.monotonic() + PATIENCE_S
        while len(self.processes(word)) < least:
            assert time.monotonic() < end, "they were not started"
            time.sleep(0.005)

    def until_none(self, word: str = "") -> None:
        """Wait for the end of all."""
        end = time.monotonic() + PATIENCE_S
        while left := self.processes(word):
            assert time.monotonic() < end, [Path(f"/proc/{one}/cmdline").read_bytes() for one in left]
            time.sleep(0.02)
