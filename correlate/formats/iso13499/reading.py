"""Reading a test in ISO/TS 13499, from its folder or from a zip file."""

from __future__ import annotations

import hashlib
import re
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Final

from correlate.channel import ChannelCode
from correlate.errors import ChannelError, CorrelateError, FormatError
from correlate.files import (
    ArchiveSource,
    FolderSource,
    first_bytes,
    opened_source,
    read_file_of,
    too_large,
    unreadable,
)
from correlate.formats.iso13499.channel_file import (
    LIST_ENTRY,
    NAME,
    Header,
    RawChannel,
    parsed_header,
    raw_channel,
    signal_of,
)
from correlate.formats.recording import Recording
from correlate.formats.text import decoded, text_lines

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.signal import Signal


LARGEST_HEADER_FILE: Final = 2**20
"""Most bytes of a description or a list of channels."""
LARGEST_CHANNEL_FILE: Final = 2**28
"""Most bytes of one channel file: some 25 million samples."""
LARGEST_EXTRACTED: Final = 2**31
"""Most bytes that the channel files of one zip file may extract to."""

CHANNEL_FOLDER: Final = "channel"
_ZIP_START: Final = b"PK\x03\x04"


class IsoFolder:
    """The files of one test.

    Attributes
    ----------
    label
        The test folder as the user would name it.
    root_files
        Names of the files in the test folder.
    channel_files
        Names of the files in its channel folder; None when there is no such folder or nothing in it.
    """

    def __init__(self, source: FolderSource | ArchiveSource) -> None:
        self._source = source
        self._left = LARGEST_EXTRACTED
        self.label = source.label
        paths = [(name, PurePosixPath(name).parts) for name in source.files]
        self.root_files = [name for name, parts in paths if len(parts) == 1]
        self.channel_files = [
            name for name, parts in paths if len(parts) == 2 and parts[0].lower() == CHANNEL_FOLDER
        ] or None

    def where(self, name: str) -> str:
        """Return a file as the user would name it."""
        return self._source.where(name)

    def read(self, name: str, *, most: int) -> bytes:
        """Return the bytes of a file that has at most so many."""
        content = read_file_of(self._source, name, most=most)
        if isinstance(self._source, ArchiveSource):
            self._left -= len(content)
            if self._left < 0:
                raise too_large(str(self._source.path), LARGEST_EXTRACTED)
        return content


@contextmanager
def opened_test(path: Path) -> Iterator[tuple[IsoFolder, str]]:
    """Open the folder or zip file of a test."""
    if path.is_dir():
        yield IsoFolder(FolderSource(path, only=CHANNEL_FOLDER)), ""
    elif path.suffix.lower() == ".mme":
        first_bytes(path, 1)
        yield IsoFolder(FolderSource(path.parent, only=CHANNEL_FOLDER)), path.stem
    else:
        with opened_source(path) as source:
            if isinstance(source, ArchiveSource):
                source.enter(_folder_of_test(source))
            yield IsoFolder(source), ""


def is_test(path: Path) -> bool:
    """Say whether a path can be a test, from names and the first bytes alone.

    Parameters
    ----------
    path
        Any path.

    Returns
    -------
    bool
        True for a folder with an ``.mme`` file, such a file itself, and a zip file.
    """
    if path.is_dir():
        try:
            return any(_is_mme(entry.name) for entry in path.iterdir())
        except OSError as error:
            raise unreadable(path, error) from error
    if _is_mme(path.name):
        return path.is_file()
    return path.suffix.lower() == ".zip" and path.is_file() and first_bytes(path, 4) == _ZIP_START


def _folder_of_test(source: ArchiveSource) -> str:
    """Return the folder of the one test in a zip file, empty for the top."""
    found = [name for name in source.files if _is_mme(name) and not name.startswith("__MACOSX/")]
    if not found:
        raise FormatError(
            "the zip file holds no .mme file", where=source.label, remedy="zip the whole test folder"
        )
    if len(found) > 1:
        raise FormatError(
            f"the zip file holds {len(found)} .mme files",
            where=source.label,
            remedy="zip every test by itself",
        )
    return found[0].rpartition("/")[0]


def _is_mme(name: str) -> bool:
    return Path(name).suffix.lower() == ".mme"


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
