"""Write a test in the layout of ISO/TS 13499, as a folder or as the same folder zipped."""

from __future__ import annotations

import itertools
import re
import zipfile
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Final

from correlate.channel import ChannelCode
from correlate.errors import CorrelateError, FormatError
from correlate.files import whole_file, whole_folder
from correlate.formats.iso13499.channel_file import IMPLICIT, LINE_END, LIST_ENTRY, NO_VALUE, header_text
from correlate.formats.number_text import plain_number
from correlate.formats.recording import told_apart
from correlate.formats.text import encoded

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from correlate.formats.recording import Recording
    from correlate.signal import Signal

_CHANNEL_KEYS: Final = (
    "Test object number",
    "Name of the channel",
    "Channel code",
    "Unit",
    "Reference system",
    "Channel amplitude class",
    "Channel frequency class",
    "Reference channel",
    "Sampling interval",
    "Bit resolution",
    "Time of first sample",
    "Number of samples",
)
_ZIP_TIME: Final = (1980, 1, 1, 0, 0, 0)


def write_test(
    folder: str | Path,
    *,
    name: str,
    description: Mapping[str, str],
    signals: Sequence[Signal],
    channel_headers: Mapping[str, Mapping[str, str]] | None = None,
    channel_list: Mapping[str, str] | None = None,
    significant_digits: int | None = None,
) -> Path:
    r"""Write one test.

    The folder appears complete or not at all. The lines about code, unit, time base and number of samples
    come from the signals; every other header line is written as given.

    Parameters
    ----------
    folder
        The test folder to be made, for instance ``tests/KM0001``; with the suffix ``.zip`` a zip file that
        holds the folder. Only an empty folder or an older zip file may be there already.
    name
        Name of the test: the files are called ``name.mme``, ``Channel/name.chn``, ``Channel/name.001`` …
    description
        Lines of the ``.mme`` file, in this order.
    signals
        At least one; their channels are 16-character codes, all different.
    channel_headers
        Lines of the channel files by channel code, for instance
        ``{"S0SEAT0000KMACZ0": {"Name of the channel": "seat az", "Channel frequency class": "NOVALUE"}}``.
    channel_list
        Lines of the ``.chn`` file. Descriptions of channels that are not in it come from
        ``Name of the channel`` or else from the code.
    significant_digits
        Samples are rounded to so many decimal digits, as a data recorder's export does; by default they
        are written so that reading gives the same float64 again.

    Returns
    -------
    Path
        The folder or zip file.

    Raises
    ------
    FormatError
        The folder exists already, cannot be written, or a name cannot be a file name.
    ChannelError
        A channel is no 16-character code, or two have the same.

    Examples
    --------
    >>> import tempfile
    >>> from correlate.signal import Signal
    >>> seat = Signal(samples=[0.0, 1.5], start_s=0.0, step_s=5e-5, unit="g", channel="S0SEAT0000KMACZ0")
    >>> with tempfile.TemporaryDirectory() as place:
    ...     made = write_test(
    ...         Path(place, "KM0001"), name="KM0001", description={"Title": "seat drop"}, signals=[seat]
    ...     )
    ...     (made / "Channel" / "KM0001.001").read_text().split()[-2:]
    ['0.0', '1.5']
    """
    path = Path(folder)
    _check_name(name, path)
    _check_channels(signals, path)
    headers = channel_headers or {}
    files = itertools.chain(
        _description_files(name, description, _list_lines(signals, headers, channel_list or {})),
        _channel_files(name, signals, headers, significant_digits),
    )
    if path.suffix.lower() == ".zip":
        _write_zip(path, name, files)
    else:
        _write_folder(path, files)
    return path


def write(recording: Recording, path: str | Path) -> None:
    """Write a recording as a test folder, or zipped where the path ends in ``.zip``.

    Parameters
    ----------
    recording
        Its channels must be 16-character codes.
    path
        The folder or zip file to be made. The test is named after it.

    Raises
    ------
    FormatError, ChannelError
        See `write_test`.
    """
    target = Path(path)
    write_test(
        target,
        name=target.stem if target.suffix.lower() == ".zip" else target.name,
        description=recording.details or ({"Title": recording.title} if recording.title else {}),
        signals=recording.signals,
        channel_headers=recording.channel_headers,
        channel_list=recording.channel_list,
    )


def _check_name(name: str, path: Path) -> None:
    if not name.strip() or name in {".", ".."} or set(name) & set('/\\:*?"<>|') or not name.isprintable():
        raise FormatError(
            f"'{name}' cannot be the name of a test",
            where=str(path),
            remedy="use letters, digits, '-' and '_'",
        )


def _check_channels(signals: Sequence[Signal], path: Path) -> None:
    if not signals:
        raise FormatError("there is no channel to write", where=str(path), remedy="give at least one signal")
    seen: set[str] = set()
    for signal in signals:
        try:
            ChannelCode(_code(signal))
        except CorrelateError as error:
            raise error.located(str(path)) from error
        if signal.channel in seen:
            raise FormatError(
                f"two channels have the code '{signal.channel}'",
                where=str(path),
                remedy="give every channel its own code",
            )
        seen.add(signal.channel)


def _description_files(
    name: str, description: Mapping[str, str], channel_list: Mapping[str, str]
) -> Iterator[tuple[PurePosixPath, bytes]]:
    """Yield path within the test folder and content of the description and the list of channels."""
    for part, lines in (
        (PurePosixPath(f"{name}.mme"), description),
        (PurePosixPath("Channel", f"{name}.chn"), channel_list),
    ):
        yield part, encoded(header_text(lines, file=str(part)))


def _channel_files(
    name: str,
    signals: Sequence[Signal],
    channel_headers: Mapping[str, Mapping[str, str]],
    significant_digits: int | None,
) -> Iterator[tuple[PurePosixPath, bytes]]:
    """Yield path within the test folder and content of the channel files."""
    for number, signal in enumerate(signals, start=1):
        part = PurePosixPath("Channel", f"{name}.{number:03d}")
        lines = _channel_lines(signal, channel_headers.get(signal.channel, {}))
        header = encoded(header_text(lines, file=str(part)))
        yield part, header + _sample_text(signal, significant_digits).encode("ascii")


def _list_lines(
    signals: Sequence[Signal],
    channel_headers: Mapping[str, Mapping[str, str]],
    channel_list: Mapping[str, str],
) -> dict[str, str]:
    """Return the lines of the list of channels, numbered anew."""
    lines = {"Instrumentation standard": NO_VALUE}
    lines |= {key: value for key, value in channel_list.items() if not key.startswith(LIST_ENTRY)}
    lines["Number of channels"] = str(len(signals))
    entries = [
        text
        for key, value in channel_list.items()
        if key.startswith(LIST_ENTRY)
        for text in value.split("\n")
    ]
    names = told_apart(entry.partition("/")[0].strip() for entry in entries)
    known = dict(zip(names, entries, strict=True))
    for number, signal in enumerate(signals, start=1):
        name, code = signal.channel, _code(signal)
        called = channel_headers.get(name, {}).get("Name of the channel") or ChannelCode(code).describe()
        lines[f"{LIST_ENTRY}{number:03d}"] = known.get(name, f"{code} / {called}")
    return lines


def _code(signal: Signal) -> str:
    """Return the code of a channel, without the number that tells it apart from others of this code."""
    return re.sub(r" #[0-9]+$", "", signal.channel)


def _channel_lines(signal: Signal, given: Mapping[str, str]) -> dict[str, str]:
    """Return the header of a channel file: the given lines, those about the samples made true."""
    base = dict.fromkeys(_CHANNEL_KEYS, NO_VALUE)
    code = _code(signal)
    base["Name of the channel"] = ChannelCode(code).describe()
    # A full header keeps its own order, for instance one that was read from a file.
    lines = dict(given) if base.keys() <= given.keys() else {**base, **given}
    lines |= {"Channel code": code, "Unit": signal.unit, "Reference channel": IMPLICIT}
    for key, value, text in (
        ("Sampling interval", signal.step_s, repr(signal.step_s)),
        ("Time of first sample", signal.start_s, repr(signal.start_s)),
        ("Number of samples", len(signal), str(len(signal))),
    ):
        # The spelling of a file is kept while it says the same number.
        if plain_number(lines[key]) != value:
            lines[key] = text
    return lines


def _sample_text(signal: Signal, significant_digits: int | None) -> str:
    values: Iterable[float] = signal.samples.tolist()
    if significant_digits is not None:
        values = [float(f"{value:.{significant_digits - 1}e}") for value in values]
    return "".join(f"{value!r}{LINE_END}" for value in values)


def _write_folder(path: Path, files: Iterable[tuple[PurePosixPath, bytes]]) -> None:
    with whole_folder(path) as folder:
        (folder / "Channel").mkdir()
        for part, content in files:
            (folder / part).write_bytes(content)


def _write_zip(path: Path, name: str, files: Iterable[tuple[PurePosixPath, bytes]]) -> None:
    """Write with a fixed time stamp, so that equal tests give equal bytes."""
    with whole_file(path) as stream, zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for part, content in files:
            entry = zipfile.ZipInfo(str(PurePosixPath(name, part)), _ZIP_TIME)
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, content)
