"""A group of commands that are imported when they are called, so that ``--help`` is quick."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from collections.abc import Mapping


class LazyGroup(click.Group):
    """A group that knows its commands by the modules they are in.

    Parameters
    ----------
    modules
        From the name of a command to the module whose ``command`` it is, and its line of help.
    **settings
        As for `click.Group`.
    """

    def __init__(self, *, modules: Mapping[str, tuple[str, str]], **settings: Any) -> None:
        super().__init__(**settings)
        self._modules = modules

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - the signature is click's
        """Return the names of the commands."""
        return sorted(self._modules)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Import a command."""
        if cmd_name not in self._modules:
            return None
        command: click.Command = import_module(self._modules[cmd_name][0]).command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """Write the lines of help without importing anything."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, words) for name, (_, words) in sorted(self._modules.items())])
