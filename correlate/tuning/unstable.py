"""Telling an unstable run by what it wrote."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from correlate.errors import FormatError
from correlate.files import opened

if TYPE_CHECKING:
    from pathlib import Path

_NO_NUMBER: Final = re.compile(
    rb"(?<![\w.])[-+]?(?:nan|inf|infinity|1\.#\w+|\*{3,})(?![\w*])", flags=re.IGNORECASE
)
"""How programs write what is no number: NaN, infinity, and a number too wide for its column as stars."""


def line_without_number(path: Path) -> int | None:
    """Find where a program wrote that it had no number any more.

    Parameters
    ----------
    path
        Of a text file of results.

    Returns
    -------
    int or None
        The line, from 1; None where there is none, or no such file.
    """
    try:
        with opened(path) as file:
            for number, line in enumerate(file, start=1):
                if _NO_NUMBER.search(line):
                    return number
    except FormatError:
        return None
    return None
