"""The structure of an archive, and the texts stored with the samples.

The root has the attributes ``kind``, ``version`` and ``sha256``, the text ``recording``, and the lists
``channels`` and ``sha256`` with an entry for each channel. All texts but the hashes are JSON. The samples of
the channels with N samples are ``samples/N``, shape ``(channels, N)``, little-endian float64, a chunk each
row. The hash of a channel is that of its text followed by its samples, the hash of the root that of the text
``recording``.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.errors import FormatError
from correlate.signal import Signal, Source, Step

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.formats.recording import Recording

NAME: Final = "HDF5 archive"
KIND: Final = "correlate signal archive"
VERSION: Final = 1
"""Raised when an older reader would misunderstand the file."""
SAMPLE_TYPE: Final = np.dtype("<f8")


def recording_text(recording: Recording) -> str:
    """Return everything about a recording but its signals.

    Parameters
    ----------
    recording
        The recording.

    Returns
    -------
    str
    """
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
        }
    )


def channel_text(signal: Signal, row: int) -> str:
    """Return everything about a signal but its samples.

    Parameters
    ----------
    signal
        The signal.
    row
        Where its samples stand among those of channels with as many.

    Returns
    -------
    str

    Raises
    ------
    FormatError
        A step of its history has a setting that is no number, text, list or mapping of these.
    """
    try:
        history = [[step.name, _kept(step.settings)] for step in signal.history]
    except TypeError as error:
        raise FormatError(
            f"a step in its history contains {error}, which an archive cannot store",
            where=f"channel '{signal.channel}'",
            remedy="use numbers, texts and lists as settings",
        ) from error
    return json.dumps(
        {
            "channel": signal.channel,
            "unit": signal.unit,
            "start_s": signal.start_s,
            "step_s": signal.step_s,
            "samples": len(signal),
            "row": row,
            "source": {"file": signal.source.file, "sha256": signal.source.sha256},
            "history": history,
        }
    )


def signal_from(words: Mapping[str, Any], samples: NDArray[np.float64], step: Step) -> Signal:
    """Return the signal that a text of an archive describes.

    Parameters
    ----------
    words
        The content of the text.
    samples
        Shape ``(n,)``.
    step
        Put at the end of its history.

    Returns
    -------
    Signal
    """
    return Signal(
        samples=samples,
        start_s=words["start_s"],
        step_s=words["step_s"],
        unit=words["unit"],
        channel=words["channel"],
        source=Source(words["source"]["file"], words["source"]["sha256"]),
        history=(*(Step(name, _restored(kept)) for name, kept in words["history"]), step),
    )


def hash_of_channel(text: str, samples: NDArray[np.float64]) -> str:
    """Return the hash of a channel.

    Parameters
    ----------
    text
        From `channel_text`.
    samples
        Shape ``(n,)``.

    Returns
    -------
    str
        64 hexadecimal characters.
    """
    digest = hashlib.sha256(text.encode())
    digest.update(np.ascontiguousarray(samples, dtype=SAMPLE_TYPE).data)
    return digest.hexdigest()


def hash_of_text(text: str) -> str:
    """Return the hash of a text.

    Parameters
    ----------
    text
        ASCII.

    Returns
    -------
    str
        64 hexadecimal characters.
    """
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
