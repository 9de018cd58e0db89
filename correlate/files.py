"""Files: opened for reading, written whole or not at all, locked, and read from a folder or a zip file."""

from __future__ import annotations

import errno
import json
import os
import stat
import tempfile
import zipfile
import zlib
from contextlib import contextmanager, suppress
from itertools import pairwise
from pathlib import Path, PurePosixPath
from typing import IO, TYPE_CHECKING, Any, BinaryIO, Final, Protocol

from filelock import lock_descriptor

from correlate.addresses import SCHEMES
from correlate.errors import FormatError
from correlate.limits import MOST_FILES, MOST_UNPACKED, current_limits
from correlate.plain_files import OddFileError, open_plain
from correlate.temporary import remove_abandoned, temporary_file, temporary_folder

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import Self

FIRST_LOOK: Final = 65_536
"""Bytes at the start of a file that decide what it is."""

DAMAGE: Final = (
    zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, ValueError, UnicodeError,
)  # fmt: skip
"""What the zip library raises on files that are no sound zip files."""
_ZIP_START: Final = b"PK\x03\x04"
_LOCAL_HEADER: Final = 30
_DO_NOT_USE: Final = "do not use it; ask for a new one"


# Reading ----------------------------------------------------------------------------------------------


@contextmanager
def opened(path: Path) -> Iterator[BinaryIO]:
    """Open a file for reading; every refusal of the system becomes a `FormatError` of one sentence."""
    try:
        with open_plain(path) as stream:
            yield stream
    except OSError as error:
        raise unreadable(path, error) from error


def first_bytes(path: Path, count: int = FIRST_LOOK) -> bytes:
    """Return at most so many bytes from the start of a file."""
    with opened(path) as stream:
        return stream.read(count)


def files_of(path: Path) -> list[Path]:
    """Return the files below a folder, sorted; a file alone."""
    return [one for one in sorted(path.rglob("*")) if one.is_file()] if path.is_dir() else [path]


def last_bytes(path: Path, count: int) -> bytes:
    """Return at most so many bytes from the end of a file."""
    with opened(path) as stream:
        stream.seek(max(0, stream.seek(0, 2) - count))
        return stream.read(count)


def unreadable(path: Path, error: OSError) -> FormatError:
    """Return the sentence for a file that the system does not let us read."""
    if isinstance(error, FileNotFoundError):
        return absent(path)
    if isinstance(error, PermissionError):
        return FormatError(
            "there is no permission to read the file",
            where=str(path),
            remedy="ask its owner for read permission",
        )
    if isinstance(error, OddFileError):
        return FormatError(str(error.strerror), where=str(path), remedy="name a plain file")
    if isinstance(error, IsADirectoryError):
        return FormatError("this is a folder, not a file", where=str(path), remedy="name the file in it")
    if error.errno in _ODD_PATH:
        return FormatError(f"this is no usable path ({error.strerror})", where=str(path), remedy="correct it")
    said = error.strerror or type(error).__name__
    return FormatError(f"this cannot be read ({said})", where=str(path), remedy="check the storage device")


def absent(path: Path) -> FormatError:
    """Return the sentence for a file that is not there, or is an address where only paths are read."""
    if path.parts and path.parts[0] in {f"{scheme}:" for scheme in SCHEMES}:
        return FormatError(
            "this is an address in object storage, and only a campaign file may name one",
            where=str(path),
            remedy="name it under 'tests' or as 'folder' of a release, or copy the objects into a folder",
        )
    return FormatError("there is no such file", where=str(path), remedy="check the path")


_ODD_PATH: Final = {errno.ENAMETOOLONG, errno.ENOTDIR, errno.ELOOP, errno.EINVAL}


def unusable(error: OSError) -> FormatError:
    """Return the sentence for a file that the system refuses, whatever was to be done with it.

    A full disk is found out while bytes are written, when the system no longer says into which file.
    """
    path = Path("output" if error.filename is None else os.fsdecode(error.filename))
    return unwritable(path, error) if is_no_room(error) else unreadable(path, error)


# Writing ----------------------------------------------------------------------------------------------


@contextmanager
def whole_file(path: Path) -> Iterator[BinaryIO]:
    """Open a file for writing that replaces the target only once it is complete."""
    refuse_unprintable(path)
    try:
        with temporary_file(path) as (beside, stream):
            yield stream
            stream.flush()
            os.fsync(stream.fileno())
            stream.close()
            with suppress(FileNotFoundError):
                beside.chmod(stat.S_IMODE(path.stat().st_mode))
            beside.replace(path)
    except OSError as error:
        raise unwritable(path, error) from error


def write_bytes(path: Path, content: bytes) -> None:
    """Write a file whole or not at all, as :func:`whole_file` does."""
    with whole_file(path) as stream:
        stream.write(content)


def write_text(path: Path, text: str) -> None:
    """Write a text as UTF-8 with plain line feeds, whole or not at all."""
    write_bytes(path, text.encode("utf-8"))


def write_json(path: Path, content: Any) -> None:
    """Write a value as JSON for people to read, whole or not at all."""
    write_text(path, json.dumps(content, indent=1, ensure_ascii=False) + "\n")


@contextmanager
def whole_folder(path: Path) -> Iterator[Path]:
    """Create a folder that appears under its name only once it is complete."""
    refuse_unprintable(path)
    remove_abandoned(path.parent)
    try:
        if path.is_dir() and not any(path.iterdir()):
            path.rmdir()
        if path.exists():
            raise FormatError("this already exists", where=str(path), remedy="choose another name")
        with temporary_folder(path) as beside:
            yield beside
            beside.replace(path)
    except OSError as error:
        raise unwritable(path, error) from error


def is_no_room(error: OSError) -> bool:
    """Tell whether an error says that a disk takes nothing more: it is full or read-only."""
    return error.errno in _REMEDY_OF


def unwritable(path: Path, error: OSError) -> FormatError:
    """Return the sentence for a file that the system does not let us write."""
    said = error.strerror or type(error).__name__
    remedy = _REMEDY_OF.get(error.errno or 0, "choose a folder that exists and that you may write to")
    return FormatError(f"this cannot be written ({said})", where=str(path), remedy=remedy)


_FREE_SPACE: Final = "free some space, then try again; existing files are unchanged"
_REMEDY_OF: Final = {
    errno.ENOSPC: _FREE_SPACE,
    errno.EDQUOT: _FREE_SPACE,
    errno.EFBIG: "choose a disk that takes files of this size",
    errno.EROFS: "choose a folder on a disk that is not read-only",
}


def refuse_unprintable(path: Path) -> None:
    """Refuse to give a new file or folder a name that nobody can read."""
    if not (path.name.isprintable() and path.name.strip()):
        raise FormatError(
            "the name holds characters that cannot be printed", where=str(path), remedy="choose another name"
        )


def may_write(path: str | Path) -> bool:
    """Tell whether an existing file or folder may be written, without changing it.

    Parameters
    ----------
    path
        File or folder.

    Returns
    -------
    bool
        By the present rights of this program; on Windows determined by opening it.
    """
    if os.name == "posix":
        # A program may run with the rights of another account than the one that started it.
        return os.access(path, os.W_OK, effective_ids=os.access in os.supports_effective_ids)
    return _lets_write(Path(path))


def _lets_write(path: Path) -> bool:
    """Find out by trying, as on Windows, whose answer to the question says nothing of permissions."""
    try:
        if path.is_dir():
            with tempfile.TemporaryFile(dir=path):
                return True
        with path.open("r+b"):
            return True
    except OSError:
        return False


# Locks ------------------------------------------------------------------------------------------------


class Lock:
    """A locked file; the lock ends with the process that holds it, however it ends.

    Child processes that inherit the descriptor hold the lock, too (not on Windows).
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.descriptor = _open_lock(path)
        if not lock_descriptor(self.descriptor, blocking=False):
            os.close(self.descriptor)
            raise BlockingIOError

    def write(self, text: str) -> None:
        """Replace what stands in the file, so that others can read who holds it."""
        try:
            os.ftruncate(self.descriptor, 0)
            os.lseek(self.descriptor, 0, os.SEEK_SET)
            os.write(self.descriptor, text.encode())
        except OSError as error:
            raise unwritable(self.path, error) from error

    def __enter__(self) -> Self:
        """Return the lock, which is held already."""
        return self

    def __exit__(self, *_: object) -> None:
        """Release it."""
        os.close(self.descriptor)


@contextmanager
def turn(folder: Path) -> Iterator[None]:
    """Wait until nobody else changes the files of a folder through this function, and keep others waiting."""
    # Windows opens no folders.
    posix = os.name == "posix"
    descriptor = os.open(folder, os.O_RDONLY) if posix else _open_lock(folder / ".lock")
    try:
        lock_descriptor(descriptor)
        yield
    finally:
        os.close(descriptor)


def _open_lock(path: Path) -> int:
    return os.open(path, os.O_RDWR | os.O_CREAT, 0o644)


# Folder or zip file -----------------------------------------------------------------------------------


class FileSource(Protocol):
    """Files to read from, in a folder or a zip file; nothing is extracted to disk.

    Attributes
    ----------
    label
        As the user named it.
    files
        Size in bytes of every file by its path inside, with forward slashes.
    names
        The same paths as they are stored.
    odd
        Paths of links, devices and the like. Links to files and folders are followed, the rest left out.
    """

    label: str
    files: dict[str, int]
    odd: list[str]

    @property
    def names(self) -> list[str]:
        """Paths as they are stored."""
        ...

    def where(self, name: str) -> str:
        """Return a file as the user would name it."""
        ...

    def open(self, name: str) -> IO[bytes]:
        """Open a file for reading."""
        ...


@contextmanager
def opened_source(path: Path, *, most_bytes: int = MOST_UNPACKED) -> Iterator[FolderSource | ArchiveSource]:
    """Open a folder or a zip file."""
    if path.is_dir():
        yield FolderSource(path)
        return
    with opened(path) as stream:
        is_zip = stream.read(len(_ZIP_START)) == _ZIP_START
        try:
            archive = zipfile.ZipFile(stream)
        except DAMAGE as error:
            if is_zip:
                raise damaged(str(path)) from error
            raise FormatError(
                "this is neither a folder nor a valid zip file",
                where=str(path),
                remedy="copy it or ask for it again",
            ) from error
        with archive:
            yield ArchiveSource(archive, path, most_bytes)


def read_file_of(source: FileSource, name: str, *, most: int) -> bytes:
    """Return the bytes of a file that has at most so many."""
    size, where = source.files[name], source.where(name)
    if size > most:
        raise too_large(where, most)
    try:
        with source.open(name) as stream:
            content = stream.read(size + 1)
    except DAMAGE as error:
        raise damaged(where) from error
    if len(content) != size:
        raise FormatError("the file changed while it was read", where=where, remedy="try again")
    return content


def refuse_odd(source: FileSource) -> None:
    """Refuse a folder that holds links, devices or anything else but files and folders."""
    if source.odd:
        raise FormatError(
            f"'{source.odd[0]}' is a link or a device, not a file", where=source.label, remedy=_DO_NOT_USE
        )


def too_large(where: str, most: int) -> FormatError:
    """Return the sentence for a file that is larger than any of its kind."""
    return FormatError(
        f"this is larger than {most // 2**20} MiB", where=where, remedy="check that it is the file you mean"
    )


def damaged(where: str) -> FormatError:
    """Return the sentence for a zip file, or an entry of one, that cannot be read."""
    return FormatError("the zip file is damaged", where=where, remedy="copy or pack it again")


class FolderSource:
    """A folder with everything below it."""

    def __init__(self, path: Path, *, only: str = "") -> None:
        self.label = str(path)
        self.path = path
        self.files: dict[str, int] = {}
        self.odd: list[str] = []
        self._only = only
        try:
            self._list(path, PurePosixPath(), {path.resolve()})
        except OSError as error:
            raise unreadable(path, error) from error

    @property
    def names(self) -> list[str]:
        """Paths as they are stored."""
        return list(self.files)

    def _list(self, folder: Path, within: PurePosixPath, above: set[Path]) -> None:
        """List a folder; one that encloses it, reached by a link, is not listed again."""
        with os.scandir(folder) as entries:
            for entry in sorted(entries, key=lambda item: item.name):
                name = within / entry.name
                if entry.is_symlink() or not (entry.is_dir() or entry.is_file()):
                    self.odd.append(str(name))
                if entry.is_dir():
                    inside = Path(entry.path).resolve()
                    if inside not in above and (not self._only or entry.name.lower() == self._only):
                        self._list(Path(entry.path), name, above | {inside})
                elif entry.is_file():
                    self.files[str(name)] = entry.stat().st_size
                    _check_count(len(self.files), self.label)

    def where(self, name: str) -> str:
        """Return a file as the user would name it."""
        return str(self.path / name)

    def open(self, name: str) -> IO[bytes]:
        """Open a file for reading; a link put there after the folder was listed is not followed."""
        follow = any(name == link or name.startswith(f"{link}/") for link in self.odd)
        flags = os.O_RDONLY | getattr(os, "O_BINARY", 0) | (0 if follow else getattr(os, "O_NOFOLLOW", 0))
        try:
            return os.fdopen(os.open(self.path / name, flags), "rb")
        except OSError as error:
            raise unreadable(self.path / name, error) from error


class ArchiveSource:
    """A zip file."""

    def __init__(self, archive: zipfile.ZipFile, path: Path, most_bytes: int) -> None:
        self.label = str(path)
        self.odd: list[str] = []
        self.path = path
        self._archive = archive
        entries = archive.infolist()
        _check_count(len(entries), self.label)
        for entry in entries:
            self._check_entry(entry)
        self._check_sizes(entries, path.stat().st_size, most_bytes)
        files = [entry for entry in entries if not entry.filename.endswith("/")]
        self._stored = [entry.orig_filename for entry in files]
        self._entries: dict[str, zipfile.ZipInfo] = {}
        for entry in files:
            self._add(entry)
        self.files = {name: entry.file_size for name, entry in self._entries.items()}

    @property
    def names(self) -> list[str]:
        """Paths as they are stored."""
        return self._stored

    def enter(self, folder: str) -> None:
        """Go on with one folder of the zip file: paths are from there, all others are left out."""
        root = f"{folder}/" if folder else ""
        self._entries = {
            name.removeprefix(root): entry for name, entry in self._entries.items() if name.startswith(root)
        }
        self.files = {name: entry.file_size for name, entry in self._entries.items()}
        self.label = f"{self.path}:{folder}" if folder else str(self.path)

    def where(self, name: str) -> str:
        """Return a file as the user would name it: the zip file, a colon, the path in it."""
        return f"{self.path}:{self._entries[name].filename}" if name in self._entries else str(self.path)

    def open(self, name: str) -> IO[bytes]:
        """Open a file for reading."""
        try:
            return self._archive.open(self._entries[name])
        except DAMAGE as error:
            raise damaged(self.where(name)) from error

    def _add(self, entry: zipfile.ZipInfo) -> None:
        name = str(_path_inside(entry.filename))
        if name in self._entries:
            raise self._refused(f"the zip file contains '{entry.filename}' twice")
        self._entries[name] = entry

    def _refused(self, what: str) -> FormatError:
        return FormatError(what, where=self.label, remedy=_DO_NOT_USE)

    def _check_entry(self, entry: zipfile.ZipInfo) -> None:
        name = entry.filename
        mode = entry.external_attr >> 16
        inside = _path_inside(name)
        if ".." in inside.parts or inside.is_absolute() or ":" in name.partition("/")[0]:
            raise self._refused(f"the zip file contains '{name}', which leads out of its folder")
        if "\0" in entry.orig_filename:
            raise self._refused(f"'{entry.orig_filename!r}' is not allowed as a name")
        if mode and stat.S_IFMT(mode) not in {0, stat.S_IFREG, stat.S_IFDIR}:
            raise self._refused(f"'{name}' is a link or a device, not a file")
        if entry.flag_bits & 0x1:
            raise FormatError(
                "the zip file is encrypted",
                where=f"{self.path}:{name}",
                remedy="pack it again without a password",
            )
        if entry.compress_type not in {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}:
            raise self._refused(f"'{name}' is compressed in an unusual way")

    def _check_sizes(self, entries: list[zipfile.ZipInfo], packed: int, most_bytes: int) -> None:
        total, limits = sum(entry.file_size for entry in entries), current_limits()
        if total > most_bytes:
            raise self._refused(f"it extracts to {total} bytes, more than the {most_bytes} allowed")
        limits.refuse_unpacked(total, self.label)
        limits.refuse_growth(total, packed, self.label)
        by_offset = sorted(entries, key=lambda entry: entry.header_offset)
        for entry, after in pairwise(by_offset):
            end = entry.header_offset + _LOCAL_HEADER + len(entry.filename) + entry.compress_size
            if end > after.header_offset:
                raise self._refused(f"'{entry.filename}' and '{after.filename}' overlap")


def _path_inside(name: str) -> PurePosixPath:
    """Return a path in a zip file; some packers write backslashes."""
    return PurePosixPath(name.replace("\\", "/"))


def _check_count(count: int, label: str) -> None:
    if count > MOST_FILES:
        raise FormatError(f"it holds more than {MOST_FILES} files", where=label, remedy=_DO_NOT_USE)
