"""``correlate qualify``: data against the qualification windows of a test."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from correlate.cli.coded_data import Naming, coded_data_options, coded_recording, preparation

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.criteria import Window


@click.command()
@click.argument("data", nargs=-1, type=click.Path(path_type=Path))
@click.option("--device", metavar="NAME", help="Device size, or a part of its name.")
@click.option("--test", metavar="NAME", help="Test, or a part of its name.")
@click.option(
    "--windows",
    "windows_files",
    multiple=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Additional windows file.  May be repeated.",
)
@click.option(
    "--impact-velocity",
    "impact_velocity_m_per_s",
    type=float,
    metavar="M/S",
    help="If the data do not contain it.",
)
@coded_data_options
@click.option("--list", "only_list", is_flag=True, help="List the devices and tests that have windows.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the table.")
def command(
    *,
    data: tuple[Path, ...],
    device: str | None,
    test: str | None,
    windows_files: tuple[Path, ...],
    impact_velocity_m_per_s: float | None,
    names: tuple[str, ...],
    campaign_file: Path | None,
    load_case: str | None,
    time_zero_ms: float,
    keep_offset: bool,
    only_list: bool,
    as_json: bool,
) -> None:
    """Compare DATA, tests or model output, with the windows of a qualification test.

    Each quantity is inside its window, outside by a stated amount, or not measurable, with the reason.
    Windows inform; they do not certify.
    """
    from correlate.criteria import qualify, window_book  # noqa: PLC0415 - help must stay quick

    book = window_book(windows_files)
    if only_list:
        _list(book.windows)
        return
    if not (data and device and test):
        raise click.UsageError("give DATA, --device and --test, or --list to list them")
    window = book.find(device=device, test=test)
    naming = Naming(names, campaign_file, load_case)
    found = [
        qualify(
            coded_recording(path, naming),
            window,
            book,
            preparation=preparation(time_zero_ms=time_zero_ms, keep_offset=keep_offset),
            impact_velocity_m_per_s=impact_velocity_m_per_s,
        )
        for path in data
    ]
    if as_json:
        from correlate.report.criteria_data import qualification_json  # noqa: PLC0415

        click.echo(qualification_json(found))
        return
    from rich.console import Console  # noqa: PLC0415

    from correlate.report.criteria_terminal import print_qualification  # noqa: PLC0415

    print_qualification(Console(highlight=False), found)


def _list(windows: Sequence[Window]) -> None:
    from rich.console import Console  # noqa: PLC0415

    from correlate.report.criteria_terminal import print_windows  # noqa: PLC0415

    print_windows(Console(highlight=False), windows)
