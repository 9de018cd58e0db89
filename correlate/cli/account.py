"""``correlate account``: manage the accounts of a server."""

from __future__ import annotations

import click

from correlate.cli.other_program import become
from correlate.extras import need_extra


@click.command(context_settings={"ignore_unknown_options": True}, add_help_option=False)
@click.argument("arguments", nargs=-1, type=click.UNPROCESSED)
def command(arguments: tuple[str, ...]) -> None:
    """Keep the accounts of a server: add, list, role, password, close, reopen, trail."""
    need_extra("dashboard")
    become("dashboard.accounts", arguments)
