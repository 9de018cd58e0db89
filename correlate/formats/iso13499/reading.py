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
    EXPLICIT,
    LIST_ENTRY,
    NAME,
    Header,
    RawChannel,
    parsed_header,
    plain_line_ends,
    raw_channel,
    signal_of,
)
from correlate.formats.number_text import plain_number
from correlate.formats.recording import Recording, SetAside, refuse_unusable, told_apart
from correlate.formats.text import decoded, shortened, text_lines
from correlate.limits import (
    LARGEST_CHANNEL_FILE,
    LARGEST_EXTRACTED,
    LARGEST_HEADER_FILE,
    SAMPLE_BYTES,
    count_recording,
    current_limits,
)
from correlate.signal import Signal

if TYPE_CHECKING:
    from collections.abc import Container, Iterator, Mapping


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
        Names of the files in its channel folder, or beside the description where the list of channels lies
        there; None when there are none.
    is_zip
        Whether they are in a zip file.
    """

    def __init__(self, source: FolderSource | ArchiveSource) -> None:
        self._source = source
        self._left = LARGEST_EXTRACTED
        self._claimed = 0
        self.label = source.label
        paths = [(name, PurePosixPath(name).parts) for name in source.files]
        self.root_files = [name for name, parts in paths if len(parts) == 1]
        inside = [name for name, parts in paths if len(parts) == 2 and parts[0].lower() == CHANNEL_FOLDER]
        beside = any(PurePosixPath(name).suffix.lower() == ".chn" for name in self.root_files)
        self.channel_files = inside or (self.root_files if beside else None)
        self.is_zip = isinstance(source, ArchiveSource)

    def where(self, name: str) -> str:
        """Return a file as the user would name it."""
        return self._source.where(name)

    def claim(self, lines: int, name: str) -> None:
        """Compare what the lines of a channel file will take in memory with the limits, before it is read."""
        limits, where = current_limits(), self.where(name)
        limits.refuse_samples(lines, where)
        self._claimed += lines
        limits.refuse_bytes(self._claimed * SAMPLE_BYTES, where)
        count_recording(lines * SAMPLE_BYTES, where)

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
            "the zip file contains no .mme file", where=source.label, remedy="zip the whole test folder"
        )
    if len(found) > 1:
        raise FormatError(
            f"the zip file contains {len(found)} .mme files",
            where=source.label,
            remedy="zip every test separately",
        )
    return found[0].rpartition("/")[0]


def _is_mme(name: str) -> bool:
    return Path(name).suffix.lower() == ".mme"


_ENTRY_KEY: Final = re.compile(rf"{LIST_ENTRY}\s*(\d+)")
_COUNT: Final = "Number of channels"


@dataclass(frozen=True, slots=True)
class _Listed:
    """One entry of the list of channels; `fault` says why its file cannot be read."""

    key: str
    number: int
    code: str
    name: str
    file: str
    fault: CorrelateError | None


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
        ``.chn`` file, ``set_aside`` the channels whose file is missing or wrong.

    Raises
    ------
    FormatError
        There is no description or no list of channels.
    CorrelateError
        No channel can be used: the error of the first.
    """
    path = Path(path)
    with opened_test(path) as (test, stem):
        mme = _one_file(test.root_files, ".mme", stem, test)
        details = _header(test, mme)
        listing, listed, warnings = _listing(test, PurePosixPath(mme).stem)
        read_files = [_raw(test, entry) for entry in listed]
    raw = [one for one in read_files if isinstance(one, RawChannel)]
    found = [*read_files, *_signals(raw, {one.code for one in listed})]
    signals = tuple(one for one in found if isinstance(one, Signal))
    aside = {one.name: one for one in found if isinstance(one, SetAside)}
    set_aside = tuple(aside[entry.name] for entry in listed if entry.name in aside)
    refuse_unusable(set_aside, len(signals))
    if not details.values:
        warnings.append(f"{details.file}: the test description is empty")
    more = [warning for channel in raw if channel.name not in aside for warning in channel.warnings]
    return Recording(
        signals=signals,
        path=path,
        format=NAME,
        title=details.text("Title"),
        details=details.values,
        channel_headers={one.name: one.header.values for one in raw if one.name not in aside},
        channel_list=listing.values,
        warnings=(*details.odd, *listing.odd, *warnings, *more),
        set_aside=set_aside,
    )


def _header(test: IsoFolder, name: str) -> Header:
    text = decoded(plain_line_ends(test.read(name, most=LARGEST_HEADER_FILE)))
    header = parsed_header(text_lines(text), file=test.where(name))
    if header.odd and not header.values:
        raise FormatError(
            "no line is of the form 'key : value'", where=header.file, remedy="copy the test folder again"
        )
    return header


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
    listed = _entries(listing, files)
    if not listed:
        raise FormatError("no channel is listed", where=listing.file, remedy="copy the test folder again")
    warnings = [
        f"{listing.where(entry.key)}: the code '{entry.code}' occurs again, and this channel is called "
        f"'{entry.name}'; correct one of the codes"
        for entry in listed
        if entry.code and entry.name != entry.code
    ]
    declared = listing.text(_COUNT)
    if declared and plain_number(declared) != len(listed):
        warnings.append(
            f"{listing.where(_COUNT)}: {shortened(declared)} channels are declared and {len(listed)} are "
            "listed; correct the list"
        )
    unlisted = [name for number, name in files.items() if number not in {entry.number for entry in listed}]
    warnings += [f"{test.where(name)}: the channel is not in the list and was not read" for name in unlisted]
    return listing, listed, warnings


def _numbered_files(names: list[str], stem: str) -> dict[int, str]:
    """Return the channel files by their number."""
    found: dict[int, str] = {}
    for name in names:
        path = PurePosixPath(name)
        if path.stem.lower() == stem.lower() and re.fullmatch(r"\.[0-9]+", path.suffix):
            found[int(path.suffix[1:])] = name
    return found


def _entries(listing: Header, files: dict[int, str]) -> list[_Listed]:
    """Return the entries of the list of channels, with what is wrong with them."""
    rows = [
        (key, int(match[1]), text.partition("/")[0].strip())
        for key in listing.values
        if (match := _ENTRY_KEY.fullmatch(key))
        for text in listing.values[key].split("\n")
    ]
    keys: dict[int, str] = {}
    entries = []
    for row, told in zip(rows, told_apart(code for _, _, code in rows), strict=True):
        key, number, code = row
        fault = _fault_of_entry(listing.where(key), row, keys.get(number), files)
        keys.setdefault(number, key)
        name = told if code else f"channel {number:03d}"
        entries.append(_Listed(key, number, code, name, files.get(number, ""), fault))
    return entries


def _fault_of_entry(
    where: str, row: tuple[str, int, str], before: str | None, files: Container[int]
) -> CorrelateError | None:
    """Return why the file of an entry cannot be read, if it cannot."""
    key, number, code = row
    try:
        ChannelCode(code)
    except ChannelError as error:
        return error.located(where)
    if before is not None:
        what = f"'{before}' and '{key}' have the same number {number}"
        return ChannelError(
            f"'{key}' is given twice" if before == key else what, where=where, remedy="correct the list"
        )
    if number not in files:
        return FormatError(
            f"channel {number:03d} '{code}' is listed but its file is missing",
            where=where,
            remedy=f"copy the file that ends in .{number:03d}, or take the line out",
        )
    return None


def _raw(test: IsoFolder, entry: _Listed) -> RawChannel | SetAside:
    """Read one channel file."""
    if entry.fault is not None:
        return SetAside(entry.name, entry.fault)
    try:
        data = test.read(entry.file, most=LARGEST_CHANNEL_FILE)
        test.claim(data.count(b"\n") or data.count(b"\r"), entry.file)
    except CorrelateError as error:
        # A damaged zip file is damaged as a whole, and one that extracts to too much is not read on.
        if test.is_zip:
            raise
        return SetAside(entry.name, error)
    digest = hashlib.sha256(data).hexdigest()
    try:
        return raw_channel(data, file=test.where(entry.file), sha256=digest, code=entry.code, name=entry.name)
    except CorrelateError as error:
        return SetAside(entry.name, error)


def _signals(raw: list[RawChannel], listed: set[str]) -> list[Signal | SetAside]:
    """Return the channels with their times, without those that only give times."""
    by_name = {channel.header.text("Name of the channel"): channel for channel in reversed(raw)}
    by_name |= {channel.code: channel for channel in reversed(raw)}
    by_name.pop("", None)
    clocks = [channel for channel in raw if channel.is_clock]
    if len(clocks) == 1:
        by_name[EXPLICIT] = clocks[0]
    times = {channel.name: _times_of(channel, by_name) for channel in raw}
    only_times = {one.name for one in times.values() if isinstance(one, RawChannel)}
    return [
        _signal(channel, times[channel.name], listed) for channel in raw if channel.name not in only_times
    ]


def _times_of(channel: RawChannel, by_name: Mapping[str, RawChannel]) -> RawChannel | str:
    """Return the channel that gives the times, or its name where it cannot be used; empty for none."""
    named = EXPLICIT if channel.has_no_times and EXPLICIT in by_name else channel.time_channel
    found = by_name.get(named, named)
    return "" if found is channel else found


def _signal(channel: RawChannel, times: RawChannel | str, listed: set[str]) -> Signal | SetAside:
    try:
        if isinstance(times, str) and times:
            raise _no_times(channel, times, listed)
        return signal_of(channel, times or None)
    except CorrelateError as error:
        return SetAside(channel.name, error)


def _no_times(channel: RawChannel, named: str, listed: set[str]) -> FormatError:
    where = channel.header.where("Reference channel")
    if named == EXPLICIT:
        what = "the time channel is not named"
        return FormatError(what, where=where, remedy="write the line 'Reference channel name : …'")
    state = "cannot be used" if named in listed else "is not in the test"
    return FormatError(
        f"the times should be in channel '{shortened(named)}', which {state}",
        where=where,
        remedy="correct that channel" if named in listed else "add that channel to the list",
    )
