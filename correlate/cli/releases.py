"""Commands about several releases: ``compare`` and ``export``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from correlate.cli.campaigns import (
    NOTHING_RATED,
    campaign_argument,
    named_campaign,
    parquet_option,
    scored_or_saved,
    store_option,
    verify_option,
    workers_option,
)
from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from correlate.campaign import Campaign, ReleaseScore, ReleaseTable
    from correlate.campaign.release_evidence import ReleaseEvidence


@click.command()
@campaign_argument
@click.argument("releases", nargs=-1, metavar="[RELEASE…]")
@store_option
@workers_option
@verify_option
@click.option(
    "--top",
    type=click.IntRange(min=1),
    default=20,
    show_default=True,
    help="Maximum number of lines per table; with three or more releases, of channels per load case.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the table.")
@click.option(
    "--csv", "csv_file", type=click.Path(path_type=Path), metavar="FILE", help="Write the table as CSV."
)
@parquet_option
def compare_command(
    *,
    campaign_file: Path,
    releases: tuple[str, ...],
    store_url: str | None,
    workers: int | None,
    is_verifying: bool,
    top: int,
    as_json: bool,
    csv_file: Path | None,
    parquet_file: Path | None,
) -> None:
    """Compare two or more releases of CAMPAIGN in the order given; without names, all of them.

    For two releases, gains and losses of the second are listed, the largest first. For three or more, a table
    shows the ratings of each release, the best release and the last change. Releases are compared repeat by
    repeat: a change is better, worse, or not distinguishable from chance. Stale and missing ratings are
    marked.
    """
    from correlate.campaign import aggregate, compare_releases
    from correlate.report.export import write_rows

    campaign = named_campaign(campaign_file, is_verifying=is_verifying)
    names = _named(campaign, releases)
    stored = scored_or_saved(campaign, names, store_url=store_url, workers=workers, quiet=as_json)
    scores = [aggregate(campaign, stored.pairs, name) for name in names]
    for file, ending in ((csv_file, ".csv"), (parquet_file, ".parquet")):
        if file is not None:
            write_rows(file, [*compare_releases(scores, stored.evidence).rows()], ending=ending)
    if len(names) == 2:
        _show_two(scores, stored.evidence, top=top, as_json=as_json)
    else:
        _show_table(compare_releases(scores, stored.evidence), stored.evidence, top=top, as_json=as_json)


def _named(campaign: Campaign, releases: Sequence[str]) -> list[str]:
    """Return the releases to compare; all of the campaign when none is named."""
    names = [campaign.release(name).name for name in releases] or [one.name for one in campaign.releases]
    if len(names) < 2:
        raise SettingsError(
            f"there is nothing to compare release '{names[0]}' with" if names else "there is no release",
            where=str(campaign.path),
            remedy="name two or more releases",
        )
    return names


def _show_two(
    scores: Sequence[ReleaseScore], evidence: Mapping[str, ReleaseEvidence], *, top: int, as_json: bool
) -> None:
    from correlate.campaign import compare
    from correlate.report.campaign import changes_json, print_changes

    before, after = scores
    changes = compare(before, after, evidence)
    if as_json:
        click.echo(changes_json(before.release, after.release, changes))
        return
    from rich.console import Console

    print_changes(Console(highlight=False), before.release, after.release, changes, top=top)


def _show_table(
    table: ReleaseTable, evidence: Mapping[str, ReleaseEvidence], *, top: int, as_json: bool
) -> None:
    from correlate.report.releases import print_releases, releases_json

    if as_json:
        click.echo(releases_json(table))
        return
    from rich.console import Console

    print_releases(Console(highlight=False), table, evidence, top=top)


@click.command()
@campaign_argument
@click.option(
    "--release", "releases", multiple=True, metavar="NAME", help="Only this release; may be repeated."
)
@click.option(
    "--load-case", "load_cases", multiple=True, metavar="NAME", help="Only this load case; may be repeated."
)
@click.option(
    "--ratings",
    "ratings_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write one row per rated pair, with flags, inputs, hashes and every setting.",
)
@click.option(
    "--curves",
    "curves_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write the conditioned curves that are rated, one row per sample.",
)
@store_option
@workers_option
@verify_option
def export_command(
    *,
    campaign_file: Path,
    releases: tuple[str, ...],
    load_cases: tuple[str, ...],
    ratings_file: Path | None,
    curves_file: Path | None,
    store_url: str | None,
    workers: int | None,
    is_verifying: bool,
) -> None:
    """Write ratings and curves of CAMPAIGN as tables for other programs.

    FILE ends with .csv or .parquet (extra `parquet`); it is written whole or not at all. Curves are
    conditioned, on the grid and in the interval of the rating, computed from the files as they are now. The
    exit code is 1 if no pair has curves.
    """
    if ratings_file is None and curves_file is None:
        raise click.UsageError("give --ratings FILE, --curves FILE or both")
    campaign = named_campaign(campaign_file, is_verifying=is_verifying)
    if ratings_file is not None:
        from correlate.reference.finding import counted
        from correlate.report.export import RatingRows, write_rows

        cases = {campaign.load_case(name).name for name in load_cases}
        stored = scored_or_saved(campaign, releases, store_url=store_url, workers=workers, quiet=False)
        if not any(not cases or one.load_case in cases for one in stored.pairs):
            raise SettingsError(
                "none of these pairs is rated",
                where=str(campaign.path),
                remedy="'correlate score' lists the reasons",
            )
        written = write_rows(ratings_file, RatingRows(stored.scores.records, stored.evidence, cases))
        click.echo(f"written: {ratings_file}, {written} rated pairs")
        missing = sum(not cases or one.load_case in cases for one in stored.scores.unrated)
        if missing:
            words = counted(missing, "pair")
            click.echo(
                f"not in {ratings_file}: {words} not rated; 'correlate score' lists the reasons", err=True
            )
    if curves_file is not None:
        _write_curves(campaign, releases, load_cases, curves_file)


def _write_curves(campaign: Campaign, releases: Sequence[str], load_cases: Sequence[str], file: Path) -> None:
    from correlate.evaluation import conditioned_curves
    from correlate.report.export import write_curves

    with_curves, without = write_curves(
        file, conditioned_curves(campaign, releases=releases, load_cases=load_cases)
    )
    click.echo(f"written: {file}, the curves of {with_curves} pairs")
    for one in without:
        place = f"{one.release} {one.load_case} {one.channel} {one.repeat}".rstrip()
        click.echo(f"without curves: {place}: {one.reason}", err=True)
    if not with_curves:
        sys.exit(NOTHING_RATED)
