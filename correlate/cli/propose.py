"""``correlate propose``: partners for channels that have none."""

from __future__ import annotations

from functools import reduce
from typing import TYPE_CHECKING

import click

from correlate.cli.campaign_options import campaign_argument
from correlate.errors import SettingsError

if TYPE_CHECKING:
    from pathlib import Path

    from rich.console import Console

    from correlate.campaign import Campaign, Proposal

    Ranked = list[tuple[str, list[Proposal]]]


@click.command()
@campaign_argument
@click.option("--release", metavar="NAME", help="Whose results to look at.  [default: the first]")
@click.option(
    "--top", type=click.IntRange(min=1), default=3, show_default=True, help="Proposals per channel."
)
@click.option(
    "--accept", "accepted", multiple=True, type=int, metavar="N", help="Write number N into CAMPAIGN."
)
def command(*, campaign_file: Path, release: str | None, top: int, accepted: tuple[int, ...]) -> None:
    """Propose partners for test channels that are not yet paired with a model channel.

    Each proposal lists its reasons. It is used only once it is in the file: --accept writes it there.
    """
    from rich.console import Console  # noqa: PLC0415 - help must stay quick

    from correlate.campaign import load_campaign  # noqa: PLC0415
    from correlate.campaign.unpaired import proposals_of  # noqa: PLC0415

    campaign = load_campaign(campaign_file)
    chosen = campaign.release(release) if release else campaign.releases[0]
    ranked = [(case, proposals[:top]) for case, proposals in proposals_of(campaign, chosen)]
    numbered = [(case, one) for case, proposals in ranked for one in proposals]
    if accepted:
        _accept(campaign, numbered, accepted)
        return
    _print(Console(highlight=False), ranked)


def _print(console: Console, ranked: Ranked) -> None:
    number = 0
    for case, proposals in ranked:
        console.print(f"{case}, {proposals[0].test}", style="bold")
        for one in proposals:
            number += 1
            turned = ", sign inverted" if one.sign < 0 else ""
            console.print(f"  {number:3d}  {one.score:.2f}  '{one.model}'{turned}: {'; '.join(one.reasons)}")
    if not number:
        console.print(
            "Every test channel has a partner, or no channel of the results has the same physical dimension."
        )
        return
    console.print("Nothing is used yet. --accept N writes a proposal into the campaign file.", style="dim")


def _accept(campaign: Campaign, numbered: list[tuple[str, Proposal]], accepted: tuple[int, ...]) -> None:
    from correlate.campaign.rewriting import accept, rewrite_campaign  # noqa: PLC0415

    for number in accepted:
        if not 1 <= number <= len(numbered):
            raise SettingsError(
                f"there is no proposal {number}",
                where=str(campaign.path),
                remedy=f"choose 1 to {len(numbered)}",
            )
    chosen = [numbered[number - 1] for number in accepted]
    rewrite_campaign(campaign.path, lambda text: reduce(lambda now, one: accept(now, *one), chosen, text))
    for case, proposal in chosen:
        click.echo(f"accepted: {case}, {proposal.test} with '{proposal.model}'")
