"""The command line: one file a command, loaded when the command is called."""

from correlate.cli.entry import main

__all__ = ["main"]
