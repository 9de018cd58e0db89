"""``correlate report``: the report of a release of a model."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from correlate.cli.campaigns import (
    campaign_argument,
    named_campaign,
    opened_store,
    say_if_saved,
    store_option,
    verify_option,
)
from correlate.errors import SettingsError
from correlate.extras import need_extra

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date, datetime

    from correlate.campaign import Campaign
    from correlate.report.release_contents import KeptResults, ReleaseContents, Yardsticks


@click.command()
@campaign_argument
@click.option("--release", default="", metavar="NAME", help="The release.  [default: the last rated release]")
@click.option(
    "--baseline",
    default="",
    metavar="NAME",
    help="Release to compare with.  [default: the previous rated release]",
)
@click.option("--html", "html_file", type=click.Path(path_type=Path), metavar="FILE", help="Write a page.")
@click.option("--pdf", "pdf_file", type=click.Path(path_type=Path), metavar="FILE", help="Write a PDF.")
@click.option("--device", metavar="NAME", help="Device size, for injury criteria and windows.")
@click.option(
    "--windows",
    "windows",
    multiple=True,
    metavar="CASE=TEST",
    help="Qualification test of a load case, or a part of its name.  May be repeated.",
)
@click.option(
    "--date",
    "day",
    type=click.DateTime(["%Y-%m-%d"]),
    help="Date of the report.  [default: the day of the last rating]",
)
@store_option
@verify_option
def report_command(
    *,
    campaign_file: Path,
    release: str,
    baseline: str,
    html_file: Path | None,
    pdf_file: Path | None,
    device: str | None,
    windows: tuple[str, ...],
    day: datetime | None,
    store_url: str | None,
    is_verifying: bool,
) -> None:
    """Write the report of a release: its rating, the reasons, and the evidence.

    Hashes, evidence and every recorded step go into an appendix beside it, NAME-appendix. Every pair must be
    rated by `correlate score` first. The PDF requires Chromium; without it an HTML page is written instead.
    """
    from correlate.report.release_contents import release_contents

    need_extra("report")
    if html_file is None and pdf_file is None:
        raise click.UsageError("give --html FILE, --pdf FILE or both")
    campaign = named_campaign(campaign_file, is_verifying=is_verifying)
    yardsticks = _yardsticks(campaign, device, windows)
    names, kept = _kept(campaign, release, baseline, store_url)
    contents = release_contents(
        campaign, kept, names, yardsticks=yardsticks, day=day.date() if day else _last_day(kept)
    )
    _write(contents, html_file, pdf_file)


def _yardsticks(campaign: Campaign, device: str | None, windows: Sequence[str]) -> Yardsticks:
    from correlate.criteria import find_device, window_book
    from correlate.report.release_contents import Yardsticks

    book = window_book()
    if windows and device is None:
        raise SettingsError("--windows needs a device size", where="report", remedy="give --device too")
    size = None if device is None else find_device(device)
    chosen = {}
    for text in windows:
        case, equals, test = text.partition("=")
        if not (case and equals and test):
            raise SettingsError(
                f"--windows '{text}' is not CASE=TEST", where="report", remedy="write 'knee=knee impact'"
            )
        chosen[campaign.load_case(case).name] = book.find(device=str(device), test=test)
    return Yardsticks(device=size, windows=chosen, book=book)


def _kept(
    campaign: Campaign, release: str, baseline: str, store_url: str | None
) -> tuple[list[str], KeptResults]:
    """Read what the store holds, after a look at whether both releases are rated."""
    from correlate.report.release_contents import KeptResults, rated_releases

    for name in filter(None, (release, baseline)):
        campaign.release(name)
    title = campaign.title
    with opened_store(campaign, store_url) as store:
        records = store.ratings(campaign=title)
        names = rated_releases(campaign, records, release, baseline)
        say_if_saved(store, campaign, names)
        notes = [note for note in store.notes(campaign=title) if note.release in {"", names[0]}]
        return names, KeptResults(
            records=records,
            ceilings=store.ceilings(title),
            runs=store.runs(title),
            notes=notes,
            sign_offs=store.sign_offs(campaign=title, release=names[0]),
            ratings_sha256=store.ratings_sha256(campaign=title, release=names[0]),
            findings=store.findings(campaign.title),
            evidence=store.evidence(title),
        )


def _last_day(kept: KeptResults) -> date:
    return max(run.started for run in kept.runs).date()


def _write(contents: ReleaseContents, html_file: Path | None, pdf_file: Path | None) -> None:
    from correlate.report.release_files import html_files

    if html_file is not None:
        _write_files(html_file, html_files(contents, html_file.name))
    if pdf_file is not None:
        _write_pdf(contents, pdf_file, html_file)


def _write_files(target: Path, files: Mapping[str, bytes]) -> None:
    """Write a report and its appendix into one folder."""
    from correlate.files import write_bytes

    for name, content in files.items():
        write_bytes(target.with_name(name), content)
    click.echo(f"written: {target}")
    click.echo(f"written: {target.with_name(next(iter(files)))}")


def _write_pdf(contents: ReleaseContents, pdf_file: Path, html_file: Path | None) -> None:
    from correlate.errors import FormatError
    from correlate.report.release_document import find_browser
    from correlate.report.release_files import html_files, pdf_files

    try:
        files = pdf_files(contents, pdf_file.name, browser=find_browser())
    except FormatError:
        if html_file is None:
            beside = pdf_file.with_suffix(".html")
            _write_files(beside, html_files(contents, beside.name))
        raise
    _write_files(pdf_file, files)
