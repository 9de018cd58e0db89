"""``correlate check``: check reference data."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.formats import Recording
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
def command(
    *,
    data: tuple[Path, ...],
    against: tuple[Path, ...],
    expect: Path | None,
    waivers_file: Path | None,
    as_json: bool,
    html_file: Path | None,
    repairs_file: Path | None,
) -> None:
    """Check every channel of DATA and report what looks wrong, with evidence and remedy.

    DATA are test folders, files, or folders that contain them. Tests of one load case are treated as repeats
    and compared with each other. Nothing is changed. The exit code is 1 if there is an error that nobody
    waived.
    """
    from correlate.formats import read  # noqa: PLC0415
    from correlate.formats.search import tests_in  # noqa: PLC0415 - help must stay quick
    from correlate.reference.check import check  # noqa: PLC0415
    from correlate.reference.expectations import NOTHING_EXPECTED, load_expectations  # noqa: PLC0415
    from correlate.reference.waivers import load_waivers, with_waivers  # noqa: PLC0415

    expectations = NOTHING_EXPECTED if expect is None else load_expectations(expect)
    tests = [read(path) for path in tests_in(data)]
    others = [read(path) for path in _others(against, tests)]
    book = load_waivers(waivers_file or _project_of(data[0]))
    outcome = with_waivers(check(tests, against=others, expectations=expectations), book)
    _write(outcome, [*tests, *others], html_file=html_file, repairs_file=repairs_file)
    _print(outcome, as_json=as_json)
    if outcome.has_errors:
        sys.exit(FOUND_ERRORS)


def _project_of(data: Path) -> Path:
    """Return the nearest folder around the data that holds a campaign; else that of the data."""
    folders = data.resolve().parents
    return next((one for one in folders if (one / "campaign.toml").exists()), folders[0])


def _others(against: tuple[Path, ...], tests: Sequence[Recording]) -> list[Path]:
    """Return the tests to compare with, without those that have the name of one being checked.

    They would be the same test again, before or after a repair.
    """
    from correlate.formats.search import tests_in  # noqa: PLC0415 - help must stay quick

    names = {test.path.name for test in tests}
    others = tests_in(against)
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
    from correlate.files import write_text  # noqa: PLC0415 - help must stay quick

    if html_file is not None:
        from correlate.report.check_html import check_html  # noqa: PLC0415

        curves = _Curves(outcome, recordings)
        write_text(html_file, check_html(outcome, title="Reference data", curves=curves.of))
    if repairs_file is not None:
        from correlate.report.check_data import repairs_toml  # noqa: PLC0415

        write_text(repairs_file, repairs_toml(outcome))


def _print(outcome: CheckOutcome, *, as_json: bool) -> None:
    if as_json:
        from correlate.report.check_data import check_json  # noqa: PLC0415 - help must stay quick

        click.echo(check_json(outcome))
        return
    from rich.console import Console  # noqa: PLC0415

    from correlate.report.check_terminal import print_check  # noqa: PLC0415

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
