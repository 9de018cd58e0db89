"""``correlate ceiling``: the ceilings of a campaign, and its releases beside them."""

from __future__ import annotations

from pathlib import Path

import click

from correlate.cli.campaign_options import keep_ceilings, store_option


@click.command()
@click.argument("campaign_file", metavar="CAMPAIGN", type=click.Path(path_type=Path))
@click.option(
    "--release",
    "releases",
    multiple=True,
    metavar="NAME",
    help="Also rate this release.  May be repeated.",
)
@click.option("--load-case", "load_cases", multiple=True, metavar="NAME", help="Only this load case.")
@store_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the table.")
@click.option(
    "--html", "html_file", type=click.Path(path_type=Path), metavar="FILE", help="Also write an HTML page."
)
def command(
    *,
    campaign_file: Path,
    releases: tuple[str, ...],
    load_cases: tuple[str, ...],
    store_url: str | None,
    as_json: bool,
    html_file: Path | None,
) -> None:
    """Rate the repeats of CAMPAIGN against each other, with the settings of the model's rating.

    The ceilings are saved in the results store, where the scoreboard reads them. Stored ceilings with the
    same inputs, settings and version are not computed again.
    """
    from correlate.campaign import load_campaign  # noqa: PLC0415 - help must stay quick
    from correlate.campaign.ceilings import repeats_of  # noqa: PLC0415
    from correlate.cli.repeats import report  # noqa: PLC0415

    campaign = load_campaign(campaign_file)
    channels = [
        item
        for load_case in (load_cases or [case.name for case in campaign.load_cases])
        for item in repeats_of(campaign, load_case, releases)
    ]
    keep_ceilings(campaign, load_cases, store_url=store_url)
    report(channels, title=f"{campaign.title}: ceilings", as_json=as_json, html_file=html_file)
