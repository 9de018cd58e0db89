"""``correlate start``: from a folder of raw files to a campaign file and a first rating."""

from __future__ import annotations

import sys
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from correlate.cli.campaigns import NOTHING_RATED, scored, workers_option
from correlate.errors import FormatError, SettingsError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.campaign.first_file import FirstCampaign, Told


@click.command()
@click.argument("folder", type=click.Path(path_type=Path, file_okay=False))
@click.option(
    "--tests",
    metavar="PATTERN",
    default="",
    help="Paths of the tests, relative to FOLDER, such as 'lab/**/*.csv'.",
)
@click.option(
    "--results", metavar="PATTERN", default="", help="Paths of the model results, relative to FOLDER."
)
@click.option(
    "--load-case",
    "load_cases",
    multiple=True,
    metavar="NAME=PATTERN",
    help="Paths of the tests and results of a load case.  May be repeated.",
)
@click.option(
    "--units", metavar="SYSTEM", default="", help="Unit system of results without units, such as mm-ms-kg."
)
@click.option("--no-score", is_flag=True, help="Write the campaign file without rating it.")
@workers_option
def start_command(
    *,
    folder: Path,
    tests: str,
    results: str,
    load_cases: tuple[str, ...],
    units: str,
    no_score: bool,
    workers: int | None,
) -> None:
    """Write a campaign.toml into FOLDER from the tests and model results in it, and rate it.

    Load cases, repeats, releases, units and partners of channels are determined from names, headers and
    curves. All assumptions are printed; in a terminal, the command also asks you to confirm or change the
    tests, the results and the unit system. Existing files are never overwritten.
    """
    from correlate.campaign.first_file import FirstCampaign, Told

    target = folder / "campaign.toml"
    if target.exists():
        raise FormatError("already exists", where=str(target), remedy="edit it, or move it to another folder")
    told = Told(tests=tests, results=results, load_cases=dict(_pairs(load_cases)), units=units)
    first = FirstCampaign(folder, told)
    if sys.stdin.isatty() and sys.stderr.isatty():
        first = _asked(first, told)
    else:
        _print_assumptions(first)
    _write(first, target)
    if no_score:
        click.echo(f"Next: correlate score {folder}")
        return
    _rate(target, workers)


def _pairs(texts: Sequence[str]) -> list[tuple[str, str]]:
    pairs = []
    for text in texts:
        name, _, pattern = text.partition("=")
        if not (name and pattern):
            raise SettingsError(
                f"--load-case '{text}' is not NAME=PATTERN", remedy="write for instance neck='*neck*'"
            )
        pairs.append((name, pattern))
    return pairs


def _asked(first: FirstCampaign, told: Told) -> FirstCampaign:
    """Ask for tests, results and units, with what was found as the answer to accept."""
    from correlate.campaign.first_file import FirstCampaign
    from correlate.campaign.first_text import pattern_of

    for line in first.assumptions:
        click.echo(f"  {line}", err=True)
    answers = {
        "tests": ("Tests (pattern of paths)", pattern_of(first.tests)),
        "results": ("Model results (pattern of paths)", pattern_of(first.results)),
        "units": ("Unit system of results without units", first.texts.system),
    }
    said = {
        key: click.prompt(words, default=proposal, err=True)
        for key, (words, proposal) in answers.items()
        if proposal and not getattr(told, key)
    }
    changed = {key: answer for key, answer in said.items() if answer != answers[key][1]}
    if not changed:
        return first
    return FirstCampaign(
        first.folder,
        replace(
            told,
            tests=changed.get("tests", told.tests),
            results=changed.get("results", told.results),
            units=changed.get("units", told.units),
        ),
    )


def _print_assumptions(first: FirstCampaign) -> None:
    click.echo("Assumed:")
    for line in first.assumptions:
        click.echo(f"  {line}")
    click.echo(
        "Change these with --tests, --results, --load-case NAME=PATTERN and --units, or edit the file."
    )


def _write(first: FirstCampaign, target: Path) -> None:
    """Write the layouts, then the campaign that names them."""
    from correlate.campaign.first_text import campaign_text
    from correlate.campaign.rewriting import write_campaign
    from correlate.files import write_text
    from correlate.report.layout import layout_toml

    text, layouts = campaign_text(first), first.layouts
    for name in layouts:
        file = target.parent / "layouts" / f"{name}.toml"
        if file.exists():
            raise FormatError("already exists", where=str(file), remedy="move it to another folder")
    for name, words in layouts.items():
        file = target.parent / "layouts" / f"{name}.toml"
        file.parent.mkdir(exist_ok=True)
        write_text(file, layout_toml(words, words["files"][0]))
        click.echo(f"written: {file}")
    write_campaign(target, text)
    click.echo(f"written: {target}")


def _rate(target: Path, workers: int | None) -> None:
    from rich.console import Console

    from correlate.campaign import aggregate, load_campaign
    from correlate.report.campaign import print_overview

    campaign = load_campaign(target)
    stored = scored(campaign, (), store_url=None, workers=workers, quiet=False)
    records = stored.scores.records
    numbers = [aggregate(campaign, records, release.name) for release in campaign.releases]
    planned = len(records) + len(stored.scores.unrated)
    print_overview(Console(highlight=False), numbers)
    missing = Counter(one.release for one in stored.scores.unrated)
    for release, count in missing.items():
        click.echo(f"{release} is incomplete: {count} of its pairs could not be rated.")
    click.echo(f"{len(records)} of {planned} pairs could be rated. Details: correlate score {target.parent}")
    if not records:
        sys.exit(NOTHING_RATED)
