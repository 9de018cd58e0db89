"""Access to a test in a folder or in a zip file. Nothing is ever unpacked to disk."""

from __future__ import annotations

import os
import re
import zipfile
import zlib
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Final, Protocol

from correlate.errors import FormatError
from correlate.formats.text_file import first_bytes, opened, unreadable

if TYPE_CHECKING:
    from collections.abc import Iterator

LARGEST_HEADER_FILE: Final = 2**20
"""Most bytes of a description or a list of channels."""
LARGEST_CHANNEL_FILE: Final = 2**28
"""Most bytes of one channel file: some 25 million samples."""
LARGEST_UNPACKED: Final = 2**31
"""Most bytes that the channel files of one zip file may unpack to."""

CHANNEL_FOLDER: Final = "channel"
_ZIP_START: Final = b"PK\x03\x04"
_DAMAGE: Final = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError)


class Place(Protocol):
    """What the reader needs of a folder or a zip file.

    Attributes
    ----------
    label
        The test folder as the user would name it.
    root_files
        Names of the files in the test folder.
    channel_files
        Names of the files in its channel folder; None when there is no such folder.
    """

    label: str
    root_files: list[str]
    channel_files: list[str] | None

    def where(self, name: str) -> str:
        """Return a file as the user would name it."""
        ...

    def read(self, name: str, *, most: int) -> bytes:
        """Return the bytes of a file that has at most so many."""
        ...


@contextmanager
def test_place(path: Path) -> Iterator[tuple[Place, str]]:
    """Open the folder or zip file of a test.

    Parameters
    ----------
    path
        The test folder, its ``.mme`` file or a zip file.

    Yields
    ------
    place : Place
    stem : str
        Name of the test when the ``.mme`` file was named, else empty.

    Raises
    ------
    FormatError
        It cannot be opened, or is a zip file that no reader should trust.
    """
    if path.is_dir():
        yield FolderPlace(path), ""
    elif path.suffix.lower() == ".mme":
        first_bytes(path, 1)
        yield FolderPlace(path.parent), path.stem
    else:
        with opened(path) as stream:
            try:
                archive = zipfile.ZipFile(stream)
            except _DAMAGE as error:
                raise _damaged(str(path)) from error
            with archive:
                yield ZipPlace(archive, str(path)), ""


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
        return any(_is_mme(entry.name) for entry in _entries(path))
    if _is_mme(path.name):
        return path.is_file()
    return path.suffix.lower() == ".zip" and path.is_file() and first_bytes(path, 4) == _ZIP_START


class FolderPlace:
    """A test folder on disk.

    Parameters
    ----------
    root
        The folder.
    """

    def __init__(self, root: Path) -> None:
        self.label = str(root)
        self._root = root
        entries = sorted(_entries(root))
        self.root_files = [entry.name for entry in entries if entry.is_file()]
        folders = [entry for entry in entries if entry.name.lower() == CHANNEL_FOLDER and entry.is_dir()]
        self.channel_files = (
            [f"{folder.name}/{entry.name}" for folder in folders for entry in sorted(_entries(folder))]
            if folders
            else None
        )

    def where(self, name: str) -> str:
        """Return a file as the user would name it."""
        return str(self._root / name)

    def read(self, name: str, *, most: int) -> bytes:
        """Return the bytes of a file that has at most so many."""
        path = self._root / name
        with opened(path) as stream:
            if os.fstat(stream.fileno()).st_size > most:
                raise _too_large(str(path), most)
            return stream.read()


@dataclass(slots=True)
class _Budget:
    """Bytes that may still be unpacked."""

    left: int = LARGEST_UNPACKED


class ZipPlace:
    """A test folder inside a zip file.

    Parameters
    ----------
    archive
        Open for reading.
    path
        For messages.
    """

    def __init__(self, archive: zipfile.ZipFile, path: str) -> None:
        self._archive = archive
        self._path = path
        self._budget = _Budget(LARGEST_UNPACKED)
        names = [entry.filename for entry in archive.infolist() if not entry.filename.endswith("/")]
        for name in names:
            _check_member(name, path)
        root = self._only_root(names)
        self.label = path if root == PurePosixPath() else f"{path}:{root}"
        self._members: dict[str, zipfile.ZipInfo] = {}
        for entry in archive.infolist():
            member = _member_path(entry.filename)
            if not entry.filename.endswith("/") and member.is_relative_to(root):
                self._add(str(member.relative_to(root)), entry)
        self.root_files = [name for name in self._members if "/" not in name]
        inside = [name for name in self._members if re.match(rf"(?i){CHANNEL_FOLDER}/[^/]+$", name)]
        self.channel_files = inside or None

    def where(self, name: str) -> str:
        """Return a file as the user would name it: the zip file, a colon, the path in it."""
        return f"{self._path}:{self._members[name].filename}" if name in self._members else self._path

    def read(self, name: str, *, most: int) -> bytes:
        """Return the unpacked bytes of a file that has at most so many."""
        member = self._members[name]
        if member.file_size > most:
            raise _too_large(self.where(name), most)
        self._budget.left -= member.file_size
        if self._budget.left < 0:
            raise _too_large(self._path, LARGEST_UNPACKED)
        if member.flag_bits & 1:
            raise FormatError(
                "the zip file is encrypted", where=self.where(name), remedy="pack it again without a password"
            )
        try:
            return self._archive.read(member)
        except _DAMAGE as error:
            raise _damaged(self.where(name)) from error

    def _only_root(self, names: list[str]) -> PurePosixPath:
        """Return the folder of the one test in the zip file."""
        found = [_member_path(name) for name in names if _is_mme(name) and not name.startswith("__MACOSX/")]
        if not found:
            raise FormatError(
                "the zip file contains no .mme file", where=self._path, remedy="zip the whole test folder"
            )
        if len(found) > 1:
            raise FormatError(
                f"the zip file contains {len(found)} .mme files",
                where=self._path,
                remedy="zip every test separately",
            )
        return found[0].parent

    def _add(self, name: str, entry: zipfile.ZipInfo) -> None:
        if name in self._members:
            raise FormatError(
                f"the zip file contains '{entry.filename}' twice",
                where=self._path,
                remedy="zip the folder again",
            )
        self._members[name] = entry


def _check_member(name: str, path: str) -> None:
    """Refuse a path that leads out of the folder: whoever made it meant harm."""
    path_in_zip = _member_path(name)
    if ".." in path_in_zip.parts or path_in_zip.is_absolute() or ":" in name.partition("/")[0]:
        raise FormatError(
            f"the zip file contains '{name}', which leads out of its folder",
            where=path,
            remedy="do not use it; ask for a new one",
        )


def _member_path(name: str) -> PurePosixPath:
    """Return a path in a zip file; some packers write backslashes."""
    return PurePosixPath(name.replace("\\", "/"))


def _entries(folder: Path) -> list[Path]:
    try:
        return list(folder.iterdir())
    except OSError as error:
        raise unreadable(folder, error) from error


def _is_mme(name: str) -> bool:
    return Path(name).suffix.lower() == ".mme"


def _too_large(where: str, most: int) -> FormatError:
    return FormatError(
        f"this is larger than {most // 2**20} MiB", where=where, remedy="check that it is the file you mean"
    )


def _damaged(where: str) -> FormatError:
    return FormatError("the zip file is damaged", where=where, remedy="copy or pack it again")
