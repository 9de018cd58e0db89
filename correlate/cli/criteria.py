"""Commands about injury criteria and qualification: ``criteria`` and ``qualify``."""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import click

from correlate.cli.data import warn_of_set_aside
from correlate.cli.layouts import layouts_option, loaded_layouts
from correlate.cli.qualification_record import RecordOptions, record_options, record_qualification
from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import datetime

    from correlate.criteria import ChannelName, Preparation, Qualification, RecordedCriteria, Window
    from correlate.formats import Recording
    from correlate.formats.columns import ColumnLayout
    from correlate.laboratory import Register, TestConditions


NOT_INSIDE: Final = 1
"""Exit code when a quantity is outside its window, or not measurable."""

_OPTIONS = (
    click.option(
        "--name",
        "names",
        multiple=True,
        metavar="NAME=CODE",
        help="Channel code for a channel name; a minus before the code inverts the sign.  May be repeated.",
    ),
    click.option(
        "--campaign",
        "campaign_file",
        type=click.Path(path_type=Path),
        metavar="FILE",
        help="Take the names of the model's channels from this campaign file.",
    ),
    click.option("--load-case", metavar="NAME", help="Load case of --campaign."),
    layouts_option,
    click.option(
        "--time-zero",
        "time_zero_ms",
        type=float,
        default=0.0,
        show_default=True,
        metavar="MS",
        help="Time of first contact in the data.",
    ),
    click.option("--keep-offset", is_flag=True, help="Do not subtract the mean before time zero."),
)


def coded_data_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the options to a command."""
    for option in reversed(_OPTIONS):
        command = option(command)
    return command


def parsed_names(texts: Sequence[str]) -> tuple[ChannelName, ...]:
    """Read the values of ``--name``."""
    from correlate.criteria import ChannelName

    found = []
    for text in texts:
        name, equals, code = text.rpartition("=")
        if not (name and equals and code):
            raise SettingsError(
                f"--name '{text}' is not NAME=CODE", remedy="write for instance 'ax=D0HEAD0000KMACXP'"
            )
        found.append(ChannelName(name=name, code=code.removeprefix("-"), turned=code.startswith("-")))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Naming:
    """How channels of other names come under codes.

    Attributes
    ----------
    names
        Values of ``--name``.
    campaign_file, load_case
        Of ``--campaign`` and ``--load-case``; both or neither.
    layouts
        Of ``--layout``.
    """

    names: Sequence[str] = ()
    campaign_file: Path | None = None
    load_case: str | None = None
    layouts: Sequence[ColumnLayout] = ()


def coded_recording(path: Path, naming: Naming) -> Recording:
    """Read data and bring their channels under codes."""
    from correlate.criteria import with_codes
    from correlate.evaluation import load_campaign
    from correlate.evaluation.channels import read_coded
    from correlate.formats import read

    if (naming.campaign_file is None) != (naming.load_case is None):
        raise SettingsError("--campaign and --load-case belong together", remedy="give both or neither")
    if naming.campaign_file is None or naming.load_case is None:
        recording = read(path, naming.layouts)
    else:
        recording = read_coded(path, load_campaign(naming.campaign_file), naming.load_case)
    warn_of_set_aside(recording)
    return with_codes(recording, parsed_names(naming.names))


def preparation(*, time_zero_ms: float, keep_offset: bool) -> Preparation:
    """Return the preparation that the options ask for."""
    from correlate.criteria import Preparation

    return Preparation(time_zero_s=time_zero_ms / 1e3, remove_offset=not keep_offset)


@click.command()
@click.argument("reference", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--candidate", type=click.Path(path_type=Path), metavar="PATH", help="The model to compare.")
@click.option("--device", metavar="NAME", required=True, help="Device size, or a part of its name.")
@click.option("--from", "from_ms", type=float, metavar="MS", help="Start of the interval.")
@click.option("--to", "to_ms", type=float, metavar="MS", help="End of the interval.")
@coded_data_options
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the tables.")
def criteria_command(
    *,
    reference: tuple[Path, ...],
    candidate: Path | None,
    device: str,
    from_ms: float | None,
    to_ms: float | None,
    names: tuple[str, ...],
    campaign_file: Path | None,
    load_case: str | None,
    layout_files: tuple[Path, ...],
    time_zero_ms: float,
    keep_offset: bool,
    as_json: bool,
) -> None:
    """Compute the injury criteria of REFERENCE, one or more repeats of a test, and of a model.

    Every criterion whose channels exist is computed and compared with published limits. --name, --campaign
    and --time-zero apply to the model, or to REFERENCE without --candidate. Criteria inform; they do not
    certify.
    """
    from correlate.criteria import find_device, recorded_criteria

    size = find_device(device)
    start_s = None if from_ms is None else from_ms / 1e3
    end_s = None if to_ms is None else to_ms / 1e3
    layouts = loaded_layouts(layout_files)
    naming = Naming(names, campaign_file, load_case, layouts)

    def computed(path: Path, *, named: bool) -> RecordedCriteria:
        asked = preparation(time_zero_ms=time_zero_ms if named else 0.0, keep_offset=keep_offset)
        recording = coded_recording(path, naming if named else Naming(layouts=layouts))
        return recorded_criteria(recording, size, preparation=replace(asked, start_s=start_s, end_s=end_s))

    repeats = [computed(path, named=candidate is None) for path in reference]
    model = None if candidate is None else computed(candidate, named=True)
    _report(repeats, model, as_json=as_json)


def _report(repeats: Sequence[RecordedCriteria], model: RecordedCriteria | None, *, as_json: bool) -> None:
    if as_json:
        from correlate.report.criteria import criteria_json

        click.echo(criteria_json(repeats, model))
        return
    from rich.console import Console

    from correlate.report.criteria import print_criteria

    print_criteria(Console(highlight=False), repeats, model)


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
    help="Impact velocity, if the data do not contain it.",
)
@click.option(
    "--keep",
    "register_file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Save the results in the log beside this register of a laboratory (TOML).",
)
@click.option(
    "--dummy",
    default="",
    metavar="SERIAL",
    help="Serial number of the dummy, for --keep and --record, if the data do not name it.",
)
@click.option(
    "--date",
    "day",
    type=click.DateTime(["%Y-%m-%d"]),
    metavar="YYYY-MM-DD",
    help="Day of the test, for --keep and --record, if the data do not contain it.",
)
@record_options
@coded_data_options
@click.option("--list", "only_list", is_flag=True, help="List the devices and tests that have windows.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object instead of the table.")
def qualify_command(
    *,
    data: tuple[Path, ...],
    device: str | None,
    test: str | None,
    windows_files: tuple[Path, ...],
    impact_velocity_m_per_s: float | None,
    register_file: Path | None,
    dummy: str,
    day: datetime | None,
    names: tuple[str, ...],
    campaign_file: Path | None,
    load_case: str | None,
    layout_files: tuple[Path, ...],
    time_zero_ms: float,
    keep_offset: bool,
    only_list: bool,
    as_json: bool,
    **record: Any,
) -> None:
    """Compare DATA, tests or model output, with the windows of a qualification test.

    Each quantity is inside its window, outside by a stated amount, or not measurable, with the reason. The
    exit code is 1 unless every quantity of all DATA is inside. Windows inform; they do not certify.
    """
    from correlate.criteria import qualify, window_book

    book = window_book(windows_files)
    if only_list:
        _list(book.windows)
        return
    if not (data and device and test):
        raise click.UsageError("give DATA, --device and --test, or --list to list them")
    window = book.find(device=device, test=test)
    options = RecordOptions(**record)
    options.check(data)
    if register_file is None and options.record_file is None and (dummy or day):
        raise click.UsageError("--dummy and --date belong to --keep or --record")
    stated = options.stated(dummy=dummy, day=None if day is None else day.date())
    signer = options.signer()
    naming = Naming(names, campaign_file, load_case, loaded_layouts(layout_files))
    asked = preparation(time_zero_ms=time_zero_ms, keep_offset=keep_offset)
    recordings = [coded_recording(path, naming) for path in data]
    found = [
        qualify(one, window, book, preparation=asked, impact_velocity_m_per_s=impact_velocity_m_per_s)
        for one in recordings
    ]
    if register_file is not None:
        from correlate.laboratory import TestConditions, read_register

        conditions = TestConditions(
            preparation=asked,
            impact_velocity_m_per_s=impact_velocity_m_per_s,
            dummy=dummy,
            day=None if day is None else day.date(),
        )
        _keep(read_register(register_file), recordings, found, conditions)
    _report_qualification(found, as_json=as_json)
    record_qualification(
        options, recordings[0], found[0], stated=stated, register_file=register_file, signer=signer
    )
    if not all(one.passed for one in found):
        sys.exit(NOT_INSIDE)


def _keep(
    register: Register,
    recordings: Sequence[Recording],
    found: Sequence[Qualification],
    conditions: TestConditions,
) -> None:
    """Save the results, and say on standard error which were new."""
    from correlate.laboratory import keep_qualification

    for recording, one in zip(recordings, found, strict=True):
        kept = keep_qualification(register, one, recording, conditions)
        what = "saved" if kept.is_new else "already saved"
        click.echo(f"{what}: {kept.path}, dummy {kept.result.dummy}, {kept.result.date}", err=True)


def _report_qualification(found: Sequence[Qualification], *, as_json: bool) -> None:
    if as_json:
        from correlate.report.criteria import qualification_json

        click.echo(qualification_json(found))
    else:
        from rich.console import Console

        from correlate.report.criteria import print_qualification

        print_qualification(Console(highlight=False), found)


def _list(windows: Sequence[Window]) -> None:
    from rich.console import Console

    from correlate.report.criteria import print_windows

    print_windows(Console(highlight=False), windows)
