"""What every file format offers, built in or added by someone else."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from correlate.formats.recording import Recording


class FormatWarning(UserWarning):
    """A format that someone added does not work and was passed over."""


@dataclass(frozen=True, slots=True)
class Format:
    """One file format.

    Attributes
    ----------
    name
        Short and unique.
    description
        One line for the list of formats.
    recognises
        Says whether a path may be of this format. It must not look at more than the first 64 kB of a file
        or at more than the names in a folder.
    read
        Reads a path it recognised, or raises a `CorrelateError` that names file, line and remedy.
    write
        Writes a recording to a path; None when the format is only read.

    Examples
    --------
    >>> from pathlib import Path
    >>> def read_nothing(path: Path) -> "Recording":
    ...     raise NotImplementedError
    >>> Format("none", "never there", lambda path: False, read_nothing).write is None
    True
    """

    name: str
    description: str
    recognises: Callable[[Path], bool]
    read: Callable[[Path], Recording]
    write: Callable[[Recording, Path], None] | None = None
