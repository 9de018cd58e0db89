"""Read a test in the layout of ISO/TS 13499 from a folder or a zip file."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Final

from correlate.channel import ChannelCode
from correlate.errors import ChannelError, CorrelateError, FormatError
from correlate.formats.iso13499.channel_file import NAME, RawChannel, raw_channel, signal_of
from correlate.formats.iso13499.folder import (
    LARGEST_CHANNEL_FILE,
    LARGEST_HEADER_FILE,
    IsoFolder,
    opened_test,
)
from correlate.formats.iso13499.header import LIST_ENTRY, Header, parsed_header
from correlate.formats.recording import Recording
from correlate.formats.text_file import decoded, text_lines

if TYPE_CHECKING:
    from correlate.signal import Signal

_ENTRY_KEY: Final = re.compile(rf"{LIST_ENTRY}\s*(\d+)")


@dataclass(frozen=True, slots=True)
class _Listed:
    """One entry of the list of channels."""

    key: str
    number: int
    code: str
    file: str


def read(path: str | Path) -> Recording:
    """Read a test.

    Parameters
    ----------
    path
        The test folder, its ``.mme`` file, or a zip file that holds the folder.

    Returns
    -------
    Recording
        Every channel but those that only give the times of others. ``details`` holds the lines of the
        ``.mme`` file, ``channel_headers`` those of the channel files, ``channel_list`` those of the
        ``.chn`` file.

    Raises
    ------
    FormatError
        A file is missing, or a line in it is wrong.
    ChannelError
        A code has not 16 characters, or two channels have the same.
    UnitError
        A unit cannot be parsed.
    SignalError
        The samples of a channel are no time history.
    """
    path = Path(path)
    with opened_test(path) as (test, stem):
        mme = _one_file(test.root_files, ".mme", stem, test)
        details = _header(test, mme)
        name = PurePosixPath(mme).stem
        listing, listed, warnings = _listing(test, name)
        raw = [_raw(test, entry) for entry in listed]
    signals, more = _signals(raw)
    if not details.values:
        warnings.append(f"{details.file}: the test description is empty")
    return Recording(
        signals=signals,
        path=path,
        format=NAME,
        title=details.text("Title"),
        details=details.values,
        channel_headers={channel.code: channel.header.values for channel in raw},
        channel_list=listing.values,
        warnings=(*warnings, *more),
    )


def _header(test: IsoFolder, name: str) -> Header:
    text = decoded(test.read(name, most=LARGEST_HEADER_FILE))
    return parsed_header(text_lines(text), file=test.where(name))


def _one_file(names: list[str], suffix: str, stem: str, test: IsoFolder) -> str:
    """Return the file with a suffix, that of the test where there are several."""
    found = [name for name in names if PurePosixPath(name).suffix.lower() == suffix]
    if len(found) > 1:
        found = [name for name in found if PurePosixPath(name).stem.lower() == stem.lower()] or found
    if len(found) == 1:
        return found[0]
    if not found:
        raise FormatError(
            f"there is no {suffix} file in the test", where=test.label, remedy="copy the test folder again"
        )
    raise FormatError(
        f"there are {len(found)} {suffix} files in the test",
        where=test.label,
        remedy="keep one test in a folder, or name its .mme file",
    )


def _listing(test: IsoFolder, stem: str) -> tuple[Header, list[_Listed], list[str]]:
    """Read the list of channels and find their files."""
    if test.channel_files is None:
        raise FormatError(
            "there is no folder 'Channel' in the test", where=test.label, remedy="copy the test folder again"
        )
    chn = _one_file(test.channel_files, ".chn", stem, test)
    listing = _header(test, chn)
    files = _numbered_files(test.channel_files, PurePosixPath(chn).stem)
    listed: list[_Listed] = []
    for key in listing.values:
        match = _ENTRY_KEY.fullmatch(key)
        if match:
            listed.append(_entry(listing, key, int(match[1]), files))
    _check_listed(listing, listed)
    unlisted = [name for number, name in files.items() if number not in {entry.number for entry in listed}]
    warnings = [f"{test.where(name)}: the channel is not in the list and was not read" for name in unlisted]
    return listing, listed, warnings


def _numbered_files(names: list[str], stem: str) -> dict[int, str]:
    """Return the channel files by their number."""
    found: dict[int, str] = {}
    for name in names:
        path = PurePosixPath(name)
        if path.stem.lower() == stem.lower() and re.fullmatch(r"\.[0-9]+", path.suffix):
            found[int(path.suffix[1:])] = name
    return found


def _entry(listing: Header, key: str, number: int, files: dict[int, str]) -> _Listed:
    if "\n" in listing.values[key]:
        raise FormatError(f"'{key}' is given twice", where=listing.where(key), remedy="correct the list")
    code = listing.values[key].partition("/")[0].strip()
    try:
        ChannelCode(code)
    except CorrelateError as error:
        raise error.located(listing.where(key)) from error
    if number not in files:
        raise FormatError(
            f"channel {number:03d} '{code}' is listed but its file is missing",
            where=listing.where(key),
            remedy=f"copy the file that ends in .{number:03d}, or take the line out",
        )
    return _Listed(key, number, code, files[number])


def _check_listed(listing: Header, listed: list[_Listed]) -> None:
    """Refuse codes that occur twice and a count that is not true."""
    keys: dict[str | int, str] = {}
    for entry in listed:
        for name, what in ((entry.code, f"code '{entry.code}'"), (entry.number, f"number {entry.number}")):
            if name in keys:
                raise ChannelError(
                    f"'{keys[name]}' and '{entry.key}' have the same {what}",
                    where=listing.where(entry.key),
                    remedy="correct one of them",
                )
            keys[name] = entry.key
    key = "Number of channels"
    if not listed:
        raise FormatError("no channel is listed", where=listing.file, remedy="copy the test folder again")
    if listing.text(key) and listing.number(key) != len(listed):
        raise FormatError(
            f"{listing.text(key)} channels are declared and {len(listed)} are listed",
            where=listing.where(key),
            remedy="correct the list",
        )


def _raw(test: IsoFolder, entry: _Listed) -> RawChannel:
    data = test.read(entry.file, most=LARGEST_CHANNEL_FILE)
    digest = hashlib.sha256(data).hexdigest()
    return raw_channel(data, file=test.where(entry.file), sha256=digest, code=entry.code)


def _signals(raw: list[RawChannel]) -> tuple[tuple[Signal, ...], list[str]]:
    """Return the channels as signals, without those that only give times, and warnings."""
    named = {channel.header.text("Name of the channel"): channel for channel in reversed(raw)}
    by_name = named | {channel.code: channel for channel in raw}
    by_name.pop("", None)
    times = {channel.code: by_name[key] for channel in raw if (key := channel.time_channel) in by_name}
    only_times = {channel.code for channel in times.values()}
    signals = tuple(
        signal_of(channel, times.get(channel.code)) for channel in raw if channel.code not in only_times
    )
    return signals, [warning for channel in raw for warning in channel.warnings]
