"""The command line: one file per command, loaded when the command is called."""

from __future__ import annotations

import gc
from typing import Final

from correlate.interrupt import run_program

__all__ = ["main", "program"]


NEW_OBJECTS: Final = 100_000
"""How many objects a command makes before it looks for those that only refer to each other. After 700, as is
usual, a short command spends a tenth of its time looking at what it has just loaded."""


def program() -> None:
    """Run the command line as a program of its own, which Ctrl-C ends at any moment."""
    gc.set_threshold(NEW_OBJECTS)
    run_program(main)


def main() -> None:
    """Run the command line; wrong input and a missing extra end with one sentence and exit code 2."""
    from correlate.cli.entry import run

    run()
