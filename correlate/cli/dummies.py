"""``correlate dummies``: the dummies of a laboratory, their qualification over time, and what is due."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from correlate.laboratory import Register, TestHistory

OVERDUE: Final = 1
"""Exit code of ``due`` when a qualification or calibration is overdue."""

register_option = click.option(
    "--register",
    "register_file",
    type=click.Path(path_type=Path),
    default=Path(),
    metavar="FILE",
    help="Register of the laboratory, or the folder that holds a laboratory.toml.  "
    "[default: the current folder]",
)
day_option = click.option(
    "--on",
    "day",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="YYYY-MM-DD",
    help="Day for which the state is shown.  [default: today]",
)
json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print one JSON object instead of the tables."
)
serial_argument = click.argument("serial")
test_option = click.option("--test", default="", metavar="NAME", help="Only tests with this in their name.")


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
def dummies_command() -> None:
    """Show the dummies of a laboratory, their qualification over time, and what is due.

    Results are saved by `correlate qualify --keep`.
    """


@dummies_command.command("list")
@register_option
@day_option
@json_option
def list_command(*, register_file: Path, day: datetime | None, as_json: bool) -> None:
    """List the dummies: type, build level, newest result, what is overdue."""
    from correlate.laboratory import due_in
    from correlate.report.dummies import dummies_json, print_dummies

    register = _register(register_file)
    due = due_in(register, _day(day))
    if as_json:
        click.echo(dummies_json(register, due))
        return
    from rich.console import Console

    print_dummies(Console(highlight=False), register, due)


@dummies_command.command("show")
@serial_argument
@register_option
@json_option
def show_command(*, serial: str, register_file: Path, as_json: bool) -> None:
    """Show the dummy SERIAL: its exchanged parts and every saved result."""
    from correlate.laboratory import history
    from correlate.report.dummies import histories_json, print_dummy

    register = _register(register_file)
    tests = history(register, serial)
    if as_json:
        click.echo(histories_json(tests))
        return
    from rich.console import Console

    print_dummy(Console(highlight=False), register.dummy(serial), tests)


@dummies_command.command("due")
@register_option
@day_option
@json_option
def due_command(*, register_file: Path, day: datetime | None, as_json: bool) -> None:
    """List when qualification tests and calibrations are due, overdue ones first.

    The exit code is 1 if something is overdue.
    """
    from correlate.laboratory import due_in
    from correlate.report.dummies import due_json, print_due

    due = due_in(_register(register_file), _day(day))
    if as_json:
        click.echo(due_json(due))
    else:
        from rich.console import Console

        print_due(Console(highlight=False), due)
    if due.has_overdue:
        raise click.exceptions.Exit(OVERDUE)


@dummies_command.command("chart")
@serial_argument
@test_option
@register_option
@json_option
@click.option(
    "--csv", "csv_file", type=click.Path(path_type=Path), metavar="FILE", help="Also write the values."
)
@click.option(
    "--html", "html_file", type=click.Path(path_type=Path), metavar="FILE", help="Also write an HTML page."
)
def chart_command(
    *,
    serial: str,
    test: str,
    register_file: Path,
    as_json: bool,
    csv_file: Path | None,
    html_file: Path | None,
) -> None:
    """Show the control charts of the dummy SERIAL: alarms, drift, steps, effect of exchanged parts."""
    from correlate.errors import SettingsError
    from correlate.laboratory import history
    from correlate.report.dummies import histories_json, print_charts

    register = _register(register_file)
    found = history(register, serial, test=test)
    if not found:
        what = f"no result of dummy '{serial}'" + (f" and a test '{test}'" if test else "") + " is saved"
        raise SettingsError(
            what, where=str(register.path), remedy="save results with: correlate qualify … --keep"
        )
    _write(found, csv_file=csv_file, html_file=html_file)
    if as_json:
        click.echo(histories_json(found))
        return
    from rich.console import Console

    print_charts(Console(highlight=False), found)


def _write(found: Sequence[TestHistory], *, csv_file: Path | None, html_file: Path | None) -> None:
    from correlate.extras import need_extra
    from correlate.files import write_text
    from correlate.report.dummies import histories_csv, histories_html

    if csv_file is not None:
        write_text(csv_file, histories_csv(found))
    if html_file is not None:
        need_extra("report")
        dummy = found[0].dummy
        write_text(html_file, histories_html(found, title=f"Dummy {dummy.serial}, {dummy.type}"))


def _register(path: Path) -> Register:
    from correlate.laboratory import read_register

    return read_register(path)


def _day(given: datetime | None) -> date:
    return (given or datetime.now(UTC)).date()
