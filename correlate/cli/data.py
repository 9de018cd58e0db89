"""Commands about data: ``check``, ``repair``, ``convert``, ``formats`` and ``start``."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from correlate.cli.layouts import layouts_option, loaded_layouts
from correlate.errors import CorrelateError, FormatError, SettingsError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.formats import Format, Recording
    from correlate.formats.columns import ColumnLayout
    from correlate.reference.check import CheckOutcome
    from correlate.reference.finding import Finding
    from correlate.signal import Signal


FOUND_ERRORS: Final = 1
"""Exit code when a finding is an error."""


@click.command()
@click.argument("data", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--against",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="DATA",
    help="Further repeats to compare with; nothing is reported about them.  May be repeated.",
)
@click.option(
    "--expect",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Polarity, size and relations of channels (TOML).",
)
@click.option(
    "--waivers",
    "waivers_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Waived findings (TOML).  [default: waivers.toml of the project around DATA]",
)
@click.option(
    "--register",
    "register_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Register of dummies and sensors (TOML).  [default: laboratory.toml of the project around DATA]",
)
@layouts_option
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the table.")
@click.option(
    "--html", "html_file", type=click.Path(path_type=Path), metavar="FILE", help="Also write an HTML page."
)
@click.option(
    "--repairs",
    "repairs_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Write the proposed repairs to a file, to accept them there.",
)
def check_command(
    *,
    data: tuple[Path, ...],
    against: tuple[Path, ...],
    expect: Path | None,
    waivers_file: Path | None,
    register_file: Path | None,
    layout_files: tuple[Path, ...],
    as_json: bool,
    html_file: Path | None,
    repairs_file: Path | None,
) -> None:
    """Check every channel of DATA and report what looks wrong, with evidence and remedy.

    DATA are test folders, files, or folders that contain them. Tests of one load case are treated as repeats
    and compared with each other; their headers are compared with the register of the laboratory. Nothing is
    changed. The exit code is 1 if there is an error that nobody waived.
    """
    from correlate.formats.registry import tests_in
    from correlate.laboratory import check_with_register, project_register, read_register
    from correlate.reference.check import CheckOutcome, read_tests, together
    from correlate.reference.expectations import NOTHING_EXPECTED, load_expectations
    from correlate.reference.finding import load_waivers, with_waivers

    project = _project_of(data[0])
    register = project_register(project) if register_file is None else read_register(register_file)
    expectations = NOTHING_EXPECTED if expect is None else load_expectations(expect)
    layouts = loaded_layouts(layout_files)
    tests, unreadable = read_tests(tests_in(data, layouts), layouts)
    others, left_out = read_tests(_others(against, tests, layouts), layouts)
    for finding in left_out:
        click.echo(f"skipped, because {finding.what}: {finding.file}", err=True)
    book = load_waivers(waivers_file or project)
    checked = check_with_register(tests, register, against=others, expectations=expectations)
    unchecked = CheckOutcome(findings=tuple(unreadable), channels=(), load_cases={})
    outcome = with_waivers(together([checked, unchecked]), book)
    _write(outcome, [*tests, *others], html_file=html_file, repairs_file=repairs_file)
    _print(outcome, as_json=as_json)
    if outcome.has_errors:
        sys.exit(FOUND_ERRORS)


def _project_of(data: Path) -> Path:
    """Return the nearest folder around the data that holds a campaign; else that of the data."""
    folders = Path(os.path.realpath(data)).parents
    return next((one for one in folders if (one / "campaign.toml").exists()), folders[0])


def _others(
    against: tuple[Path, ...], tests: Sequence[Recording], layouts: Sequence[ColumnLayout]
) -> list[Path]:
    """Return the tests to compare with, without those that have the name of one being checked.

    They would be the same test again, before or after a repair.
    """
    from correlate.formats.registry import tests_in

    names = {test.path.name for test in tests}
    others = tests_in(against, layouts)
    again = [path for path in others if path.name in names]
    for path in again:
        click.echo(f"skipped, because it is the same test: {path}", err=True)
    return [path for path in others if path not in again]


def _write(
    outcome: CheckOutcome,
    recordings: Sequence[Recording],
    *,
    html_file: Path | None,
    repairs_file: Path | None,
) -> None:
    from correlate.files import write_text

    if html_file is not None:
        from correlate.report.html import check_html

        curves = _Curves(outcome, recordings)
        write_text(html_file, check_html(outcome, title="Reference data", curves=curves.of))
    if repairs_file is not None:
        from correlate.report.check import repairs_toml

        write_text(repairs_file, repairs_toml(outcome))


def _print(outcome: CheckOutcome, *, as_json: bool) -> None:
    if as_json:
        from correlate.report.check import check_json

        click.echo(check_json(outcome))
        return
    from rich.console import Console

    from correlate.report.check import print_check

    print_check(Console(highlight=False), outcome)


class _Curves:
    """The channels behind findings."""

    def __init__(self, outcome: CheckOutcome, recordings: Sequence[Recording]) -> None:
        self._recordings = {str(recording.path): recording for recording in recordings}
        self._mates = {test: tests for tests in outcome.load_cases.values() for test in tests}

    def of(self, finding: Finding) -> tuple[Signal, list[Signal]]:
        """Return the channel of a finding and the same channel, in the same unit, of the other repeats."""
        signal = self._recordings[finding.file].channel(finding.channel)
        others = [
            other
            for test in self._mates[finding.file]
            if test != finding.file
            for other in self._recordings[test].signals
            if other.channel == signal.channel and other.unit == signal.unit
        ]
        return signal, others


@click.command()
@click.argument("repairs_file", metavar="FILE", type=click.Path(path_type=Path))
@click.option(
    "--out",
    required=True,
    type=click.Path(path_type=Path, file_okay=False),
    metavar="FOLDER",
    help="Where the repaired tests are written, one folder each.",
)
@layouts_option
def repair_command(*, repairs_file: Path, out: Path, layout_files: tuple[Path, ...]) -> None:
    """Apply the accepted repairs of FILE, and write the repaired tests as new files.

    FILE comes from `correlate check --repairs`. The data it names remain unchanged; the repaired tests
    contain a comment for every step.
    """
    from correlate.formats import iso13499
    from correlate.reference.repair import repair_lines

    accepted = _accepted(repairs_file)
    if not accepted:
        raise FormatError(
            "no repair is accepted", where=str(repairs_file), remedy="enter who accepts it after accepted_by"
        )
    layouts = loaded_layouts(layout_files)
    out.mkdir(parents=True, exist_ok=True)
    for test, entries in accepted.items():
        try:
            repaired = _repaired(Path(test), entries, layouts)
        except CorrelateError as error:
            raise error.located(str(repairs_file)) from error
        target = out / Path(test).name
        iso13499.write(repaired, target)
        click.echo(f"{target}")
        warn_of_set_aside(repaired)
        for signal in repaired.signals:
            for line in repair_lines(signal):
                click.echo(f"  {signal.channel}: {line}")


def _accepted(path: Path) -> dict[str, list[dict[str, Any]]]:
    """Return the accepted entries by test, in the order of the file."""
    from correlate.toml import parse_toml

    content = parse_toml(path, kind="a file of repairs").content
    found: dict[str, list[dict[str, Any]]] = {}
    for number, entry in enumerate(content.get("repair", []), start=1):
        missing = {"test", "channel", "repair", "accepted_by"} - set(entry)
        if missing:
            raise FormatError(
                f"repair {number} has no {', '.join(sorted(missing))}", where=str(path), remedy="add it"
            )
        if str(entry["accepted_by"]).strip():
            found.setdefault(str(entry["test"]), []).append(entry)
    return found


def _repaired(test: Path, entries: list[dict[str, Any]], layouts: Sequence[ColumnLayout]) -> Recording:
    from correlate.formats import read
    from correlate.reference.finding import RepairProposal
    from correlate.reference.repair import repair_recording

    recording = read(test, layouts)
    for entry in entries:
        proposal = RepairProposal(str(entry["repair"]), entry.get("settings", {}))
        recording = repair_recording(
            recording, {str(entry["channel"]): [proposal]}, accepted_by=str(entry["accepted_by"])
        )
    return recording


_BY_ENDING: Final = {
    "": "ISO/TS 13499",
    ".zip": "ISO/TS 13499",
    ".csv": "delimited text",
    ".txt": "delimited text",
    ".h5": "HDF5 archive",
    ".hdf5": "HDF5 archive",
}


@click.command()
@click.argument("source", metavar="IN", type=click.Path(path_type=Path))
@click.argument("target", metavar="OUT", type=click.Path(path_type=Path))
@click.option("--format", "name", metavar="NAME", help="Format of OUT, as 'correlate formats' lists it.")
@click.option(
    "--layout",
    metavar="FILE",
    help="Layout file for IN if it is text in columns; with --campaign, the name of one of its layouts.",
)
@click.option(
    "--campaign", "campaign_file", type=click.Path(path_type=Path), help="Campaign that uses the layout."
)
def convert_command(
    *, source: Path, target: Path, name: str | None, layout: str | None, campaign_file: Path | None
) -> None:
    """Read IN and write it to OUT.

    The suffix of OUT selects the format: .h5 is an archive, .csv is delimited text, .zip or no suffix is an
    ISO/TS 13499 test. OUT must not exist yet; it is written completely or not at all.
    """
    from correlate.formats import list_formats

    if target.exists() or target.is_symlink():
        raise FormatError("already exists", where=str(target), remedy="choose another name")
    writer = _writer(target, name, list_formats())
    recording = _read(source, layout, campaign_file)
    assert writer.write is not None  # noqa: S101 - chosen among those that write
    writer.write(recording, target)
    for warning in recording.warnings:
        click.echo(f"note: {warning}", err=True)
    warn_of_set_aside(recording)
    count, lost = len(recording.signals), len(recording.set_aside)
    words = f"{count} {'channel' if count == 1 else 'channels'}" + (f", {lost} set aside" if lost else "")
    click.echo(f"written: {target}, {writer.name}, {words}")


def warn_of_set_aside(recording: Recording) -> None:
    """Name the channels that were not used, each with its reason."""
    for one in recording.set_aside:
        click.echo(f"warning: {one}", err=True)


def _writer(target: Path, name: str | None, formats: tuple[Format, ...]) -> Format:
    """Return the format that is asked for by name or by the ending of the target."""
    writers = {entry.name.casefold(): entry for entry in formats if entry.write is not None}
    wanted = name if name is not None else _BY_ENDING.get(target.suffix.lower())
    if wanted is not None and wanted.casefold() in writers:
        return writers[wanted.casefold()]
    what = (
        f"the suffix '{target.suffix}' belongs to no format"
        if name is None
        else f"the format '{name}' cannot be written"
    )
    known = ", ".join(f"'{entry.name}'" for entry in writers.values())
    raise SettingsError(what, where=str(target), remedy=f"name one under --format: {known}")


def _read(source: Path, layout: str | None, campaign_file: Path | None) -> Recording:
    """Read the source, by a layout where one is named."""
    from correlate.formats import read

    if campaign_file is None:
        return read(source, loaded_layouts([Path(layout)] if layout else []))
    if layout is None:
        raise SettingsError(
            "--campaign needs --layout", where=str(source), remedy="name a layout of the campaign"
        )
    from correlate.campaign import load_campaign
    from correlate.formats.columns import read_columns

    layouts = load_campaign(campaign_file).layouts
    if layout not in layouts:
        known = f"it has {', '.join(layouts)}" if layouts else "it has none"
        raise SettingsError(f"there is no layout '{layout}'", where=str(campaign_file), remedy=known)
    return read_columns(source, layouts[layout])


@click.command()
def formats_command() -> None:
    """List the file formats that can be read and written."""
    from rich.console import Console

    from correlate.formats import list_formats
    from correlate.report.table import TextTable

    table = TextTable()
    for heading in ("name", "writes"):
        table.add_column(heading)
    table.add_column("description", is_text=True)
    for entry in list_formats():
        table.add_row(entry.name, "yes" if entry.write else "no", entry.description)
    Console().print(table)
