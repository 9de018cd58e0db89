"""Access to a bag in a folder or in a zip file. Names are checked before anything is read."""

from __future__ import annotations

import os
import stat
import zipfile
import zlib
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path, PurePosixPath
from typing import IO, TYPE_CHECKING, Final, Protocol

from correlate.errors import FormatError
from correlate.formats.text_file import opened, unreadable
from correlate.reference.package.names import check_names

if TYPE_CHECKING:
    from collections.abc import Iterator

MOST_FILES: Final = 200_000
"""Most files of a bag."""
MOST_BYTES: Final = 2**40
"""Most bytes that a zipped bag may hold, unless the caller says less."""
LARGEST_RATIO: Final = 100
"""A zip file that unpacks to more than so many times its size …"""
HARMLESS_BYTES: Final = 2**26
"""… and to more than so many bytes is refused."""
DAMAGE: Final = (
    zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, UnicodeError,
)  # fmt: skip
"""What the zip library raises on files that are no sound zip files."""
_LOCAL_HEADER: Final = 30


class Place(Protocol):
    """A bag to read from.

    Attributes
    ----------
    label
        As the user named it.
    files
        Size in bytes of every file by its path within the bag, with forward slashes.
    """

    label: str
    files: dict[str, int]

    def open(self, name: str) -> IO[bytes]:
        """Open a file for reading."""
        ...


@contextmanager
def bag_place(path: Path, *, most_bytes: int = MOST_BYTES) -> Iterator[Place]:
    """Open a bag.

    Parameters
    ----------
    path
        Folder or zip file.
    most_bytes
        Most bytes that a zip file may hold in all.

    Yields
    ------
    Place

    Raises
    ------
    FormatError
        It cannot be read, holds links or names that lead elsewhere, or is a zip file that no one should
        unpack.
    """
    if path.is_dir():
        yield FolderPlace(path)
        return
    with opened(path) as stream:
        try:
            archive = zipfile.ZipFile(stream)
        except DAMAGE as error:
            raise FormatError(
                "this is neither a folder nor a valid zip file",
                where=str(path),
                remedy="ask for the package again",
            ) from error
        with archive:
            yield ZipPlace(archive, path, most_bytes)


class FolderPlace:
    """A bag in a folder.

    Parameters
    ----------
    path
        The folder.

    Raises
    ------
    FormatError
        It holds a link or anything else that is neither file nor folder, or a name that is not allowed.
    """

    def __init__(self, path: Path) -> None:
        self.label = str(path)
        self.path = path
        self.files: dict[str, int] = {}
        try:
            self._list(path, PurePosixPath())
        except OSError as error:
            raise unreadable(path, error) from error
        check_names(list(self.files), self.label)

    def _list(self, folder: Path, within: PurePosixPath) -> None:
        with os.scandir(folder) as entries:
            for entry in sorted(entries, key=lambda item: item.name):
                name = within / entry.name
                kind = entry.stat(follow_symlinks=False)
                if stat.S_ISDIR(kind.st_mode):
                    self._list(Path(entry.path), name)
                elif stat.S_ISREG(kind.st_mode):
                    self.files[str(name)] = kind.st_size
                    _check_count(len(self.files), self.label)
                else:
                    raise FormatError(
                        f"'{name}' is a link or a device, not a file",
                        where=self.label,
                        remedy="do not use this package; ask for it again",
                    )

    def open(self, name: str) -> IO[bytes]:
        """Open a file for reading; a link put there meanwhile is not followed.

        Parameters
        ----------
        name
            One of `files`.

        Returns
        -------
        IO

        Raises
        ------
        FormatError
            It cannot be read.
        """
        try:
            handle = os.open(self.path / name, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0))
            return os.fdopen(handle, "rb")
        except OSError as error:
            raise unreadable(self.path / name, error) from error


class ZipPlace:
    """A bag in a zip file, usually below one folder of its own.

    Parameters
    ----------
    archive
        Opened.
    path
        For messages and the size.
    most_bytes
        Most bytes it may hold.

    Raises
    ------
    FormatError
        It holds links, names that are not allowed, encrypted or overlapping entries, or unpacks to
        suspiciously much.
    """

    def __init__(self, archive: zipfile.ZipFile, path: Path, most_bytes: int) -> None:
        self.label = str(path)
        self._archive = archive
        entries = archive.infolist()
        _check_count(len(entries), self.label)
        for entry in entries:
            self._check_entry(entry)
        self._check_sizes(entries, path.stat().st_size, most_bytes)
        files = {entry.filename: entry for entry in entries if not entry.is_dir()}
        if len(files) != sum(not entry.is_dir() for entry in entries):
            raise self._refused("a name occurs twice")
        check_names(list(files), self.label)
        root = _common_root(list(files))
        self._entries = {name.removeprefix(root): entry for name, entry in files.items()}
        self.files = {name: entry.file_size for name, entry in self._entries.items()}

    def open(self, name: str) -> IO[bytes]:
        """Open a file for reading.

        Parameters
        ----------
        name
            One of `files`.

        Returns
        -------
        IO

        Raises
        ------
        FormatError
            The entry is damaged.
        """
        try:
            return self._archive.open(self._entries[name])
        except DAMAGE as error:
            raise self._refused(f"'{name}' is damaged") from error

    def _refused(self, what: str) -> FormatError:
        return FormatError(what, where=self.label, remedy="do not use this package; ask for it again")

    def _check_entry(self, entry: zipfile.ZipInfo) -> None:
        mode = entry.external_attr >> 16
        if mode and stat.S_IFMT(mode) not in {0, stat.S_IFREG, stat.S_IFDIR}:
            raise self._refused(f"'{entry.filename}' is a link or a device, not a file")
        if entry.flag_bits & 0x1:
            raise self._refused(f"'{entry.filename}' is encrypted")
        if entry.compress_type not in {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}:
            raise self._refused(f"'{entry.filename}' is compressed in an unusual way")
        if "\\" in entry.orig_filename or "\0" in entry.orig_filename:
            raise self._refused(f"'{entry.orig_filename!r}' is not allowed as a name")

    def _check_sizes(self, entries: list[zipfile.ZipInfo], packed: int, most_bytes: int) -> None:
        total = sum(entry.file_size for entry in entries)
        if total > most_bytes:
            raise self._refused(f"it unpacks to {total} bytes, more than the {most_bytes} allowed")
        if total > HARMLESS_BYTES and total > LARGEST_RATIO * packed:
            raise self._refused(f"it unpacks to {total // max(packed, 1)} times its size")
        by_place = sorted(entries, key=lambda entry: entry.header_offset)
        for entry, after in pairwise(by_place):
            end = entry.header_offset + _LOCAL_HEADER + len(entry.filename) + entry.compress_size
            if end > after.header_offset:
                raise self._refused(f"'{entry.filename}' and '{after.filename}' overlap")


def _check_count(count: int, label: str) -> None:
    if count > MOST_FILES:
        raise FormatError(
            f"it holds more than {MOST_FILES} files", where=label, remedy="do not use this package"
        )


def _common_root(names: list[str]) -> str:
    """Return the one folder that holds everything, with its slash, or an empty text."""
    if "bagit.txt" in names:
        return ""
    roots = {name.split("/", 1)[0] for name in names if "/" in name}
    root = roots.pop() if len(roots) == 1 else ""
    return f"{root}/" if root and all(name.startswith(f"{root}/") for name in names) else ""
