"""The entry point: finds the command, and turns errors into a sentence and an exit code."""

from __future__ import annotations

import sys
from importlib import import_module
from typing import TYPE_CHECKING, Any, Final, NoReturn

import click

from correlate.errors import CorrelateError, UntrustedError, printable
from correlate.extras import extra_of, missing_extra
from correlate.interrupt import interruptible
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Mapping


class LazyGroup(click.Group):
    """A group that knows its commands by the modules they are in."""

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
        command: click.Command = getattr(import_module(self._modules[cmd_name][0]), f"{cmd_name}_command")
        return command

    def make_context(self, *words: Any, **settings: Any) -> click.Context:
        """Read what is typed before the command."""
        return interruptible(super().make_context)(*words, **settings)

    def invoke(self, ctx: click.Context) -> Any:
        """Run a command."""
        return interruptible(super().invoke)(ctx)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:  # noqa: ARG002
        """Write the lines of help without importing anything."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, words) for name, (_, words) in sorted(self._modules.items())])


WRONG_INPUT: Final = 2
"""Exit code when the input cannot be used."""

NOT_MET: Final = 1
"""Exit code when the input is valid and does not meet a requirement."""

_COMMANDS: Final[dict[str, tuple[str, str]]] = {
    "criteria": ("correlate.cli.criteria", "Compute the injury criteria of a test and of a model."),
    "qualify": ("correlate.cli.criteria", "Compare data with the qualification windows of a test."),
    "convert": ("correlate.cli.data", "Convert a file from one format to another."),
    "explain": ("correlate.cli.pairs", "Show where a pair or a release loses rating points, and why."),
    "compare": ("correlate.cli.releases", "Show what changed between releases of a campaign."),
    "export": ("correlate.cli.releases", "Write ratings and curves as CSV or Parquet tables."),
    "gate": (
        "correlate.cli.campaigns",
        "Check a release against limits and a baseline, for a build pipeline.",
    ),
    "propose": ("correlate.cli.campaigns", "Propose partners for channels that have none."),
    "selfcheck": ("correlate.cli.selfcheck", "Check that this installation computes known numbers."),
    "sign": ("correlate.cli.signing", "Sign a release off, or list its sign-offs."),
    "score": ("correlate.cli.campaigns", "Rate every pair of a campaign."),
    "start": ("correlate.cli.start", "Write a first campaign file from the data in a folder, and rate it."),
    "demo": ("correlate.cli.programs", "Build the demo project, rate it and open it in the browser."),
    "formats": ("correlate.cli.data", "List the file formats that can be read and written."),
    "ceiling": ("correlate.cli.campaigns", "Rate the repeats of a campaign against each other."),
    "check": ("correlate.cli.data", "Check reference data for faults."),
    "layout": ("correlate.cli.layouts", "Describe the columns of an unknown text file."),
    "key": ("correlate.cli.keys", "Create a key for signing packages."),
    "pack": ("correlate.cli.sharing", "Create a package of checked reference data."),
    "packages": ("correlate.cli.packages", "Receive, release and use packages of reference data."),
    "dummies": ("correlate.cli.dummies", "Show the dummies of a laboratory, their charts and what is due."),
    "repair": ("correlate.cli.data", "Apply accepted repairs."),
    "report": ("correlate.cli.report", "Write the report of a release as HTML or PDF."),
    "repeats": ("correlate.cli.repeats", "Show scatter, corridor and ceiling of repeats."),
    "unpack": ("correlate.cli.sharing", "Verify a package and unpack it."),
    "verify": ("correlate.cli.sharing", "Verify that a package is unchanged."),
    "serve": ("correlate.cli.programs", "Serve a project to a team, with accounts."),
    "account": ("correlate.cli.programs", "Manage the accounts of a server."),
    "tune": ("correlate.cli.tune", "Tune the material cards of a model."),
    "pair": ("correlate.cli.pairs", "Rate one model channel against one test channel."),
}


@click.group(cls=LazyGroup, modules=_COMMANDS, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(VERSION, prog_name="correlate")
def group() -> None:
    """Rate how well a virtual crash-test dummy agrees with the physical one."""


def run() -> None:
    """Run the command line; wrong input and a missing extra end with one sentence and exit code 2.

    A package that is unchanged and not trusted ends with exit code 1.
    """
    try:
        group(prog_name="correlate")
    except CorrelateError as error:
        _refuse(error)
    except OSError as error:
        # What the system refuses of a path that nobody has looked at yet: too long, no folder, read-only; or
        # of bytes that nobody could foresee: a full disk.
        from correlate.files import is_no_room, unusable

        if error.filename is None and not is_no_room(error):
            raise
        _refuse(unusable(error))
    except ModuleNotFoundError as error:
        extra = extra_of(error)
        if extra is None:
            raise
        _refuse(missing_extra(extra))


def _refuse(error: CorrelateError) -> NoReturn:
    # Names of files and channels are other people's: no character of theirs must act on the terminal.
    click.echo(f"correlate: {printable(str(error))}", err=True)
    sys.exit(NOT_MET if isinstance(error, UntrustedError) else WRONG_INPUT)
