"""``correlate tune write``: a tuned deck as a new release."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import click

from correlate.cli.tune.options import tuning_argument
from correlate.errors import SettingsError

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.campaign import Campaign
    from correlate.tuning.release import TunedRelease


@click.command()
@tuning_argument
@click.option("--run", "identity", required=True, metavar="POINT", help="Run to release.")
@click.option("--release", "name", required=True, metavar="NAME", help="Release name.")
@click.option("--folder", metavar="FOLDER", help="Relative to the campaign file.  [default: releases/NAME]")
@click.option("--note", default="", help="Note, saved in the campaign file.")
@click.option("--despite-losses", is_flag=True, help="Write it although it violates a limit of TUNING.")
def command(
    *, tuning_file: Path, identity: str, name: str, folder: str | None, note: str, despite_losses: bool
) -> None:
    """Write the deck and the results of a run as a new release of the campaign of TUNING.

    The change list beside them gives the old value, the new value and the change of each parameter, and the
    gain in rating. The release is added at the end of the campaign file; the rest of it is unchanged.
    """
    from rich.console import Console  # noqa: PLC0415 - help must stay quick

    from correlate.campaign import Release, load_campaign  # noqa: PLC0415
    from correlate.campaign.rewriting import add_release  # noqa: PLC0415
    from correlate.report.tuning_data import changes_text  # noqa: PLC0415
    from correlate.report.tuning_terminal import print_release  # noqa: PLC0415
    from correlate.tuning.definition import load_tuning  # noqa: PLC0415
    from correlate.tuning.release import change_list, write_release  # noqa: PLC0415
    from correlate.tuning.state import read_state  # noqa: PLC0415

    tuning = load_tuning(tuning_file)
    campaign = load_campaign(tuning.campaign_file)
    release = change_list(tuning, read_state(tuning), identity)
    _refuse_losses(release, despite_losses=despite_losses)
    place = folder or f"releases/{name}"
    _refuse_name(campaign, name)
    files = {"changes.md": changes_text(release, name)}
    write_release(tuning, release, campaign.folder / place, name=name, files=files)
    words = {"name": name, "folder": place, "layout": tuning.rated.layout, "note": note or _note(release)}
    add_release(campaign.path, Release.model_validate(words))
    print_release(Console(highlight=False), release)
    click.echo(f"release {name} in {campaign.folder / place}, and in {campaign.path}")


def _refuse_name(campaign: Campaign, name: str) -> None:
    if any(one.name == name for one in campaign.releases):
        raise SettingsError(
            f"there is a release '{name}' already", where=str(campaign.path), remedy="choose another name"
        )
    if not re.fullmatch(r"[\w.+-]+", name):
        raise SettingsError(
            f"'{name}' is not a valid release name", remedy="use letters, digits and '.', '+', '-', '_'"
        )


def _note(release: TunedRelease) -> str:
    return f"Tuned, point {release.run}"


def _refuse_losses(release: TunedRelease, *, despite_losses: bool) -> None:
    if release.losses and not despite_losses:
        raise SettingsError(
            f"point '{release.run}' violates limits: {'; '.join(release.losses)}",
            remedy="choose another run, or write it with --despite-losses",
        )
