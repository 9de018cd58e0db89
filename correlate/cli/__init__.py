"""The command line: one file per command, loaded when the command is called."""

from correlate.cli.entry import main

__all__ = ["main"]
