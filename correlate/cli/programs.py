"""Commands that start other programs: ``demo``, ``serve`` and ``account``."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

from correlate.extras import need_extra

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.campaign import Campaign


def become(module: str, arguments: Sequence[str]) -> NoReturn:
    """Replace this process by another program, so that signals reach it and nothing is left behind."""
    os.execv(sys.executable, _command(module, arguments))  # noqa: S606 - our own module


def _command(module: str, arguments: Sequence[str]) -> list[str]:
    """Return the command that runs a module and is ready for Ctrl-C before the module is loaded."""
    return [sys.executable, "-P", "-m", "correlate.interrupt", module, *arguments]


@click.command()
@click.option(
    "--into",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("correlate-demo"),
    show_default=True,
    metavar="FOLDER",
    help="Folder in which the project is built.",
)
@click.option("--no-serve", is_flag=True, help="Do not start the dashboard.")
@click.option("--port", type=int, default=8050, show_default=True, help="Port of the dashboard.")
def demo_command(*, into: Path, no_serve: bool, port: int) -> None:
    """Build the demo project, rate its pairs, write a page and open the dashboard.

    The demo is an invented laboratory and an invented model, computed by the project's own physics: test
    data as ISO/TS 13499 folders, model output as text files beside them, and a campaign file.
    """
    # Before minutes of work, not after them.
    need_extra("report" if no_serve else "dashboard")
    _build(into)

    from rich.console import Console

    from correlate.campaign import aggregate, load_campaign
    from correlate.cli.campaigns import keep_ceilings, scored
    from correlate.report.campaign import print_overview

    campaign = load_campaign(into)
    scores = scored(campaign, (), store_url=None, workers=None, quiet=False).scores
    keep_ceilings(campaign, (), store_url=None)
    console = Console(highlight=False)
    print_overview(console, [aggregate(campaign, scores.records, one.name) for one in campaign.releases])
    page = _write_page(campaign)
    console.print(f"{len(scores.records)} pairs in {into / 'ratings.sqlite'}, campaign file {campaign.path}")
    console.print(f"page of the last release: {page}")
    if not no_serve:
        become("dashboard", [str(into), "--port", str(port)])


def _write_page(campaign: Campaign) -> Path:
    """Write the ratings of the last release as one page that needs no other file."""
    from correlate.campaign import CampaignReader, campaign_pairs
    from correlate.cli.campaigns import opened_store
    from correlate.files import write_text
    from correlate.report.ratings_page import ratings_html
    from correlate.store import stored_board

    last = campaign.releases[-1]
    with opened_store(campaign, None) as store:
        stored, ceilings = stored_board(store, campaign, release=last.name), store.ceilings(campaign.title)
    reader = CampaignReader()
    rated = [
        (pair, reader.score(campaign, pair)) for pair in campaign_pairs(campaign) if pair.release == last
    ]
    page = campaign.folder / f"ratings-{last.name}.html"
    title = f"{campaign.title}, release {last.name}"
    write_text(page, ratings_html(stored, rated, title=title, ceilings=ceilings))
    return page


def _build(into: Path) -> None:
    """Let the laboratory and the solver write the folder, in a process of their own."""
    with subprocess.Popen(_command("demo_pairs", ["--into", str(into)])) as builder:  # noqa: S603 - our own
        try:
            code = builder.wait()
        except KeyboardInterrupt:
            # A terminal has told it, too; another program that stops this one has not.
            builder.send_signal(signal.SIGINT)
            # It says the sentence, after it has removed what it had begun.
            sys.exit(builder.wait())
    if code:
        sys.exit(code)


@click.command(context_settings={"ignore_unknown_options": True}, add_help_option=False)
@click.argument("arguments", nargs=-1, type=click.UNPROCESSED)
def serve_command(arguments: tuple[str, ...]) -> None:
    """Serve a project to a team, with accounts."""
    need_extra("dashboard")
    become("dashboard.serving", arguments)


@click.command(context_settings={"ignore_unknown_options": True}, add_help_option=False)
@click.argument("arguments", nargs=-1, type=click.UNPROCESSED)
def account_command(arguments: tuple[str, ...]) -> None:
    """Manage the accounts of a server: add, list, role, password, second-factor, link, trail and others."""
    need_extra("dashboard")
    become("dashboard.accounts", arguments)
