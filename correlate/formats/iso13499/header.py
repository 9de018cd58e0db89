"""Header lines of ISO/TS 13499: a key padded to 28 characters, a colon, the value."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.errors import FormatError
from correlate.formats.number_text import plain_number
from correlate.formats.text_file import shortened

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

KEY_WIDTH: Final = 28
NO_VALUE: Final = "NOVALUE"
IMPLICIT: Final = "implicit"
LIST_ENTRY: Final = "Name of channel "
LINE_END: Final = "\r\n"


@dataclass(frozen=True, slots=True)
class Header:
    """The header lines of one file.

    Attributes
    ----------
    file
        For messages.
    values
        Key to text, in the order of the file; the texts of a repeated key are joined by line breaks.
    lines
        Key to the number of the first line that has it, from 1.
    """

    file: str
    values: dict[str, str]
    lines: dict[str, int]

    def where(self, key: str) -> str:
        """Return file and line of a key, or the file where the key is missing."""
        return f"{self.file}, line {self.lines[key]}" if key in self.lines else self.file

    def text(self, key: str) -> str:
        """Return the text of a key; empty when it is missing or stands at ``NOVALUE``."""
        value = self.values.get(key, "")
        return "" if value == NO_VALUE else value

    def needed(self, key: str) -> str:
        """Return the text of a key that must be given.

        Parameters
        ----------
        key
            As in the file.

        Returns
        -------
        str

        Raises
        ------
        FormatError
            It is missing, empty or ``NOVALUE``.
        """
        value = self.text(key)
        if not value:
            raise FormatError(
                f"'{key}' is not given", where=self.where(key), remedy=f"write the line '{key} : …'"
            )
        return value

    def number(self, key: str) -> float:
        """Return the number of a key that must be given.

        Parameters
        ----------
        key
            As in the file.

        Returns
        -------
        float

        Raises
        ------
        FormatError
            It is missing or no number.
        """
        value = self.needed(key)
        number = plain_number(value)
        if number is None:
            raise FormatError(
                f"'{key}' is '{value}', which is not a number",
                where=self.where(key),
                remedy="correct the line",
            )
        return number


def parsed_header(lines: Iterable[str], *, file: str) -> Header:
    """Read header lines.

    Parameters
    ----------
    lines
        Without line ends. Blank lines are passed over.
    file
        For messages.

    Returns
    -------
    Header

    Raises
    ------
    FormatError
        A line has no colon, or nothing before it.
    """
    header = Header(file, {}, {})
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        key, colon, value = line.partition(":")
        key = key.strip()
        if not colon or not key:
            raise FormatError(
                f"'{shortened(line)}' is not of the form 'key : value'",
                where=f"{file}, line {number}",
                remedy="correct the line",
            )
        before = header.values.get(key)
        header.values[key] = value.strip() if before is None else f"{before}\n{value.strip()}"
        header.lines.setdefault(key, number)
    return header


def header_text(values: Mapping[str, str], *, file: str) -> str:
    """Return header lines as text.

    Parameters
    ----------
    values
        Key to text; a text of several lines is written as one line each under the same key.
    file
        For messages.

    Returns
    -------
    str
        Ends with a line end when there is any line.

    Raises
    ------
    FormatError
        A key that could not be read again.
    """
    written: list[str] = []
    for key, value in values.items():
        plain = key.strip()
        if not plain or ":" in plain or not plain.isprintable():
            raise FormatError(
                f"'{shortened(key)}' cannot be a key",
                where=file,
                remedy="use one line, without a colon",
            )
        written.extend(f"{plain:<{KEY_WIDTH}}:{line.strip()}" for line in value.split("\n"))
    return "".join(line + LINE_END for line in written)
