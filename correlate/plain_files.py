"""Files of settings, notes and records: opened only if they are plain files, and read only if they are small.

A pipe blocks whoever opens it until somebody writes, a device such as ``/dev/zero`` never ends, and a damaged
or hostile file can have any size and any depth. All of that becomes an `OSError` or a `ValueError`, which
readers turn into their own sentence.
"""

from __future__ import annotations

import errno
import json
import os
import stat
import zipfile
import zlib
from typing import TYPE_CHECKING, Any, Final

from correlate.limits import LARGEST_RECORD, LARGEST_SETTINGS, MEGABYTE, MOST_MEGABYTES

if TYPE_CHECKING:
    from io import BufferedReader
    from pathlib import Path

    from numpy.typing import NDArray


class OddFileError(OSError):
    """A path that is no plain file, or a file that is larger than its kind allows."""


_FLAGS: Final = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
NO_FILE: Final = "this is a pipe or a device, not a file"


def open_plain(path: Path) -> BufferedReader:
    """Open a plain file for reading.

    Raises
    ------
    OddFileError
        It is a pipe, a socket or a device.
    OSError
        It is a folder, is absent, or may not be read.
    """
    # Not blocking, because a pipe would wait for somebody who writes into it.
    try:
        descriptor = os.open(path, _FLAGS)
    except ValueError as error:
        raise OSError(errno.EINVAL, "the name contains a NUL", str(path)) from error
    except OSError as error:
        # What opening a socket says.
        if error.errno == errno.ENXIO:
            raise OddFileError(errno.ENXIO, NO_FILE, str(path)) from error
        raise
    mode = os.fstat(descriptor).st_mode
    if stat.S_ISREG(mode):
        return os.fdopen(descriptor, "rb")
    os.close(descriptor)
    if stat.S_ISDIR(mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    raise OddFileError(errno.ENXIO, NO_FILE, str(path))


def whole_bytes(path: Path, *, most: int = LARGEST_SETTINGS) -> bytes:
    """Return the bytes of a file that has at most so many, also if it grows meanwhile.

    Raises
    ------
    OSError
        It cannot be read, is no plain file, or is larger.
    """
    with open_plain(path) as stream:
        content = b"" if os.fstat(stream.fileno()).st_size > most else stream.read(most + 1)
        if len(content) > most or os.fstat(stream.fileno()).st_size > most:
            raise OddFileError(errno.EFBIG, f"it is larger than {most // 2**20} MiB", str(path))
    return content


def whole_text(path: Path, *, encoding: str = "utf-8", most: int = LARGEST_SETTINGS) -> str:
    """Return the text of such a file, with plain line feeds.

    Raises
    ------
    OSError
        See `whole_bytes`.
    UnicodeDecodeError
        It is not text in this encoding.
    """
    text = whole_bytes(path, most=most).decode(encoding)
    return text.replace("\r\n", "\n").replace("\r", "\n")


def json_content(text: str | bytes) -> Any:
    """Return what a JSON text says.

    Raises
    ------
    ValueError
        It is not valid, or is nested too deeply.
    """
    try:
        return json.loads(text)
    except RecursionError as error:
        raise ValueError("its values are nested too deeply") from error


def read_json(path: Path, *, most: int = LARGEST_RECORD) -> Any:
    """Return what a JSON file says.

    Raises
    ------
    OSError
        See `whole_bytes`.
    ValueError
        It is not valid JSON in UTF-8.
    """
    return json_content(whole_text(path, most=most))


_DAMAGE: Final = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, KeyError)
"""What the libraries raise on files that are no sound files of arrays."""


def read_arrays(path: Path, *, most: int = MOST_MEGABYTES * MEGABYTE) -> dict[str, NDArray[Any]]:
    """Return the arrays of an ``.npz`` file; no other objects are read from it.

    Raises
    ------
    OSError
        See `open_plain`.
    ValueError
        It is damaged, or its arrays have more than ``most`` bytes together, as they stand in the file or as
        their headers say.
    """
    import numpy as np  # noqa: PLC0415 - this module is also used where nothing is computed

    try:
        with open_plain(path) as stream, zipfile.ZipFile(stream) as archive:
            entries = archive.infolist()
            if sum(entry.file_size for entry in entries) > most:
                raise ValueError("its arrays are too large")
            for entry in entries:
                _check_array(archive, entry)
            stream.seek(0)
            with np.load(stream, allow_pickle=False) as content:
                return {name: content[name] for name in content.files}
    except _DAMAGE as error:
        raise ValueError("it is damaged") from error


def _check_array(archive: zipfile.ZipFile, entry: zipfile.ZipInfo) -> None:
    """Refuse an array that its header says to be larger than its bytes, before memory is taken for it."""
    import numpy as np  # noqa: PLC0415

    with archive.open(entry) as stream:
        version = np.lib.format.read_magic(stream)
        first = version == (1, 0)
        read = np.lib.format.read_array_header_1_0 if first else np.lib.format.read_array_header_2_0
        shape, _, kind = read(stream)
    size = kind.itemsize
    for extent in shape:
        size *= extent
    if size > entry.file_size:
        raise ValueError("an array is not whole")
