"""``correlate compare``: what changed between two releases."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from correlate.cli.campaign_options import campaign_argument, scored, store_option, workers_option

if TYPE_CHECKING:
    from pathlib import Path


@click.command()
@campaign_argument
@click.argument("before")
@click.argument("after")
@store_option
@workers_option
@click.option(
    "--top",
    type=click.IntRange(min=1),
    default=20,
    show_default=True,
    help="Maximum number of lines per table.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the table.")
def command(
    *,
    campaign_file: Path,
    before: str,
    after: str,
    store_url: str | None,
    workers: int | None,
    top: int,
    as_json: bool,
) -> None:
    """Compare release AFTER with release BEFORE: gains and losses, the largest first.

    Both are compared repeat by repeat: a change is better, worse, or not distinguishable from chance. Stale
    and missing ratings are marked.
    """
    from correlate.campaign import aggregate, compare, load_campaign  # noqa: PLC0415 - help must stay quick
    from correlate.report.campaign_data import changes_json  # noqa: PLC0415

    campaign = load_campaign(campaign_file)
    stored = scored(campaign, (before, after), store_url=store_url, workers=workers, quiet=as_json)
    one, two = (aggregate(campaign, stored.scores.records, name) for name in (before, after))
    changes = compare(one, two, stored.evidence)
    if as_json:
        click.echo(changes_json(before, after, changes))
        return
    from rich.console import Console  # noqa: PLC0415

    from correlate.report.campaign_terminal import print_changes  # noqa: PLC0415

    print_changes(Console(highlight=False), before, after, changes, top=top)
