"""Options that criteria and qualification share: codes for channels of other names, time zero, offset."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from correlate.criteria import ChannelName, Preparation
    from correlate.formats import Recording

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
    """Read the values of ``--name``.

    Parameters
    ----------
    texts
        Each ``NAME=CODE`` or ``NAME=-CODE``.

    Returns
    -------
    tuple of ChannelName

    Raises
    ------
    SettingsError
        A text has no equals sign.
    """
    from correlate.criteria import ChannelName  # noqa: PLC0415 - help must stay quick

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
    """

    names: Sequence[str] = ()
    campaign_file: Path | None = None
    load_case: str | None = None


def coded_recording(path: Path, naming: Naming) -> Recording:
    """Read data and bring their channels under codes.

    Parameters
    ----------
    path
        File or test folder.
    naming
        What the options say.

    Returns
    -------
    Recording

    Raises
    ------
    CorrelateError
        The data, the campaign or a name cannot be used.
    """
    from correlate.criteria import with_codes  # noqa: PLC0415
    from correlate.evaluation import load_campaign  # noqa: PLC0415
    from correlate.evaluation.coded_channel import read_coded  # noqa: PLC0415
    from correlate.formats import read  # noqa: PLC0415

    if (naming.campaign_file is None) != (naming.load_case is None):
        raise SettingsError("--campaign and --load-case belong together", remedy="give both or neither")
    if naming.campaign_file is None or naming.load_case is None:
        recording = read(path)
    else:
        recording = read_coded(path, load_campaign(naming.campaign_file), naming.load_case)
    return with_codes(recording, parsed_names(naming.names))


def preparation(*, time_zero_ms: float, keep_offset: bool) -> Preparation:
    """Return the preparation that the options ask for."""
    from correlate.criteria import Preparation  # noqa: PLC0415

    return Preparation(time_zero_s=time_zero_ms / 1e3, remove_offset=not keep_offset)
