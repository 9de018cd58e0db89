"""The files of a test, in its folder or in a zip file. Nothing is ever extracted to disk."""

from __future__ import annotations

from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING, Final

from correlate.errors import FormatError
from correlate.files import (
    ArchiveSource,
    FolderSource,
    first_bytes,
    opened_source,
    read_file_of,
    too_large,
    unreadable,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

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

    Parameters
    ----------
    source
        Folder or zip file of the test.

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
    """Open the folder or zip file of a test.

    Parameters
    ----------
    path
        The test folder, its ``.mme`` file or a zip file.

    Yields
    ------
    files : IsoFolder
    stem : str
        Name of the test when the ``.mme`` file was named, else empty.

    Raises
    ------
    FormatError
        It cannot be opened, or is a zip file that no reader should trust.
    """
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
