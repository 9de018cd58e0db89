"""How much a file may contain before it is read: samples, bytes in memory, growth of compressed data.

What a file declares is compared with these limits before memory is allocated for it, so that a small file
that unpacks to a very large one is refused and does not end the program.
"""

from __future__ import annotations

import os
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.errors import FormatError, SettingsError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

MEGABYTE: Final = 10**6
MOST_SAMPLES: Final = 100_000_000
"""Of one channel: more than an hour at 20 kHz, the usual rate of impact tests."""
MOST_MEGABYTES: Final = 4_000
"""Of one recording in memory: 128 channels of an hour at 1 kHz have 3,686."""
MOST_GROWTH: Final = 100
"""A file whose content is larger by more than this factor …"""
HARMLESS_BYTES: Final = 2**26
"""… and larger than this is refused. Recordings of noise and pulses shrink to a tenth, not to a hundredth."""

MOST_UNPACKED: Final = 2**40
"""Most bytes that a zip file may unpack to on the disk, outside uploads and unless the caller says less."""
MOST_RESULTS: Final = 2**33
"""Most bytes that the results of a release may unpack to, unless the caller says less."""
MOST_FILES: Final = 200_000
"""Most files of a folder or zip file that is read as one."""
LARGEST_HEADER_FILE: Final = 2**20
"""Most bytes of a description or a list of channels of ISO/TS 13499."""
LARGEST_CHANNEL_FILE: Final = 2**28
"""Most bytes of one channel file of ISO/TS 13499: some 25 million samples."""
LARGEST_EXTRACTED: Final = 2**31
"""Most bytes that the channel files of one zip file of ISO/TS 13499 may extract to."""
LARGEST_SETTINGS: Final = 2**22
"""Most bytes of a file of settings or notes (TOML, JSON, short tables): 4 MiB."""
LARGEST_RECORD: Final = 2**28
"""Most bytes of a file that the program itself wrote for later: 256 MiB."""

MOST_CACHED_MEGABYTES: Final = 2_000
"""Of conditioned curves in the cache folder of a user: some 2,000 tests of 80 channels of 1,500 samples."""

MOST_COPIED_MEGABYTES: Final = 20_000
"""Of copies of objects in the cache folder of a user."""

SAMPLES_VARIABLE: Final = "CORRELATE_MOST_SAMPLES"
MEGABYTES_VARIABLE: Final = "CORRELATE_MOST_MB"
GROWTH_VARIABLE: Final = "CORRELATE_MOST_GROWTH"
CACHE_VARIABLE: Final = "CORRELATE_MOST_CACHE_MB"
COPIES_VARIABLE: Final = "CORRELATE_MOST_COPIES_MB"
"""Variables of the environment that replace the limits above, for commands and whole servers."""

SAMPLE_BYTES: Final = 8
"""A float64."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Limits on the content of a recording.

    Attributes
    ----------
    samples
        Of one channel.
    bytes
        Of one recording in memory; in an upload, of all recordings together.
    unpacked
        Bytes that a zip file may unpack to.
    growth
        Factor by which more than `HARMLESS_BYTES` may exceed the size of their file.
    samples_setting, bytes_setting, growth_setting
        How to raise each, as the remedy of a refusal.
    """

    samples: int = MOST_SAMPLES
    bytes: int = MOST_MEGABYTES * MEGABYTE
    unpacked: int = MOST_UNPACKED
    growth: int = MOST_GROWTH
    samples_setting: str = f"set {SAMPLES_VARIABLE}"
    bytes_setting: str = f"set {MEGABYTES_VARIABLE}"
    growth_setting: str = f"set {GROWTH_VARIABLE}"

    @classmethod
    def of_environment(cls, environment: Mapping[str, str] = os.environ) -> Limits:
        """Return the limits that apply outside uploads.

        Raises
        ------
        SettingsError
            A variable is not a whole number above zero.
        """
        return cls(
            samples=_whole(environment, SAMPLES_VARIABLE, MOST_SAMPLES),
            bytes=_whole(environment, MEGABYTES_VARIABLE, MOST_MEGABYTES) * MEGABYTE,
            growth=_whole(environment, GROWTH_VARIABLE, MOST_GROWTH),
        )

    def refuse_samples(self, count: int, where: str) -> None:
        """Refuse a channel that declares too many samples.

        Raises
        ------
        FormatError
            It does.
        """
        if count > self.samples:
            raise FormatError(
                f"a channel has at least {count:,} samples, but at most {self.samples:,} are allowed",
                where=where,
                remedy=f"check that it is the file you mean, or {self.samples_setting} to allow more",
            )

    def refuse_bytes(self, size: int, where: str) -> None:
        """Refuse content that would take too much memory.

        Raises
        ------
        FormatError
            It would.
        """
        if size > self.bytes:
            raise FormatError(
                f"it takes at least {_megabytes(size)} of memory, "
                f"but at most {_megabytes(self.bytes)} are allowed",
                where=where,
                remedy=f"check that it is the file you mean, or {self.bytes_setting} to allow more",
            )

    def refuse_fetched(self, size: int, where: str) -> None:
        """Refuse objects that are larger than one recording may be.

        Raises
        ------
        FormatError
            The objects are too large.
        """
        if size > self.bytes:
            raise FormatError(
                f"it has {_megabytes(size)}, but at most {_megabytes(self.bytes)} are fetched",
                where=where,
                remedy=f"check that it is the object you mean, or {self.bytes_setting} to allow more",
            )

    def refuse_unpacked(self, size: int, where: str) -> None:
        """Refuse a zip file that would take too much of the disk.

        Raises
        ------
        FormatError
            It would.
        """
        if size > self.unpacked:
            raise FormatError(
                f"it unpacks to {_megabytes(size)}, but at most {_megabytes(self.unpacked)} are allowed",
                where=where,
                remedy=f"check that it is the file you mean, or {self.bytes_setting} to allow more",
            )

    def refuse_table(self, rows: int, columns: int, where: str) -> None:
        """Refuse a table of numbers that has too many rows or takes too much memory.

        Raises
        ------
        FormatError
            It has or does.
        """
        self.refuse_samples(rows, where)
        self.refuse_bytes(rows * columns * SAMPLE_BYTES, where)

    def refuse_growth(self, size: int, packed: int, where: str) -> None:
        """Refuse compressed content that unpacks to many times the size of its file.

        Raises
        ------
        FormatError
            It does.
        """
        if size > HARMLESS_BYTES and size > self.growth * packed:
            raise FormatError(
                f"it unpacks to {_megabytes(size)}, {size // max(packed, 1):,} times its size, and at most "
                f"{self.growth} times is allowed",
                where=where,
                remedy=f"ask for a new file, or {self.growth_setting} to allow more if you trust it",
            )


class _Upload:
    """Limits of one upload, and what has been read of it."""

    def __init__(self, limits: Limits) -> None:
        self.limits = limits
        self.read = 0


_UPLOAD: ContextVar[_Upload | None] = ContextVar("correlate-upload", default=None)


def most_cached_megabytes() -> int:
    """Return how many megabytes of conditioned curves are kept.

    Raises
    ------
    SettingsError
        The variable is not a whole number above zero.
    """
    return _whole(os.environ, CACHE_VARIABLE, MOST_CACHED_MEGABYTES)


def most_copied_bytes() -> int:
    """Return how many bytes the copies of objects may take.

    Raises
    ------
    SettingsError
        The variable is not a whole number above zero.
    """
    return _whole(os.environ, COPIES_VARIABLE, MOST_COPIED_MEGABYTES) * MEGABYTE


def current_limits() -> Limits:
    """Return the limits of the upload that is being read; otherwise those of the environment."""
    upload = _UPLOAD.get()
    return Limits.of_environment() if upload is None else upload.limits


@contextmanager
def limited(limits: Limits) -> Iterator[None]:
    """Apply limits to everything that the block reads, all recordings together."""
    token = _UPLOAD.set(_Upload(limits))
    try:
        yield
    finally:
        _UPLOAD.reset(token)


def count_recording(size: int, where: str) -> None:
    """Add a recording to what has been read of the present upload, if there is one.

    Raises
    ------
    FormatError
        Together they take too much memory.
    """
    upload = _UPLOAD.get()
    if upload is not None:
        upload.read += size
        upload.limits.refuse_bytes(upload.read, where)


def _whole(environment: Mapping[str, str], name: str, usual: int) -> int:
    text = environment.get(name, "")
    if not text:
        return usual
    if not (text.isascii() and text.isdigit() and len(text) < 16 and int(text) > 0):
        raise SettingsError(
            f"'{text[:40]}' is not a whole number above zero",
            where=name,
            remedy=f"write one such as {usual}, or remove the variable",
        )
    return int(text)


def _megabytes(size: int) -> str:
    return f"{-(-size // MEGABYTE):,} MB"
