"""The header of a delimited text file: names and units of its columns."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from typing import Final

from correlate.errors import ChannelError, CorrelateError, FormatError, UnitError
from correlate.formats.number_text import plain_number
from correlate.formats.text_file import shortened
from correlate.units import parse_unit

SEPARATORS: Final = {"\t": "tab", ";": "semicolon", ",": "comma"}
TIME_NAMES: Final = frozenset({"time", "t", "zeit", "temps"})
EXAMPLE: Final = "'time [ms], force [kN]'"

_IN_SQUARE_BRACKETS: Final = re.compile(r"(?P<name>.*?)\s*\[(?P<unit>[^\[\]]*)\]")
_IN_ROUND_BRACKETS: Final = re.compile(r"(?P<name>.*?)\s*\((?P<unit>[^()]*)\)")


@dataclass(frozen=True, slots=True)
class Column:
    """One column.

    Attributes
    ----------
    name
        Without the unit.
    unit
        As written.
    """

    name: str
    unit: str

    @property
    def is_time(self) -> bool:
        """Whether name and unit say time."""
        return self.name.casefold() in TIME_NAMES and parse_unit(self.unit).dimension == "time"


def found_separator(line: str, *, where: str) -> str:
    """Return the separator of a header line.

    Parameters
    ----------
    line
        The header.
    where
        File and line, for messages.

    Returns
    -------
    str
        The first of tab, semicolon and comma that stands outside quotes: a comma may be part of a name in
        a line with semicolons.

    Raises
    ------
    FormatError
        There is none, or the line is no header but numbers.
    """
    bare = re.sub(r'"[^"]*"', "", line)
    words = [word for word in re.split(r"[\s;,]+", bare) if word]
    if words and all(plain_number(word) is not None for word in words):
        raise FormatError(
            "there is no header, only numbers", where=where, remedy=f"write a first line such as {EXAMPLE}"
        )
    for separator in SEPARATORS:
        if separator in bare:
            return separator
    raise FormatError(
        f"'{shortened(line)}' is not a header of several columns",
        where=where,
        remedy=f"write a line such as {EXAMPLE}, with commas, semicolons or tabs",
    )


def split_cells(line: str, separator: str, *, where: str) -> list[str]:
    """Return the cells of a header or unit line, quotes taken off.

    Parameters
    ----------
    line
        The line.
    separator
        Between cells.
    where
        File and line, for messages.

    Returns
    -------
    list of str

    Raises
    ------
    FormatError
        Quotes are not closed.
    """
    try:
        rows = list(csv.reader([line], delimiter=separator, skipinitialspace=True, strict=True))
    except csv.Error as error:
        raise FormatError(
            f"the quotes are wrong ({error})", where=where, remedy="correct the line"
        ) from error
    return [cell.strip() for cell in rows[0]]


def header_columns(cells: list[str], units: list[str] | None, *, where: str) -> tuple[Column, ...]:
    """Return the columns of a header.

    Parameters
    ----------
    cells
        Of the header line.
    units
        Of a unit line; None when the units stand in brackets behind the names.
    where
        File and line, for messages.

    Returns
    -------
    tuple of Column

    Raises
    ------
    FormatError
        A column has no name or no unit.
    ChannelError
        Two columns have the same name.
    UnitError
        A unit cannot be parsed.
    """
    pairs = (
        list(zip(cells, units, strict=True)) if units is not None else [name_and_unit(cell) for cell in cells]
    )
    seen: dict[str, int] = {}
    for number, (name, unit) in enumerate(pairs, start=1):
        place = f"{where}, column {number} ('{shortened(name)}')"
        if not name:
            raise FormatError(
                "the column has no name",
                where=f"{where}, column {number}",
                remedy="name it, or take out the separator before it",
            )
        if unit is None:
            raise FormatError(
                "the column has no unit", where=place, remedy=f"write it in brackets: '{name} [mm]'"
            )
        try:
            parse_unit(unit)
        except UnitError as error:
            raise error.located(place) from error
        if name in seen:
            raise ChannelError(
                f"columns {seen[name]} and {number} have the same name",
                where=place,
                remedy="rename one of them",
            )
        seen[name] = number
    return tuple(Column(name, unit or "") for name, unit in pairs)


def name_and_unit(cell: str) -> tuple[str, str | None]:
    """Split the name of a column from the unit in brackets behind it.

    Parameters
    ----------
    cell
        Such as ``force [kN]``. Round brackets count only around a known unit, because names use them too.

    Returns
    -------
    name : str
    unit : str or None
        None when there is none.

    Examples
    --------
    >>> name_and_unit("force [kN]"), name_and_unit("force (kN)"), name_and_unit("force (left)")
    (('force', 'kN'), ('force', 'kN'), ('force (left)', None))
    """
    match = _IN_SQUARE_BRACKETS.fullmatch(cell)
    if match:
        return match["name"], match["unit"].strip()
    match = _IN_ROUND_BRACKETS.fullmatch(cell)
    if match and is_unit(match["unit"]):
        return match["name"], match["unit"].strip()
    return cell, None


def is_unit(text: str) -> bool:
    """Say whether a text is a unit.

    Parameters
    ----------
    text
        Any text.

    Returns
    -------
    bool
    """
    try:
        parse_unit(text)
    except CorrelateError:
        return False
    return True


def time_column(columns: tuple[Column, ...], *, where: str) -> int:
    """Return the index of the time column.

    Parameters
    ----------
    columns
        All of them.
    where
        File and line, for messages.

    Returns
    -------
    int

    Raises
    ------
    FormatError
        There is none, or several, or nothing beside it.
    """
    found = [index for index, column in enumerate(columns) if column.is_time]
    if not found:
        named = [column for column in columns if column.name.casefold() in TIME_NAMES]
        reason = (
            f"the unit of '{named[0].name}' is '{named[0].unit}', which is not a unit of time"
            if named
            else "there is no time column"
        )
        raise FormatError(reason, where=where, remedy="name one column 'time [s]' or 'time [ms]'")
    if len(found) > 1:
        names = " and ".join(f"'{columns[index].name}'" for index in found)
        raise FormatError(f"{names} both name the time", where=where, remedy="rename one of them")
    if len(columns) == 1:
        raise FormatError(
            "there is a time column but no channel", where=where, remedy=f"write a header such as {EXAMPLE}"
        )
    return found[0]
