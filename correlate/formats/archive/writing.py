"""Write a recording into an HDF5 archive."""

from __future__ import annotations

import io
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import FormatError
from correlate.files import whole_file
from correlate.formats.archive.structure import (
    KIND,
    SAMPLE_TYPE,
    VERSION,
    channel_text,
    hash_of_channel,
    hash_of_text,
    recording_text,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from correlate.formats.recording import Recording
    from correlate.signal import Signal

_COMPRESSION: Final = 4
"""Level of gzip; more takes longer and saves little."""
_LIBRARY: Final = ("v110", "v110")
"""Oldest release of the library that reads the file; the first whose metadata are all checksummed."""


def write(recording: Recording, path: str | Path) -> None:
    """Write a recording into an archive.

    Parameters
    ----------
    recording
        Kept whole: signals with their history, details, header lines and warnings.
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
