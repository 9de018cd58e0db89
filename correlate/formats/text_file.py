"""Text on disk: encodings, how a file is opened, and atomic writing."""

from __future__ import annotations

import os
import shutil
import uuid
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, BinaryIO, Final

from correlate.errors import FormatError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

FIRST_LOOK: Final = 65_536
"""Bytes at the start of a file that decide what it is."""

_CONTROL_BYTES: Final = bytes(set(range(32)) - {9, 10, 12, 13} | {127})


def decoded(data: bytes) -> str:
    """Return the text of bytes in UTF-8, with or without byte order mark, or else in ISO 8859-1.

    Parameters
    ----------
    data
        Any bytes.

    Returns
    -------
    str
    """
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def encoded(text: str) -> bytes:
    """Return a text in ISO 8859-1 where `decoded` gives it back unchanged, else in UTF-8.

    Parameters
    ----------
    text
        Any text.

    Returns
    -------
    bytes
    """
    try:
        plain = text.encode("latin-1")
    except UnicodeEncodeError:
        return text.encode("utf-8")
    return plain if decoded(plain) == text else text.encode("utf-8")


def shortened(text: str, longest: int = 40) -> str:
    """Return a text on one line that is short enough to quote.

    Parameters
    ----------
    text
        Any text.
    longest
        Number of characters kept.

    Returns
    -------
    str
    """
    printable = "".join(mark if mark.isprintable() else "·" for mark in text.strip())
    return printable if len(printable) <= longest else printable[:longest] + "…"


def text_lines(text: str) -> list[str]:
    r"""Return the lines of a text, which end at a line feed with or without a carriage return.

    Other characters that may end a line in Unicode are kept: they are letters' parts in other encodings.

    Parameters
    ----------
    text
        Any text.

    Returns
    -------
    list of str
        Without line ends; a line feed at the very end starts no further line.

    Examples
    --------
    >>> text_lines("Title : a\r\nType : b\n")
    ['Title : a', 'Type : b']
    """
    lines = [line.removesuffix("\r") for line in text.split("\n")]
    return lines[:-1] if not lines[-1] else lines


def looks_like_text(data: bytes) -> bool:
    """Say whether the first bytes of a file can be text: not empty and without control characters.

    Parameters
    ----------
    data
        The first bytes.

    Returns
    -------
    bool
    """
    return bool(data) and len(data.translate(None, _CONTROL_BYTES)) == len(data)


def first_bytes(path: Path, count: int = FIRST_LOOK) -> bytes:
    """Return the first bytes of a file.

    Parameters
    ----------
    path
        The file.
    count
        How many at most.

    Returns
    -------
    bytes

    Raises
    ------
    FormatError
        The file cannot be opened or read.
    """
    with opened(path) as stream:
        return stream.read(count)


@contextmanager
def opened(path: Path) -> Iterator[BinaryIO]:
    """Open a file for reading and turn every refusal of the system into one sentence.

    Parameters
    ----------
    path
        The file.

    Yields
    ------
    BinaryIO

    Raises
    ------
    FormatError
        The file is missing, a folder, unreadable or on a broken medium.
    """
    try:
        with path.open("rb") as stream:
            yield stream
    except OSError as error:
        raise unreadable(path, error) from error


def unreadable(path: Path, error: OSError) -> FormatError:
    """Return the sentence for a file that the system does not let us read.

    Parameters
    ----------
    path
        The file or folder.
    error
        What the system said.

    Returns
    -------
    FormatError
    """
    if isinstance(error, FileNotFoundError):
        return FormatError("there is no such file", where=str(path), remedy="check the path")
    if isinstance(error, PermissionError):
        return FormatError(
            "there is no permission to read the file",
            where=str(path),
            remedy="ask its owner for read permission",
        )
    if isinstance(error, IsADirectoryError):
        return FormatError("this is a folder, not a file", where=str(path), remedy="name the file in it")
    said = error.strerror or type(error).__name__
    return FormatError(f"this cannot be read ({said})", where=str(path), remedy="check the storage device")


@contextmanager
def whole_file(path: Path) -> Iterator[BinaryIO]:
    """Open a file for writing that replaces the target only once it is complete.

    Parameters
    ----------
    path
        Where the file shall be. An older file of that name is replaced.

    Yields
    ------
    BinaryIO
        A temporary file beside the target; removed when anything fails.

    Raises
    ------
    FormatError
        The system does not let us write there.
    """
    beside = _beside(path)
    try:
        with beside.open("xb") as stream:
            yield stream
            stream.flush()
            os.fsync(stream.fileno())
        beside.replace(path)
    except OSError as error:
        raise _unwritable(path, error) from error
    finally:
        with suppress(OSError):
            beside.unlink(missing_ok=True)


@contextmanager
def whole_folder(path: Path) -> Iterator[Path]:
    """Make a folder that appears under its name only once it is complete.

    Parameters
    ----------
    path
        Where the folder shall be. Nothing but an empty folder may be there.

    Yields
    ------
    Path
        A temporary folder beside the target; removed when anything fails.

    Raises
    ------
    FormatError
        The target exists, or the system does not let us write there.
    """
    beside = _beside(path)
    try:
        if path.is_dir() and not any(path.iterdir()):
            path.rmdir()
        if path.exists():
            raise FormatError("this already exists", where=str(path), remedy="choose another name")
        beside.mkdir(parents=True)
        yield beside
        beside.replace(path)
    except OSError as error:
        raise _unwritable(path, error) from error
    finally:
        shutil.rmtree(beside, ignore_errors=True)


def _beside(path: Path) -> Path:
    return path.with_name(f".{path.name}.{uuid.uuid4().hex[:12]}.part")


def _unwritable(path: Path, error: OSError) -> FormatError:
    said = error.strerror or type(error).__name__
    return FormatError(f"this cannot be written ({said})", where=str(path), remedy="choose another folder")
