"""Many visitors for a while: ``python -m tests.soak [--clients N] [--seconds S] [--project FOLDER]``."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import click

from correlate import RunInfo, load_campaign, open_store, score_campaign
from tests.dashboard.project import write_project
from tests.soak.soaking import soak


@click.command()
@click.option("--clients", type=click.IntRange(1, 2000), default=200, show_default=True)
@click.option("--seconds", type=click.FloatRange(2), default=60, show_default=True)
@click.option(
    "--think", type=click.FloatRange(0), default=20, show_default=True, help="Mean pause, in seconds."
)
@click.option("--project", type=click.Path(path_type=Path, exists=True, file_okay=False))
def main(clients: int, seconds: float, think: float, project: Path | None) -> None:
    """Serve a project, or the small one of the tests, to many visitors; exit code 1 if a request failed."""
    with tempfile.TemporaryDirectory() as folder:
        measured = soak(project or rated(Path(folder)), clients=clients, seconds=seconds, think_s=think)
    click.echo("\n".join(measured.lines()))
    sys.exit(bool(measured.failures))


def rated(folder: Path) -> Path:
    """Write the small project, rate it, and return its folder."""
    campaign = load_campaign(write_project(folder))
    with open_store(folder / "ratings.sqlite") as store:
        run = RunInfo.now(who="analyst", campaign_sha256=campaign.sha256)
        score_campaign(campaign, keep=lambda records, _: store.keep(records, run=run), workers=1)
    return folder


if __name__ == "__main__":
    main()
