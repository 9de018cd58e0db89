"""``correlate sign``: who is responsible for a release."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import click

from correlate.cli.campaigns import (
    campaign_argument,
    named_campaign,
    opened_store,
    store_option,
    verify_option,
)

if TYPE_CHECKING:
    from datetime import datetime
    from pathlib import Path

ROLES: Final = ("manager", "analyst", "lab")


@click.command()
@campaign_argument
@click.argument("release")
@click.option("--as", "role", type=click.Choice(ROLES), help="Role of the signer.")
@click.option("--who", default="", metavar="NAME", help="The signer.  [default: the account of this machine]")
@click.option(
    "--scope",
    default="",
    metavar="TEXT",
    help="What the release may be used for, and what not.  [default: everything the campaign covers]",
)
@click.option("--remark", default="", metavar="TEXT", help="Remark of the signer.")
@click.option(
    "--date", "day", type=click.DateTime(["%Y-%m-%d"]), help="Day of the decision.  [default: today]"
)
@store_option
@verify_option
def sign_command(
    *,
    campaign_file: Path,
    release: str,
    role: str | None,
    who: str,
    scope: str,
    remark: str,
    day: datetime | None,
    store_url: str | None,
    is_verifying: bool,
) -> None:
    """Sign RELEASE of CAMPAIGN off with --as; without it, list its sign-offs.

    A sign-off refers to the present ratings, files and settings, and every later list, page and report says
    if they have changed. It informs; it does not certify.
    """
    from datetime import UTC, datetime

    from correlate.errors import printable
    from correlate.plots.sign_off_words import sign_off_lines
    from correlate.store import sign_release, stored_board
    from correlate.store.rows import account_name

    if role is None and (who or scope or remark or day):
        raise click.UsageError("a sign-off needs a role: give --as manager, --as analyst or --as lab")
    campaign = named_campaign(campaign_file, is_verifying=is_verifying)
    campaign.release(release)
    with opened_store(campaign, store_url) as store:
        # Of a release that is not rated, this says so before anything is written.
        stored_board(store, campaign, release=release)
        if role is not None:
            today = datetime.now(UTC).astimezone().date()
            sign_release(
                store,
                campaign,
                release,
                role=role,
                who=who or account_name(),
                date=day.date() if day else today,
                text=remark,
                scope=scope,
            )
        board = stored_board(store, campaign, release=release)
    for line in (f"{board.decision.verdict}.", *sign_off_lines(board.sign_offs)):
        click.echo(printable(line))
