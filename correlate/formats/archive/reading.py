"""Read a recording, or one channel of it, from an HDF5 archive."""

from __future__ import annotations

import json
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from correlate.errors import ChannelError, FormatError
from correlate.files import first_bytes
from correlate.formats.archive.structure import (
    KIND,
    NAME,
    SAMPLE_TYPE,
    VERSION,
    hash_of_channel,
    hash_of_text,
    signal_from,
)
from correlate.formats.recording import Recording
from correlate.signal import Signal, Step

if TYPE_CHECKING:
    from collections.abc import Iterator

    import numpy as np
    from numpy.typing import NDArray

_SIGNATURE: Final = b"\x89HDF\r\n\x1a\n"
_MOST_GROWTH: Final = 1032
"""Deflated data grow by this factor at most: 258 bytes out of 2 bits (RFC 1951)."""
_DAMAGE: Final = (OSError, LookupError, ValueError, TypeError, RuntimeError, AttributeError, MemoryError)
"""What the library and the texts of a damaged file raise."""


def is_hdf5(path: Path) -> bool:
    """Say whether a path is an HDF5 file, by its first bytes.

    Parameters
    ----------
    path
        Any path.

    Returns
    -------
    bool
        True also for files of other programs, which the reader then refuses.
    """
    return path.is_file() and first_bytes(path, len(_SIGNATURE)) == _SIGNATURE


def read(path: str | Path) -> Recording:
    """Read an archive.

    Parameters
    ----------
    path
        The file.

    Returns
    -------
    Recording
        As it was written, with ``path`` and ``format`` of the archive. The signals keep their source; their
        history has one more step, ``read archive``, with the file and the hash of the channel.

    Raises
    ------
    FormatError
        The file cannot be opened, is damaged, was made by another program or by a newer version.
    """
    path = Path(path)
    with _opened(path) as file:
        words = _recording_words(file)
        texts = [_text(entry) for entry in file["channels"][:]]
        hashes = [_text(entry) for entry in file["sha256"][:]]
        tables: dict[int, NDArray[np.float64]] = {}
        signals = []
        for name, text, expected in zip(words["channels"], texts, hashes, strict=True):
            channel = _channel_words(text, name)
            length = channel["samples"]
            if length not in tables:
                tables[length] = _samples(file, path, length, slice(None))
            samples = tables[length][channel["row"]]
            _check_hash(text, samples, expected)
            signals.append(signal_from(channel, samples, _step(path, words, expected)))
    return Recording(
        signals=tuple(signals),
        path=path,
        format=NAME,
        title=words["title"],
        details=words["details"],
        channel_headers=words["channel_headers"],
        channel_list=words["channel_list"],
        warnings=tuple(words["warnings"]),
    )


def read_channel(path: str | Path, name: str) -> Signal:
    """Read one channel of an archive and nothing else.

    Parameters
    ----------
    path
        The file.
    name
        Of the channel, exactly as in the archive.

    Returns
    -------
    Signal
        As `read` gives it.

    Raises
    ------
    FormatError
        See `read`.
    ChannelError
        There is no such channel.
    """
    path = Path(path)
    with _opened(path) as file:
        words = _recording_words(file)
        names = words["channels"]
        if name not in names:
            listed = ", ".join(f"'{known}'" for known in names)
            raise ChannelError(
                f"there is no channel '{name}'", where=str(path), remedy=f"the file contains {listed}"
            )
        index = names.index(name)
        text = _text(file["channels"][index])
        expected = _text(file["sha256"][index])
        channel = _channel_words(text, name)
        samples = _samples(file, path, channel["samples"], channel["row"])
        _check_hash(text, samples, expected)
        return signal_from(channel, samples, _step(path, words, expected))


@contextmanager
def _opened(path: Path) -> Iterator[Any]:
    """Open an archive of a version we know, and turn every failure of reading it into one sentence."""
    import h5py  # noqa: PLC0415 - 0.1 s that only archives are worth

    first_bytes(path, 1)
    try:
        # Archives are replaced whole and never written to in place, so that there is nothing to lock.
        with h5py.File(path, "r", locking=False) as file:
            _check_kind(file, path)
            yield file
    except _DAMAGE as error:
        raise FormatError(
            "the archive is damaged or cut off",
            where=str(path),
            remedy="copy it again, or recreate it from the original files",
        ) from error


def _check_kind(file: Any, path: Path) -> None:
    kind = file.attrs.get("kind")
    if not isinstance(kind, bytes) or kind.decode("latin-1") != KIND:
        raise FormatError(
            "this HDF5 file is not an archive of signals",
            where=str(path),
            remedy="export it as text or ISO/TS 13499, or install a format that reads it",
        )
    version = int(file.attrs["version"])
    if version > VERSION:
        raise FormatError(
            f"the archive has version {version} and this program reads up to {VERSION}",
            where=str(path),
            remedy="update the program, or recreate the archive with this one",
        )


def _recording_words(file: Any) -> dict[str, Any]:
    text = _text(file["recording"][0])
    if hash_of_text(text) != _text(file.attrs["sha256"]):
        raise ValueError("the hash of the recording differs")
    words: dict[str, Any] = json.loads(text)
    return words


def _channel_words(text: str, name: str) -> dict[str, Any]:
    words: dict[str, Any] = json.loads(text)
    if words["channel"] != name:
        raise ValueError("a channel is out of place")
    return words


def _samples(file: Any, path: Path, length: int, rows: slice | int) -> NDArray[np.float64]:
    """Return rows of samples, shape ``(length,)`` or ``(rows, length)``, read-only."""
    table = file[f"samples/{length}"]
    if table.dtype != SAMPLE_TYPE or table.shape[1:] != (length,):
        raise ValueError("the samples have another shape")
    if table.nbytes > _MOST_GROWTH * path.stat().st_size:
        raise ValueError("the samples cannot all be in the file")
    samples: NDArray[np.float64] = table[rows]
    samples.flags.writeable = False
    return samples


def _check_hash(text: str, samples: NDArray[np.float64], expected: str) -> None:
    if hash_of_channel(text, samples) != expected:
        raise ValueError("the hash of a channel differs")


def _step(path: Path, recording: dict[str, Any], sha256: str) -> Step:
    settings = {
        "file": str(path),
        "sha256": sha256,
        "version": VERSION,
        "recording": recording["path"],
        "recording_format": recording["format"],
    }
    return Step("read archive", settings)


def _text(entry: Any) -> str:
    return bytes(entry).decode("ascii")
