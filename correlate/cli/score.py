"""``correlate score``: rate all releases of a campaign, or the one named."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Final

import click

from correlate.cli.campaign_options import (
    campaign_argument,
    chosen_engine,
    engine_option,
    scheduler_option,
    scored,
    store_option,
    workers_option,
)

NOTHING_RATED: Final = 1
"""Exit code when no pair could be rated; 2 is wrong input."""


@click.command()
@campaign_argument
@click.option("--release", "releases", multiple=True, metavar="NAME", help="Only this; may be repeated.")
@store_option
@workers_option
@engine_option
@scheduler_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the tables.")
@click.option(
    "--csv", "csv_file", type=click.Path(path_type=Path), metavar="FILE", help="Write one line per pair."
)
def command(
    *,
    campaign_file: Path,
    releases: tuple[str, ...],
    store_url: str | None,
    workers: int | None,
    engine: str,
    scheduler: str | None,
    as_json: bool,
    csv_file: Path | None,
) -> None:
    """Rate every pair of CAMPAIGN, a campaign file or its folder.

    Pairs in the results store with the same inputs, settings and version are not rated again; an interrupted
    run is resumed by the next one. The exit code is 1 if nothing could be rated.
    """
    from correlate.campaign import aggregate, load_campaign  # noqa: PLC0415 - help must stay quick
    from correlate.report.campaign_data import pairs_csv, scores_json  # noqa: PLC0415

    rating_engine = chosen_engine(engine, scheduler)
    campaign = load_campaign(campaign_file)
    stored = scored(
        campaign, releases, store_url=store_url, workers=workers, quiet=as_json, engine=rating_engine
    )
    names = releases or tuple(release.name for release in campaign.releases)
    records = stored.scores.records
    numbers = [aggregate(campaign, records, name) for name in names]
    if csv_file is not None:
        from correlate.files import write_text  # noqa: PLC0415

        write_text(csv_file, pairs_csv(records))
    if as_json:
        click.echo(scores_json(campaign, stored, numbers))
    else:
        from rich.console import Console  # noqa: PLC0415

        from correlate.report.campaign_terminal import print_scores  # noqa: PLC0415

        print_scores(Console(highlight=False), stored, numbers)
    if not records:
        sys.exit(NOTHING_RATED)
