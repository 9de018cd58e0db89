"""What was read before it becomes signals, and the lines it is read from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, BinaryIO, Final

from correlate.errors import FormatError
from correlate.files import FIRST_LOOK
from correlate.formats.text_file import decoded, looks_like_text

if TYPE_CHECKING:
    import hashlib
    from collections.abc import Iterator, Sequence

    import numpy as np
    from numpy.typing import NDArray

    from correlate.formats.columns.layout import Column

_BLOCK: Final = 2**20
_UTF_16: Final = (b"\xff\xfe", b"\xfe\xff")


@dataclass(frozen=True, slots=True)
class TimedRows:
    """Numbers by channel and output time.

    Attributes
    ----------
    times
        Shape ``(times,)``, in the unit of the layout.
    lines
        Line on which each of them stands, shape ``(times,)``.
    channels
        Name and column of each channel.
    samples
        Of each channel, shape ``(times,)``, contiguous, read-only.
    """

    times: NDArray[np.float64]
    lines: NDArray[np.int64]
    channels: tuple[tuple[str, Column], ...]
    samples: Sequence[NDArray[np.float64]]


def texts(stream: BinaryIO, digest: hashlib._Hash, file: str) -> Iterator[tuple[int, str]]:
    """Yield the file as pieces of whole lines, so that a bad line stops the reading where it stands.

    Parameters
    ----------
    stream
        The file.
    digest
        Is given every byte.
    file
        For messages.

    Yields
    ------
    number : int
        Of the first line of the piece.
    text : str

    Raises
    ------
    FormatError
        The file is empty, is no text, or a line is longer than a piece.
    """
    waiting = stream.read(FIRST_LOOK)
    digest.update(waiting)
    _check_is_text(waiting, file)
    number = 1
    while more := stream.read(_BLOCK):
        digest.update(more)
        end = more.rfind(b"\n") + 1
        if not end:
            raise FormatError(
                f"the line is longer than {_BLOCK // 2**20} MiB",
                where=f"{file}, line {number + waiting.count(10)}",
                remedy="check that it is the file you mean",
            )
        piece = waiting + more[:end]
        yield number, decoded(piece)
        number += piece.count(b"\n")
        waiting = more[end:]
    if waiting:
        yield number, decoded(waiting)


def _check_is_text(start: bytes, file: str) -> None:
    if not start:
        raise FormatError("the file is empty", where=file, remedy="export it again")
    if start.startswith(_UTF_16):
        raise FormatError("the file is text in UTF-16", where=file, remedy="save it as UTF-8")
    if not looks_like_text(start):
        raise FormatError("the file is not text", where=file, remedy="name a text file")
    if b"\r" in start and b"\n" not in start:
        raise FormatError(
            "the lines end in a carriage return alone", where=file, remedy="save it with other line ends"
        )
