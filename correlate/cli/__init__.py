"""The command line: one file per command, loaded when the command is called."""

from __future__ import annotations

from correlate.interrupt import run_program

__all__ = ["main", "program"]


def program() -> None:
    """Run the command line as a program of its own, which Ctrl-C ends at any moment."""
    run_program(main)


def main() -> None:
    """Run the command line; wrong input and a missing extra end with one sentence and exit code 2."""
    from correlate.cli.entry import run

    run()
