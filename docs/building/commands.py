"""The directive ``command-help``: what ``--help`` of every command says, in the words of the program."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click
from docutils import nodes
from sphinx.util.docutils import SphinxDirective

from correlate.cli.entry import group

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sphinx.application import Sphinx
    from sphinx.util.typing import ExtensionMetadata


def commands(
    command: click.Command, context: click.Context
) -> Iterator[tuple[str, click.Command, click.Context]]:
    """Walk through a command and those inside it.

    Parameters
    ----------
    command, context
        Of the command.

    Yields
    ------
    tuple
        Name as typed, command, context.
    """
    if not isinstance(command, click.Group):
        yield context.command_path, command, context
        return
    for name in command.list_commands(context):
        inner = command.get_command(context, name)
        if inner is not None:
            yield from commands(inner, click.Context(inner, info_name=name, parent=context))


class CommandHelp(SphinxDirective):
    """Write a section for every command."""

    def run(self) -> list[nodes.Node]:
        """Return the sections."""
        context = click.Context(group, info_name="correlate", terminal_width=100)
        return [_section(name, command, inner) for name, command, inner in commands(group, context)]


def _section(name: str, command: click.Command, context: click.Context) -> nodes.section:
    section = nodes.section("", nodes.title(text=name), ids=[nodes.make_id(name)], names=[name])
    section += nodes.literal_block(text=command.get_help(context), language="text")
    return section


def setup(app: Sphinx) -> ExtensionMetadata:
    """Register the directive."""
    app.add_directive("command-help", CommandHelp)
    return {"parallel_read_safe": True}
