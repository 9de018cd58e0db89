"""Starts the worker beside a server, and stops it with the server."""

from __future__ import annotations

import subprocess
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

PATIENCE_S: Final = 20
"""For which a worker may finish its step before it is killed."""


@contextmanager
def worker(arguments: Sequence[str]) -> Iterator[subprocess.Popen[bytes]]:
    """Run a worker as long as the block lasts.

    Parameters
    ----------
    arguments
        Of ``python -m dashboard.jobs``.

    Yields
    ------
    subprocess.Popen
        The process; it ends too when this one is killed.
    """
    command = [sys.executable, "-m", "dashboard.jobs", *arguments, "--with-parent"]
    with subprocess.Popen(command, stdin=subprocess.PIPE) as process:  # noqa: S603 - our own module
        try:
            yield process
        finally:
            process.terminate()
            try:
                process.wait(PATIENCE_S)
            except subprocess.TimeoutExpired:
                process.kill()
