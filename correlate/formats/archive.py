"""The signal archive: one HDF5 file a test, a data set a channel."""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.errors import ChannelError, CorrelateError, FormatError, NoNumberError, SignalError, UnitError
from correlate.files import first_bytes, whole_file
from correlate.formats.hdf5_content import declared_bytes, own_attribute, own_dataset, rows_of
from correlate.formats.recording import Format, Recording, SetAside
from correlate.limits import count_recording, current_limits
from correlate.signal import Signal, Source, Step

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from numpy.typing import NDArray


NAME: Final = "HDF5 archive"
KIND: Final = "correlate signal archive"
VERSION: Final = 1
"""Raised when an older reader would misunderstand the file."""
SAMPLE_TYPE: Final = np.dtype("<f8")


def recording_text(recording: Recording) -> str:
    """Return everything about a recording but its signals."""
    return json.dumps(
        {
            "path": str(recording.path),
            "format": recording.format,
            "title": recording.title,
            "channels": recording.channel_names,
            "details": dict(recording.details),
            "channel_headers": {name: dict(lines) for name, lines in recording.channel_headers.items()},
            "channel_list": dict(recording.channel_list),
            "warnings": recording.warnings,
            "set_aside": [
                [one.name, type(one.error).__name__, one.error.what, one.error.where, one.error.remedy]
                for one in recording.set_aside
            ],
        }
    )


_ERRORS: Final = {kind.__name__: kind for kind in (ChannelError, UnitError, SignalError, NoNumberError)}


def set_aside_from(words: Mapping[str, Any]) -> tuple[SetAside, ...]:
    """Return the channels that a text of an archive names as set aside; older archives name none."""
    found: list[SetAside] = []
    for name, kind, what, where, remedy in words.get("set_aside", ()):
        error: CorrelateError = _ERRORS.get(kind, FormatError)(what, where=where, remedy=remedy)
        found.append(SetAside(name, error))
    return tuple(found)


def channel_text(signal: Signal, row: int) -> str:
    """Return everything about a signal but its samples."""
    try:
        words = signal_words(signal)
    except TypeError as error:
        raise FormatError(
            f"a step in its history contains {error}, which an archive cannot store",
            where=f"channel '{signal.channel}'",
            remedy="use numbers, texts and lists as settings",
        ) from error
    return json.dumps(words | {"samples": len(signal), "row": row})


def signal_words(signal: Signal) -> dict[str, Any]:
    """Return everything about a signal except its samples, as plain values for JSON.

    Raises
    ------
    TypeError
        A setting of a step has a type that JSON cannot restore.
    """
    return {
        "channel": signal.channel,
        "unit": signal.unit,
        "start_s": signal.start_s,
        "step_s": signal.step_s,
        "source": {"file": signal.source.file, "sha256": signal.source.sha256},
        "history": [[step.name, _kept(step.settings)] for step in signal.history],
    }


def signal_from(words: Mapping[str, Any], samples: NDArray[np.float64], *steps: Step) -> Signal:
    """Return the signal that :func:`signal_words` described, with further steps in its history."""
    return Signal(
        samples=samples,
        start_s=words["start_s"],
        step_s=words["step_s"],
        unit=words["unit"],
        channel=words["channel"],
        source=Source(words["source"]["file"], words["source"]["sha256"]),
        history=(*(Step(name, _restored(kept)) for name, kept in words["history"]), *steps),
    )


def hash_of_channel(text: str, samples: NDArray[np.float64]) -> str:
    """Return the hash of a channel."""
    digest = hashlib.sha256(text.encode())
    digest.update(np.ascontiguousarray(samples, dtype=SAMPLE_TYPE).data)
    return digest.hexdigest()


def hash_of_text(text: str) -> str:
    """Return the hash of a text."""
    return hashlib.sha256(text.encode()).hexdigest()


def _kept(value: Any) -> Any:
    """Return a value as JSON knows it, so that `_restored` gives an equal one of the same kind."""
    if isinstance(value, np.generic):
        value = value.item()
    if value is None or isinstance(value, bool | int | float | str):
        return value
    if isinstance(value, list):
        return [_kept(entry) for entry in value]
    if isinstance(value, tuple):
        return {"tuple": [_kept(entry) for entry in value]}
    if isinstance(value, Mapping) and all(isinstance(key, str) for key in value):
        return {"mapping": {key: _kept(entry) for key, entry in value.items()}}
    raise TypeError(f"a value of type '{type(value).__name__}'")


def _restored(kept: Any) -> Any:
    if isinstance(kept, list):
        return [_restored(entry) for entry in kept]
    if not isinstance(kept, dict):
        return kept
    [(kind, content)] = kept.items()
    if kind == "tuple":
        return tuple(_restored(entry) for entry in content)
    return {key: _restored(entry) for key, entry in content.items()}


_SIGNATURE: Final = b"\x89HDF\r\n\x1a\n"
_DAMAGE: Final = (OSError, LookupError, ValueError, TypeError, RuntimeError, AttributeError, MemoryError)
"""What the library and the texts of a damaged file raise."""


def is_hdf5(path: Path) -> bool:
    """Say whether a path is an HDF5 file, by its first bytes."""
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
        The file cannot be opened, is damaged, was made by another program or by a newer version, refers to
        data outside itself, or declares more than the limits allow.
    """
    path = Path(path)
    with _opened(path) as content:
        words = content.recording_words()
        texts = content.texts("channels")
        hashes = content.texts("sha256")
        channels = [_channel_words(text, name) for text, name in zip(texts, words["channels"], strict=True)]
        tables = content.tables({channel["samples"] for channel in channels})
        signals = []
        for channel, text, expected in zip(channels, texts, hashes, strict=True):
            samples = tables[channel["samples"]][channel["row"]]
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
        set_aside=set_aside_from(words),
    )


def read_channel(path: str | Path, name: str) -> Signal:
    """Read one channel of an archive and nothing else."""
    path = Path(path)
    with _opened(path) as content:
        words = content.recording_words()
        names = words["channels"]
        if name not in names:
            for one in set_aside_from(words):
                if one.name == name:
                    raise one.error
            listed = ", ".join(f"'{known}'" for known in names)
            raise ChannelError(
                f"there is no channel '{name}'", where=str(path), remedy=f"the file contains {listed}"
            )
        index = names.index(name)
        text, expected = content.text("channels", index), content.text("sha256", index)
        channel = _channel_words(text, name)
        samples = content.row(channel["samples"], channel["row"])
        _check_hash(text, samples, expected)
        return signal_from(channel, samples, _step(path, words, expected))


@contextmanager
def _opened(path: Path) -> Iterator[_Content]:
    """Open an archive of a version we know, and turn every failure of reading it into one sentence."""
    import h5py  # noqa: PLC0415 - 0.1 s that only archives are worth

    first_bytes(path, 1)
    try:
        # Archives are replaced whole and never written to in place, so that there is nothing to lock.
        with h5py.File(path, "r", locking=False) as file:
            _check_kind(file, path)
            yield _Content(file, path)
    except _DAMAGE as error:
        raise FormatError(
            "the archive is damaged or cut off",
            where=str(path),
            remedy="copy it again, or recreate it from the original files",
        ) from error


def _check_kind(file: Any, path: Path) -> None:
    kind = None
    with suppress(FormatError):
        kind = own_attribute(file, "kind", str(path))
    if not isinstance(kind, bytes) or kind.decode("latin-1") != KIND:
        raise FormatError(
            "this HDF5 file is not an archive of signals",
            where=str(path),
            remedy="export it as text or ISO/TS 13499, or install a format that reads it",
        )
    version = int(own_attribute(file, "version", str(path)))
    if version > VERSION:
        raise FormatError(
            f"the archive has version {version} and this program reads up to {VERSION}",
            where=str(path),
            remedy="update the program, or recreate the archive with this one",
        )


TEXT_MEMORY: Final = 20
"""Bytes that a byte of JSON can become in memory: three of them make an empty list in a list."""


class _Content:
    """Texts and samples of an open archive, each compared with the limits before it is read."""

    def __init__(self, file: Any, path: Path) -> None:
        self._file, self._path = file, path
        self._size = path.stat().st_size
        self._limits = current_limits()
        self._claimed = 0

    def recording_words(self) -> dict[str, Any]:
        """Return everything about the recording but its signals."""
        text = self.text("recording", 0)
        if hash_of_text(text) != _text(own_attribute(self._file, "sha256", str(self._path))):
            raise ValueError("the hash of the recording differs")
        words: dict[str, Any] = json.loads(text)
        return words

    def texts(self, name: str) -> list[str]:
        """Return all texts of a data set."""
        table = self._dataset(name)
        self._claim(TEXT_MEMORY * declared_bytes(table))
        return [_text(entry) for entry in rows_of(table, 0, table.shape[0])]

    def text(self, name: str, index: int) -> str:
        """Return one text of a data set."""
        table = self._dataset(name)
        self._claim(TEXT_MEMORY * declared_bytes(table))
        return _text(rows_of(table, index, index + 1)[0])

    def tables(self, lengths: Iterable[int]) -> dict[int, NDArray[np.float64]]:
        """Return the samples of the channels of each length, shape ``(rows, length)``, read-only."""
        found = {length: self._samples(length) for length in lengths}
        for table in found.values():
            self._claim(declared_bytes(table))
        count_recording(self._claimed, str(self._path))
        return {length: _read_only(rows_of(table, 0, table.shape[0])) for length, table in found.items()}

    def row(self, length: int, row: int) -> NDArray[np.float64]:
        """Return the samples of one channel, shape ``(length,)``, read-only."""
        table = self._samples(length)
        self._claim(declared_bytes(table) // max(table.shape[0], 1))
        count_recording(self._claimed, str(self._path))
        return _read_only(rows_of(table, row, row + 1)[0])

    def _samples(self, length: int) -> Any:
        self._limits.refuse_samples(length, str(self._path))
        table = self._dataset(f"samples/{length}")
        if table.dtype != SAMPLE_TYPE or table.shape[1:] != (length,):
            raise ValueError("the samples have another shape")
        return table

    def _dataset(self, name: str) -> Any:
        return own_dataset(self._file, name, str(self._path))

    def _claim(self, size: int) -> None:
        self._claimed += size
        self._limits.refuse_bytes(self._claimed, str(self._path))
        self._limits.refuse_growth(self._claimed, self._size, str(self._path))


def _channel_words(text: str, name: str) -> dict[str, Any]:
    words: dict[str, Any] = json.loads(text)
    if words["channel"] != name or type(words["samples"]) is not int or type(words["row"]) is not int:
        raise ValueError("a channel is out of place")
    return words


def _read_only(samples: NDArray[np.float64]) -> NDArray[np.float64]:
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


_COMPRESSION: Final = 4
"""Level of gzip; more takes longer and saves little."""
_LIBRARY: Final = ("v110", "v110")
"""Oldest release of the library that reads the file; the first whose metadata are all checksummed."""


def write(recording: Recording, path: str | Path) -> None:
    """Write a recording into an archive.

    Parameters
    ----------
    recording
        Kept whole: signals with their history, details, header lines, warnings, and why channels are set
        aside.
    path
        The file. An older one is replaced, once the new one is complete.

    Raises
    ------
    FormatError
        There is no signal, a history holds what cannot be kept, or the file cannot be written.
    """
    path = Path(path)
    if not recording.signals:
        raise FormatError("there is no channel to write", where=str(path), remedy="give at least one signal")
    by_length: dict[int, list[Signal]] = {}
    for signal in recording.signals:
        by_length.setdefault(len(signal), []).append(signal)
    try:
        channels = _channel_texts(recording.signals, by_length)
    except FormatError as error:
        raise error.located(str(path)) from error
    content = _content(recording, channels, by_length)
    with whole_file(path) as stream:
        stream.write(content.getbuffer())


def _channel_texts(signals: Sequence[Signal], by_length: dict[int, list[Signal]]) -> list[str]:
    rows = {signal.channel: row for alike in by_length.values() for row, signal in enumerate(alike)}
    return [channel_text(signal, rows[signal.channel]) for signal in signals]


def _content(recording: Recording, channels: list[str], by_length: dict[int, list[Signal]]) -> io.BytesIO:
    """Return the bytes of the file."""
    import h5py  # noqa: PLC0415 - 0.1 s that only archives are worth

    text = recording_text(recording)
    hashes = [
        hash_of_channel(words, signal.samples)
        for words, signal in zip(channels, recording.signals, strict=True)
    ]
    content = io.BytesIO()
    with h5py.File(content, "w", libver=_LIBRARY) as file:
        file.attrs.update(
            {"kind": np.bytes_(KIND), "version": VERSION, "sha256": np.bytes_(hash_of_text(text))}
        )
        # Texts of fixed length: those of free length lie in the one part of a file that has no checksum, and
        # a damaged one can keep the library reading for ever.
        file.create_dataset("recording", data=_fixed([text]), compression="gzip")
        file.create_dataset("channels", data=_fixed(channels), compression="gzip")
        file.create_dataset("sha256", data=_fixed(hashes))
        for length, signals in by_length.items():
            samples = file.create_dataset(
                f"samples/{length}",
                shape=(len(signals), length),
                dtype=SAMPLE_TYPE,
                chunks=(1, length),
                shuffle=True,
                compression="gzip",
                compression_opts=_COMPRESSION,
            )
            for row, signal in enumerate(signals):
                samples[row] = signal.samples
    return content


def _fixed(texts: Sequence[str]) -> NDArray[np.bytes_]:
    return np.array([text.encode("ascii") for text in texts])


FORMAT = Format(NAME, "everything a recording holds, compressed, for quick re-use", is_hdf5, read, write)

__all__ = ["FORMAT", "read", "read_channel", "write"]
