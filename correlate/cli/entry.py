"""The entry point: finds the command, and turns errors into one sentence and an exit code."""

from __future__ import annotations

import sys
from typing import Final, NoReturn

import click

from correlate.cli.lazy_group import LazyGroup
from correlate.errors import CorrelateError
from correlate.extras import extra_of, missing_extra
from correlate.version import VERSION

WRONG_INPUT: Final = 2
"""Exit code when the input cannot be used."""

_COMMANDS: Final[dict[str, tuple[str, str]]] = {
    "criteria": ("correlate.cli.criteria", "Compute the injury criteria of a test and of a model."),
    "qualify": ("correlate.cli.qualify", "Compare data with the qualification windows of a test."),
    "convert": ("correlate.cli.convert", "Convert a file from one format to another."),
    "explain": ("correlate.cli.explain", "Show where a pair or a release loses rating points, and why."),
    "compare": ("correlate.cli.compare", "Show what changed between two releases of a campaign."),
    "gate": ("correlate.cli.gate", "Check a release against limits and a baseline, for a build pipeline."),
    "propose": ("correlate.cli.propose", "Propose partners for channels that have none."),
    "score": ("correlate.cli.score", "Rate every pair of a campaign."),
    "start": ("correlate.cli.start", "Write a first campaign file from the data in a folder."),
    "demo": ("correlate.cli.demo", "Build the demo project, rate it and open it in the browser."),
    "formats": ("correlate.cli.formats", "List the file formats that can be read and written."),
    "ceiling": ("correlate.cli.ceiling", "Rate the repeats of a campaign against each other."),
    "check": ("correlate.cli.check", "Check reference data for faults."),
    "key": ("correlate.cli.key", "Create a key for signing packages."),
    "pack": ("correlate.cli.pack", "Create a package of checked reference data."),
    "repair": ("correlate.cli.repair", "Apply accepted repairs."),
    "report": ("correlate.cli.report", "Write the report of a release as HTML or PDF."),
    "repeats": ("correlate.cli.repeats", "Show scatter, corridor and ceiling of repeats."),
    "unpack": ("correlate.cli.unpack", "Verify a package and unpack it."),
    "verify": ("correlate.cli.verify", "Verify that a package is unchanged."),
    "serve": ("correlate.cli.serve", "Serve a project to a team, with accounts."),
    "account": ("correlate.cli.account", "Manage the accounts of a server."),
    "tune": ("correlate.cli.tune.group", "Tune the material cards of a model."),
    "pair": ("correlate.cli.pair", "Rate one model channel against one test channel."),
}


@click.group(cls=LazyGroup, modules=_COMMANDS, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(VERSION, prog_name="correlate")
def group() -> None:
    """Rate how well a virtual crash-test dummy agrees with the physical one."""


def main() -> None:
    """Run the command line; wrong input and a missing extra end with one sentence and exit code 2."""
    try:
        group(prog_name="correlate")
    except CorrelateError as error:
        _refuse(error)
    except ModuleNotFoundError as error:
        extra = extra_of(error)
        if extra is None:
            raise
        _refuse(missing_extra(extra))


def _refuse(error: CorrelateError) -> NoReturn:
    click.echo(f"correlate: {error}", err=True)
    sys.exit(WRONG_INPUT)
