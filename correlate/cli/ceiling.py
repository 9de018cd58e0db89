"""``correlate ceiling``: the ceilings of a campaign, and its releases beside them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from correlate.cli.campaign_options import keep_ceilings, store_option

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.campaign import Campaign, Release
    from correlate.evaluation import CaseEvaluation
    from correlate.reference.channel_repeats import ChannelRepeats


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
    from correlate.cli.repeats import report  # noqa: PLC0415

    campaign = load_campaign(campaign_file)
    channels = [
        item
        for load_case in (load_cases or [case.name for case in campaign.load_cases])
        for item in _load_case(campaign, load_case, releases)
    ]
    keep_ceilings(campaign, load_cases, store_url=store_url)
    report(channels, title=f"{campaign.title}: ceilings", as_json=as_json, html_file=html_file)


def _load_case(campaign: Campaign, name: str, releases: Sequence[str]) -> list[ChannelRepeats]:
    """Return every channel and resultant of a load case, once for each release."""
    from correlate.evaluation import CaseEvaluation  # noqa: PLC0415 - help must stay quick

    case = CaseEvaluation(campaign, campaign.load_case(name))
    wanted: list[Release | None] = [campaign.release(release) for release in releases]
    nobody: list[Release | None] = [None]
    return [_channel(case, channel, release) for channel in case.channels for release in wanted or nobody]


def _channel(case: CaseEvaluation, channel: str, release: Release | None) -> ChannelRepeats:
    from correlate.conditioning import Recipe  # noqa: PLC0415
    from correlate.evaluation.curves import curve_of  # noqa: PLC0415
    from correlate.reference.channel_repeats import channel_repeats  # noqa: PLC0415

    repeats = [curve_of(one) for one in case.repeats(channel).values()]
    model = None if release is None else curve_of(case.candidate(channel, release, repeats[0]))
    recipe = case.recipe(channel)
    return channel_repeats(
        [one.signal for one in repeats],
        None if model is None else model.signal,
        # The curves are conditioned already: only the interval is still to be cut.
        recipe=Recipe(start_s=recipe.start_s, end_s=recipe.end_s, step_s=recipe.step_s),
        settings=case.campaign.settings,
        load_case=case.load_case.name,
        release="" if release is None else release.name,
    )
