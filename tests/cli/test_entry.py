"""The entry point: quick help, versions, and what wrong words do."""

from __future__ import annotations

import subprocess
import sys
from typing import TYPE_CHECKING

import click

from correlate.cli.entry import group
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.cli.conftest import Outcome

HEAVY = ("numba", "scipy", "plotly", "pydantic", "numpy", "rich")


def test_help_lists_the_commands_and_loads_nothing_heavy() -> None:
    """Help names every command without importing a compiler, a plotter or an array library."""
    program = (
        "import sys\n"
        "from correlate.cli import main\n"
        "sys.argv = ['correlate', '--help']\n"
        "try:\n    main()\n"
        f"finally:\n    print('LOADED', [name for name in {HEAVY!r} if name in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert "LOADED []" in done.stdout
    for name in ("demo", "formats", "pair"):
        assert f"  {name} " in done.stdout


def test_help_of_each_command_loads_no_kernel() -> None:
    """Help of a command does not import the compiler."""
    for name in ("demo", "formats", "pair"):
        program = (
            "import sys\n"
            "from correlate.cli import main\n"
            f"sys.argv = ['correlate', {name!r}, '--help']\n"
            "try:\n    main()\n"
            "finally:\n    print('NUMBA', 'numba' in sys.modules)\n"
        )
        done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
        assert "NUMBA False" in done.stdout
        assert "Usage: correlate " + name in done.stdout


def test_every_command_is_found_in_its_module() -> None:
    """Each name of the table, and of the group inside it, loads a command of that name."""
    context = click.Context(group)
    for name in group.list_commands(context):
        found = group.get_command(context, name)
        assert isinstance(found, click.Command), name
        if isinstance(found, click.Group):
            assert all(found.get_command(context, inner) for inner in found.list_commands(context))


def test_version_is_the_one_of_the_package(correlate: Callable[..., Outcome]) -> None:
    """The command line, the package and the metadata say one version."""
    assert correlate("--version").out.strip().endswith(VERSION)


def test_an_unknown_command_is_refused(correlate: Callable[..., Outcome]) -> None:
    """A misspelt command ends with exit code 2."""
    outcome = correlate("pear")
    assert outcome.code == 2
    assert "No such command 'pear'" in outcome.err


def test_formats_lists_every_format(correlate: Callable[..., Outcome]) -> None:
    """The table names both built-in formats."""
    outcome = correlate("formats")
    assert outcome.code == 0
    assert "ISO/TS 13499" in outcome.out
    assert "delimited text" in outcome.out
